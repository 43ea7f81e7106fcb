package pump_test

import (
	"errors"
	"io"
	"math"
	"slices"
	"testing"
	"time"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cycles is a sound of 4 s whose points open at 0.5, 1.5, 2.5 s, each time for half a second.
func cycles(t testing.TB) bench.Config {
	r := typical()
	r.changes = func(uint64) []bench.Change {
		return []bench.Change{{At: 0.5}, {At: 1, Closed: true}, {At: 1.5}, {At: 2, Closed: true}, {At: 2.5}, {At: 3, Closed: true}}
	}
	return r.config(t, 1)
}

// at returns where the edges are [s], to a tenth of a millisecond: a rounding that hides the noise at 40 dB.
func at(a pump.Analysis) []float64 {
	var out []float64
	for _, e := range a.Edges {
		out = append(out, math.Round(e.At()/float64(a.Format.SampleRate)*1e4)/1e4)
	}
	return out
}

func codes(a pump.Analysis) (out []string) {
	for _, c := range a.Caveats {
		out = append(out, c.Code)
	}
	return out
}

var allEdges = []float64{0.5, 1, 1.5, 2, 2.5, 3}

func TestAnalyseTellsWhatItLookedAt(t *testing.T) {
	c := cycles(t)
	c.Channels, c.Channel = 3, 1
	a := analyse(t, opener(t, c), pump.Options{})
	require.NoError(t, a.Refused)
	assert.Equal(t, allEdges, at(a))
	assert.Empty(t, a.Caveats)
	assert.Equal(t, c.Frames, a.Frames)
	assert.Equal(t, audio.Format{SampleRate: 48000, Channels: 3, Frames: c.Frames, Encoding: "bench"}, a.Format)
	assert.Equal(t, 1, a.Config.Channel, "channels of a Config count from 0")
	assert.Equal(t, detect.Series, a.Wiring())
	assert.Equal(t, "gate", a.EdgeModel())
	assert.InDelta(t, 1010*(1+40e-6), a.Found.Tone, 0.01) // Hz
	// 10 dB below full scale; a tenth of a decibel is what noise at 40 dB and the counting of levels leave.
	assert.InDelta(t, -10, pump.DBFS(a.Levels.Closed), 0.1)
	assert.InDelta(t, 40, a.SNR(), 0.5)
}

func TestEventsAreTheSameHoweverTheSourceDelivers(t *testing.T) {
	c := cycles(t)
	c.Changes = bounced(2)
	want := analyse(t, opener(t, c), pump.Options{})
	require.NotEmpty(t, want.Edges)
	for seed := range uint64(3) {
		got := analyse(t, opener(t, c, func(s audio.Source) audio.Source { return audiotest.ShortReads(s, seed) }), pump.Options{})
		assert.Equal(t, want.Edges, got.Edges)
		assert.Equal(t, want.Levels, got.Levels)
		assert.Equal(t, want.Found, got.Found)
	}
}

func TestACutFileIsLookedAtAsFarAsItGoes(t *testing.T) {
	const cut = 48000 * 27 / 10
	a := analyse(t, opener(t, cycles(t), func(s audio.Source) audio.Source {
		return audiotest.FailAfter(s, cut, io.ErrUnexpectedEOF)
	}), pump.Options{})
	require.NoError(t, a.Refused)
	assert.Equal(t, allEdges[:5], at(a))
	assert.Equal(t, []string{"truncated"}, codes(a))
	assert.Equal(t, int64(cut), a.Frames)
}

func TestAFailingSourceIsAnError(t *testing.T) {
	broken := errors.New("the disk is gone")
	_, err := pump.Analyse(t.Context(), opener(t, cycles(t), func(s audio.Source) audio.Source {
		return audiotest.FailAfter(s, 100000, broken)
	}), pump.Options{})
	require.ErrorIs(t, err, broken)

	// The second reading can fail too.
	n := 0
	_, err = pump.Analyse(t.Context(), func() (audio.Source, error) {
		if n++; n == 2 {
			return nil, broken
		}
		return opener(t, cycles(t))()
	}, pump.Options{})
	require.ErrorIs(t, err, broken)
}

func TestGaps(t *testing.T) {
	gap := func(from, to float64) func(audio.Source) audio.Source {
		g := audio.GapError{At: int64(to * 48000), Lost: int64((to - from) * 48000)}
		return func(s audio.Source) audio.Source { return audiotest.WithGaps(s, g) }
	}
	for name, tt := range map[string]struct {
		from, to float64
		want     []float64
	}{
		"while closed":         {1.2, 1.25, allEdges},
		"while open":           {1.7, 1.75, allEdges},
		"over an opening":      {1.49, 1.51, []float64{0.5, 1, 2, 2.5, 3}}, // no edge is timed across it
		"over a closing":       {1.9, 2.1, []float64{0.5, 1, 1.5, 2.5, 3}},
		"over a whole opening": {1.4, 2.1, []float64{0.5, 1, 2.5, 3}},
		"in the beginning":     {0, 0.3, allEdges},
	} {
		t.Run(name, func(t *testing.T) {
			a := analyse(t, opener(t, cycles(t), gap(tt.from, tt.to)), pump.Options{})
			require.NoError(t, a.Refused)
			assert.Equal(t, tt.want, at(a))
			assert.Equal(t, []string{"gap"}, codes(a))
		})
	}
}

func TestAStretchIsLookedAtInFramesOfTheWhole(t *testing.T) {
	sec := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	for name, tt := range map[string]struct {
		from, to float64
		want     []float64
	}{
		"from":          {1.2, 0, allEdges[2:]},
		"to":            {0, 2.2, allEdges[:4]},
		"from and to":   {1.2, 2.2, allEdges[2:4]},
		"begins open":   {0.7, 2.2, allEdges[1:4]},
		"past the end":  {0, 100, allEdges},
		"from in a gap": {1.25, 2.2, allEdges[2:4]},
	} {
		t.Run(name, func(t *testing.T) {
			wrap := func(s audio.Source) audio.Source { return s }
			if name == "from in a gap" {
				wrap = func(s audio.Source) audio.Source {
					return audiotest.WithGaps(s, audio.GapError{At: 62400, Lost: 4800}) // 1.2..1.3 s
				}
			}
			a := analyse(t, opener(t, cycles(t), wrap), pump.Options{From: sec(tt.from), To: sec(tt.to)})
			require.NoError(t, a.Refused)
			assert.Equal(t, tt.want, at(a))
			for _, e := range a.Edges {
				assert.GreaterOrEqual(t, e.LastFrame, e.Frame)
				assert.InDelta(t, e.At(), e.Half, 3, "the 50 %% instant lies by the edge")
				// The first opening is decided by a window of 2 ms that had to fill.
				assert.InDelta(t, e.At(), e.DecidedFrame, 300)
			}
		})
	}

	_, err := pump.Analyse(t.Context(), opener(t, cycles(t)), pump.Options{From: time.Hour})
	var wrong *pump.OptionError
	require.ErrorAs(t, err, &wrong)
	assert.EqualError(t, err, "--from 1h0m0s, want less than 4s: the recording ends there")
}

func TestDamagedSamplesAreTold(t *testing.T) {
	c := cycles(t)
	b, err := bench.New(c)
	require.NoError(t, err)
	x := make([]float32, c.Frames)
	n, err := b.Read(x)
	require.NoError(t, err)
	require.Len(t, x, n)
	with := func(change func([]float32)) pump.Analysis {
		y := slices.Clone(x)
		change(y)
		return analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(48000, 1, y), nil }, pump.Options{})
	}

	a := with(func(y []float32) {
		y[10000], y[10001] = float32(math.NaN()), float32(math.Inf(1))
		y[90000] = float32(math.Inf(-1))
	})
	assert.Equal(t, allEdges, at(a))
	assert.Equal(t, []string{"not_finite"}, codes(a))
	assert.Contains(t, a.Caveats[0].Message, "3 samples are")

	a = with(func(y []float32) { clear(y[10000:10256]) }) // 5 ms that the sound card lost while the points were closed
	assert.Equal(t, allEdges, at(a))
	assert.Equal(t, []string{"dropout"}, codes(a))
	assert.Contains(t, a.Caveats[0].Message, "1 stretch of exact zeros looks")

	a = with(func(y []float32) {
		for i := range y {
			y[i] = float32(math.NaN())
		}
	})
	require.Error(t, a.Refused)
	assert.Equal(t, "not_finite", codes(a)[0], "the reason before the refusal")
}

