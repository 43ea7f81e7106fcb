package cli

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/audio/wav"
)

// Who reviews a recording in which a lead was off is told from when to when, to jump there: it is no opening.
func TestReviewTellsWhenALeadWasOff(t *testing.T) {
	cable := circuit.Circuit{Source: 100, Series: 100, Load: 47, Condenser: 0.22e-6, Contact: 0.1}
	const hz, rate = 1010, 48000
	levels, err := cable.At(hz)
	require.NoError(t, err)
	cfg := bench.Config{SampleRate: rate, Channels: 1, Frames: 9 * rate, Tone: hz, Level: -6, Closed: levels.Closed, Open: levels.Open,
		Noise: bench.NoiseFor(bench.Amplitude(-6)*real(levels.Closed), 30), Seed: 7}
	for i := range 6 {
		cfg.Changes = append(cfg.Changes, bench.Change{At: 0.5 + float64(i)}, bench.Change{At: 1 + float64(i), Closed: true})
	}
	src, err := bench.New(cfg)
	require.NoError(t, err)
	x := make([]float32, cfg.Frames)
	_, err = src.Read(x)
	require.NoError(t, err)
	noise, err := bench.New(bench.Config{SampleRate: rate, Channels: 1, Frames: cfg.Frames, Tone: hz, Level: -200, Noise: cfg.Noise, Seed: 8})
	require.NoError(t, err)
	silent := make([]float32, cfg.Frames)
	_, err = noise.Read(silent)
	require.NoError(t, err)
	copy(x[6.8*rate:7.6*rate], silent[6.8*rate:]) // the lead is off
	copy(x[8.5*rate:], silent[8.5*rate:])         // and again, to the end
	path := filepath.Join(t.TempDir(), "off.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: rate, Channels: 1, Encoding: wav.PCM16})
	require.NoError(t, err)
	require.NoError(t, w.Write(x))
	require.NoError(t, w.Close())

	var out, errs bytes.Buffer
	run := func(args ...string) {
		out.Reset()
		require.Zero(t, Main(t.Context(), args, Env{Out: &out, Err: &errs}), errs.String())
	}
	run("review", path)
	assert.Regexp(t, `6 openings, 6 closings; .*\nnot heard: 6\.[78]\d\d s to 7\.60\d s, a lead was off\nnot heard: 8\.[45]\d\d s to the end, a lead was off\nnote: a lead was off 2 times`, out.String())
	run("review", "--json", path)
	var got struct{ Lost []reviewLost }
	require.NoError(t, json.Unmarshal(out.Bytes(), &got))
	require.Len(t, got.Lost, 2)
	assert.Equal(t, "lead_off", got.Lost[0].Cause)
	assert.InDelta(t, 6.8, got.Lost[0].From, 0.02) // a window or two
	assert.InDelta(t, 7.6, *got.Lost[0].To, 0.02)
	assert.Nil(t, got.Lost[1].To)
}
