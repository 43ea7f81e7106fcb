package detect

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// keyedTone is a recording of n edges a sixteenth of a second apart. The tone does not go with the rate, so that the edges meet all its phases.
func keyedTone(n int, db float64, open complex128) synth {
	s := basicSynth()
	s.tone, s.open, s.sigma, s.turns = 1000.3, open, snr(0.25, db), nil
	for i := range n {
		s.turns = append(s.turns, 24000+3001*i)
	}
	s.n = 24000 + 3001*n
	return s
}

// placing is how well a recording's edges were placed [frames].
type placing struct {
	rms, bias, delay float64
	within           int // of the errors, twice the uncertainty stated
}

func placingOf(t *testing.T, s synth) (got placing) {
	t.Helper()
	_, ev, d, err := run(s.render(), s.fs, 4800, SurveyOptions{})
	require.NoError(t, err)
	require.NoError(t, d.Judge())
	list := edges(ev)
	require.Len(t, list, len(s.turns))
	n := float64(len(list))
	for i, e := range list {
		miss := e.At() - float64(s.turns[i])
		got.rms += miss * miss / n
		got.bias += miss / n
		got.delay += float64(e.DecidedFrame-int64(s.turns[i])) / n
		if math.Abs(miss) <= 2*e.Uncertainty {
			got.within++
		}
	}
	for _, e := range ev {
		require.NotEqual(t, Withdrawn, e.Stage, "a decision taken back is a false alarm: %+v", e)
	}
	got.rms = math.Sqrt(got.rms)
	return got
}

// The bounds are a quarter more than the error of the exact maximum-likelihood change point (Monte Carlo of 10,000 trials, see limits); where
// noise leaves many frames likely, they are a twentieth less than it, since the mean over the frames is better than the likeliest of them. Of 400 errors
// the RMS is known to 4 %; at 40 and 30 dB, where one edge in 150 and one in 40 is a frame off, to a quarter and to an eighth. The delay is
// that of a cumulative sum test for one false alarm in 1000 h, counted in frames of sound, so no clock is in it.
func TestEdgesAreTimedNearTheLimit(t *testing.T) {
	t.Parallel()
	const n = 400
	const us = 48000 * 1e-6 // [frames]
	// So many lie within twice the uncertainty with 95 % each, less three standard deviations of the binomial distribution.
	least := 0.95*n - 3*math.Sqrt(n*0.95*0.05)
	for _, c := range []struct {
		db         float64
		open       complex128
		rms, delay float64 // [us]
	}{
		{40, 0, 3, 100}, {30, 0, 5, 100}, {20, 0, 12, 100}, {10, 0, 0.95 * 32, 300}, {3, 0, 0.95 * 79, 1000}, {0, 0, 0.95 * 127, 2000},
		{30, 0.125, 8, 150}, {10, 0.125, 85, 1000},
	} {
		t.Run(fmt.Sprintf("%g dB, %.3f left", c.db, c.open), func(t *testing.T) {
			t.Parallel()
			got := placingOf(t, keyedTone(n, c.db, c.open))
			assert.LessOrEqual(t, got.rms, c.rms*us)
			assert.LessOrEqual(t, got.delay, c.delay*us)
			assert.GreaterOrEqual(t, float64(got.within), least)
			if c.db >= 20 {
				assert.LessOrEqual(t, math.Abs(got.bias), 2*us)
			}
		})
	}
}
