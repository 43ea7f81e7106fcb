package pump_test

import (
	"io"
	"path/filepath"
	"testing"

	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestATakeHoldsTheSoundTheLossesAndTheMarks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: 8000, Channels: 2, Encoding: wav.Float32})
	require.NoError(t, err)
	take := pump.NewTake(w, 2)
	var want []float32
	put := func(frames int, v float32) {
		block := make([]float32, 2*frames)
		for i := range block {
			block[i] = v + float32(i)/1e6
		}
		take.Write(block)
		want = append(want, block...)
	}
	put(100, 0.1)
	put(9000, 0.2) // more than a chunk
	assert.Zero(t, take.Silence(500, 8000))
	want = append(want, make([]float32, 1000)...)
	put(7, 0.3)
	take.Mark(9100, "points open 1")
	put(5, 0.4)
	assert.Equal(t, int64(9612), take.Frames())
	require.NoError(t, take.Close())
	require.NoError(t, take.Close(), "twice is once")

	r, err := wav.Open(path)
	require.NoError(t, err)
	defer r.Close()
	got := make([]float32, 0, len(want))
	buf := make([]float32, 4096)
	for {
		n, err := r.Read(buf)
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		got = append(got, buf[:2*n]...)
	}
	assert.Equal(t, want, got)
	assert.Equal(t, []wav.Cue{{Frame: 9100, Label: "points open 1"}}, r.Cues())
}

func TestATakeTellsWhyItStopped(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: 8000, Channels: 1})
	require.NoError(t, err)
	require.NoError(t, w.Close()) // as if it had failed: every write does now
	take := pump.NewTake(w, 1)
	take.Write(make([]float32, 8000))
	require.Error(t, take.Close())
	assert.Error(t, take.Err())
	assert.Equal(t, int64(8000), take.Frames(), "listening goes on")
}

func TestOfAVeryLongLossOnlyAPartIsRecorded(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: 4000, Channels: 1})
	require.NoError(t, err)
	take := pump.NewTake(w, 1)
	assert.Equal(t, int64(100), take.Silence(4000*600+100, 4000))
	require.NoError(t, take.Close())
	r, err := wav.Open(path)
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, int64(4000*600), r.Format().Frames)
}
