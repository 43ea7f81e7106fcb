package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestToneThatBeginsAnewAtAnyPhase(t *testing.T) {
	// As from pieces of sine put together in an editor: each closing begins the tone at a phase of its own.
	for _, db := range []float64{60, 40, 20, 10} {
		s := basicSynth()
		s.turns, s.n = nil, 48000*12
		for at := 20000; at+9000 < s.n; at += 9000 + at%97 {
			s.turns = append(s.turns, at)
		}
		s.sigma = 0
		var x []float32
		for k := range 12 { // twelve phases, taken in turn
			s.phase = float64(k*k) * 0.7
			y := s.render()
			if x == nil {
				x = y
			}
			for i := 2*k + 1; i < len(s.turns); i += 24 { // closed stretches
				end := s.n
				if i+1 < len(s.turns) {
					end = s.turns[i+1]
				}
				copy(x[s.turns[i]:end], y[s.turns[i]:end])
			}
		}
		noise := synth{fs: 48000, tone: 1000, sigma: snr(0.25, db), seed: 3, n: s.n}.render()
		for i := range x {
			x[i] += noise[i]
		}
		_, ev, d, err := run(x, s.fs, 4800, SurveyOptions{})
		require.NoError(t, err, "%g dB", db)
		require.NoError(t, d.Judge())
		got := edges(ev)
		require.Len(t, frames(ev), len(s.turns), "%g dB", db)
		for i, e := range got {
			assert.InDelta(t, s.turns[i], e.At(), 1+6*e.Uncertainty, "%g dB, edge %d", db, i)
			assert.Zero(t, e.Reclosures, "%g dB, edge %d", db, i)
		}
	}
}

func TestTheFirstEdgeAtLowRatesAndOddTones(t *testing.T) {
	for _, c := range []struct {
		fs   int
		tone float64
	}{{8000, 1803}, {8000, 2752.6}, {8000, 2800}, {8000, 3000}, {11025, 2750}, {16000, 3333}, {22050, 5003}} {
		for seed := range uint64(6) {
			s := basicSynth()
			s.fs, s.tone, s.seed, s.phase = c.fs, c.tone, seed, float64(seed)
			for i := range s.turns {
				s.turns[i] = s.turns[i] * c.fs / 48000
			}
			s.n = s.n * c.fs / 48000
			_, ev, _, err := run(s.render(), s.fs, 1000, SurveyOptions{})
			require.NoError(t, err, "%+v", c)
			require.Len(t, frames(ev), len(s.turns), "%+v, seed %d", c, seed)
			for i, e := range edges(ev) {
				assert.InDelta(t, s.turns[i], e.Frame, 2, "%+v, seed %d", c, seed)
			}
		}
	}
}

func TestHopLength(t *testing.T) {
	assert.Equal(t, 24, hopLength(48000, 1000), "half a period, 0.5 ms")
	assert.Equal(t, 80, hopLength(48000, 300), "half a period, 1.67 ms")
	assert.Equal(t, 22, hopLength(44100, 1000), "22.05 frames")
	for fs := 4000.0; fs <= 200000; fs *= 1.37 {
		for f := 250.0; f < MaxTone(int(fs)); f *= 1.13 {
			h := hopLength(fs, f)
			assert.GreaterOrEqual(t, float64(h), math.Max(4, hopTime*fs)-1)
			w := 2 * math.Pi * f / fs
			assert.Less(t, math.Abs(math.Sin(w*float64(h))/(float64(h)*math.Sin(w))), 0.2, "%g Hz at %g", f, fs)
		}
	}
}
