package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
)

func TestWhatIsSaidBesidesAnInterruption(t *testing.T) {
	full := errors.New("the disk is full")
	stopped := interrupted{os.Interrupt}
	for name, tt := range map[string]struct {
		err  error
		want []string
	}{
		"nothing":                 {nil, nil},
		"an interruption":         {stopped, nil},
		"one in words":            {fmt.Errorf("reading: %w", context.Canceled), nil},
		"another error":           {full, []string{"the disk is full"}},
		"both":                    {errors.Join(stopped, full), []string{"the disk is full"}},
		"both, deeper":            {errors.Join(errors.Join(context.Canceled, full), stopped), []string{"the disk is full"}},
		"both, with a hint":       {&Failure{Err: errors.Join(stopped, full)}, []string{"the disk is full"}},
		"an interruption, hinted": {&Failure{Err: stopped}, nil},
		"no result for it":        {errors.Join(stopped, &Failure{Err: errNoResult}), nil},
	} {
		t.Run(name, func(t *testing.T) {
			rest := besides(tt.err)
			if tt.want == nil {
				require.NoError(t, rest)
				return
			}
			assert.Equal(t, tt.want, parted(rest))
		})
	}
}

// Ctrl-C ends a run whose sound card cannot be closed: the exit code is that of Ctrl-C, and what went wrong is told.
func TestCtrlCHidesNoOtherError(t *testing.T) {
	s := newShop(t, twice...)
	ctx, cancel := context.WithCancelCause(t.Context())
	heard := 0
	s.wrap = func(src audio.Source) audio.Source {
		return stuck{tapped{src, func(n int) {
			if heard += n; heard > 48000*3 {
				cancel(interrupted{os.Interrupt})
			}
		}}}
	}
	file := filepath.Join(t.TempDir(), "take.wav")
	assert.Equal(t, ExitInterrupted, Main(ctx, []string{"listen", "--json", "--record", file}, s.env))
	assert.Contains(t, s.errs.String(), "breakcue: error: the plug is stuck\n")
	assert.NotContains(t, s.errs.String(), "interrupted")
	assert.Contains(t, s.errs.String(), "recorded: look at it", "nothing is wrong with the recording")
}

func TestARecordingThatFailedIsNotOfferedToBeLookedAt(t *testing.T) {
	assert.False(t, (&liveRun{}).recorded(), "nothing was asked for")
	for _, fails := range []bool{false, true} {
		format := audio.Format{SampleRate: 48000, Channels: 1}
		w, err := wav.Create(filepath.Join(t.TempDir(), "take.wav"), wav.Spec{SampleRate: 48000, Channels: 1, Encoding: wav.PCM24})
		require.NoError(t, err)
		r := &liveRun{take: pump.NewTake(w, format)}
		if fails {
			require.NoError(t, w.Close(), "as if the disk were gone")
		}
		r.take.Write(make([]float32, 480))
		assert.Equal(t, fails, r.take.Close() != nil)
		assert.Equal(t, !fails, r.recorded())
	}
}

// stuck is a source that cannot be closed.
type stuck struct{ audio.Source }

func (s stuck) Close() error { return errors.Join(errors.New("the plug is stuck"), s.Source.Close()) }