// scaled is the sound of cycles, 10 dB below full scale, times gain, each sample changed by then.
func scaled(t testing.TB, gain float64, then func(float64) float64) func() (audio.Source, error) {
	c := cycles(t)
	b, err := bench.New(c)
	require.NoError(t, err)
	x := make([]float32, c.Frames)
	_, err = b.Read(x)
	require.NoError(t, err)
	for i, v := range x {
		x[i] = float32(then(float64(v) * gain))
	}
	return func() (audio.Source, error) { return audiotest.FromSlice(48000, 1, x), nil }
}

func TestLevelsOutOfRangeAreTold(t *testing.T) {
	ten := math.Sqrt(10) // the gain that brings the tone to full scale
	same := func(v float64) float64 { return v }
	// The codes of a card of so many bits, which clips at the last one on either side.
	card := func(bits int) func(float64) float64 {
		full := math.Ldexp(1, bits-1)
		return func(v float64) float64 { return max(-full, min(full-1, math.Round(v*full))) / full }
	}
	for name, tt := range map[string]struct {
		gain float64
		then func(float64) float64
		want []string
	}{
		"as it should be":        {1, same, nil},
		"just fits, 16 bits":     {0.95 * ten, card(16), nil},
		"just fits, 8 bits":      {0.95 * ten, card(8), nil},
		"quiet, 8 bits":          {0.1, card(8), nil},
		"1 dB over, 16 bits":     {1.122 * ten, card(16), []string{"clipped"}},
		"2 dB over, 8 bits":      {1.26 * ten, card(8), []string{"clipped"}},
		"scaled over full scale": {10 * ten, same, []string{"over_full_scale"}},
	} {
		t.Run(name, func(t *testing.T) {
			a := analyse(t, scaled(t, tt.gain, tt.then), pump.Options{})
			require.NoError(t, a.Refused)
			assert.Equal(t, tt.want, codes(a))
		})
	}

	// Floats scaled as 16-bit numbers are sound all the same; what is far beyond is none.
	a := analyse(t, scaled(t, 32768, same), pump.Options{})
	require.NoError(t, a.Refused)
	assert.Equal(t, []string{"over_full_scale"}, codes(a))
	a = analyse(t, scaled(t, 1e30, same), pump.Options{})
	require.Error(t, a.Refused)
	assert.Contains(t, codes(a), "not_finite")
}

func TestFramesAreThoseOfTheWholeRecording(t *testing.T) {
	const whole, cut = 4 * 48000, 48000 * 27 / 10
	same := func(s audio.Source) audio.Source { return s }
	for name, tt := range map[string]struct {
		wrap  func(audio.Source) audio.Source
		want  int64
		codes []string
	}{
		"whole": {same, whole, nil},
		"cut after the stretch": {func(s audio.Source) audio.Source {
			return audiotest.FailAfter(s, cut, io.ErrUnexpectedEOF)
		}, cut, []string{"truncated"}},
		"what follows cannot be read": {func(s audio.Source) audio.Source {
			return audiotest.FailAfter(s, cut, errors.New("a bad sector"))
		}, whole, nil},
	} {
		t.Run(name, func(t *testing.T) {
			a := analyse(t, opener(t, cycles(t), tt.wrap), pump.Options{To: 2200 * time.Millisecond})
			assert.Equal(t, allEdges[:4], at(a))
			assert.Equal(t, tt.want, a.Frames)
			assert.Equal(t, tt.codes, codes(a))
		})
	}
}

func TestAnotherToneIsNamed(t *testing.T) {
	for tone, want := range map[float64]string{3000: "there is a tone of 1010.0 Hz", 500: "there is a tone of 1010.0 Hz"} {
		a := analyse(t, opener(t, cycles(t)), pump.Options{Tones: []float64{tone}})
		require.Error(t, a.Refused)
		assert.Contains(t, a.Hint(), want)
		assert.Contains(t, a.Caveats[len(a.Caveats)-1].Message, want)
	}
}

func TestLowSNRIsTold(t *testing.T) {
	c := cycles(t)
	c.Noise = bench.NoiseFor(bench.Amplitude(-10), 8)
	a := analyse(t, opener(t, c), pump.Options{})
	require.NoError(t, a.Refused)
	require.Len(t, a.Edges, 6)
	assert.Equal(t, []string{"low_snr"}, codes(a))
}
