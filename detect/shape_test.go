package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// keyed makes a tone whose amplitude follows g(frames since the edge) at openings, and 1-g at closings.
func keyed(db float64, turns []float64, n int, g func(u float64) float64) []float32 {
	noise := synth{fs: 48000, tone: 1000, sigma: snr(0.25, db), seed: 8, n: n}.render()
	for i := range noise {
		a := 1.0
		for k, at := range turns {
			if v := g(float64(i) - at); k%2 == 0 {
				a -= v
			} else {
				a += v
			}
		}
		noise[i] += float32(0.25 * a * math.Cos(2*math.Pi*1000*float64(i)/48000+0.3))
	}
	return noise
}

func turnsAt(n int, frac func(i int) float64) (turns []float64) {
	for i := range n {
		turns = append(turns, float64(20000+i*9013+i*i%41)+frac(i))
	}
	return turns
}

func rmsError(t *testing.T, x []float32, turns []float64, want EdgeModel) (rms, share float64) {
	t.Helper()
	_, ev, d, err := run(x, 48000, 4800, SurveyOptions{})
	require.NoError(t, err)
	assert.Equal(t, want, d.EdgeModel())
	got := edges(ev)
	require.Len(t, got, len(turns))
	within := 0
	for i, e := range got {
		e = e.Instant(d.EdgeModel())
		rms += math.Pow(e.At()-turns[i], 2)
		if math.Abs(e.At()-turns[i]) <= 2*e.Uncertainty {
			within++
		}
	}
	return math.Sqrt(rms / float64(len(turns))), float64(within) / float64(len(turns))
}

// IEEE Std 181: the instant of a transition is where it passes 50 % of the step; of a linear ramp of length T that is T/2 after
// its start (computed independently with mpmath; the standard from memory).
func TestRampsAreTimedAtTheirMiddle(t *testing.T) {
	for _, length := range []float64{48, 120, 240} { // 1, 2.5 and 5 ms
		turns := turnsAt(40, func(i int) float64 { return 0 })
		x := keyed(40, turns, 400000, func(u float64) float64 { return math.Max(0, math.Min(1, u/length+0.5)) })
		rms, share := rmsError(t, x, turns, Soft)
		assert.Less(t, rms, 0.04e-3*48000, "ramp of %g frames: 40 us is the goal", length)
		assert.GreaterOrEqual(t, share, 0.92)
	}
}

// The 50 % instant of a step through an RC low-pass comes 0.693147 RC after the step (computed independently with mpmath).
func TestAnRCStepIsTimedAtHalf(t *testing.T) {
	const rc = 10.0 // frames
	turns := turnsAt(40, func(i int) float64 { return 0 })
	x := keyed(40, turns, 400000, func(u float64) float64 {
		if u += math.Ln2 * rc; u < 0 {
			return 0
		}
		return 1 - math.Exp(-u/rc)
	})
	rms, _ := rmsError(t, x, turns, Soft)
	assert.Less(t, rms, 0.06e-3*48000) // half an RC is 0.1 ms
}

func TestBandLimitedEdgesAreTimedBetweenFrames(t *testing.T) {
	// A sinc step cut off at 0.927 of half the rate, at real-valued instants; 3 us is the goal at 40 dB.
	turns := turnsAt(40, func(i int) float64 { return float64(i*7%40)/40 - 0.5 })
	x := keyed(40, turns, 400000, func(u float64) float64 {
		if u < -400 || u > 400 {
			return math.Max(0, math.Min(1, u))
		}
		return bandStep(u)
	})
	rms, share := rmsError(t, x, turns, BandLimited)
	assert.Less(t, rms, 4e-6*48000) // 40 edges tell the RMS to a tenth or so
	assert.GreaterOrEqual(t, share, 0.9)
}

func TestBandStep(t *testing.T) {
	assert.InDelta(t, 0.5, bandStep(0), 1e-12)
	assert.InDelta(t, 1, bandStep(sincReach), 1e-12)
	assert.InDelta(t, 0, bandStep(-sincReach-5), 1e-12)
	for u := 0.0; u < 30; u += 0.37 {
		assert.InDelta(t, 1, bandStep(u)+bandStep(-u), 1e-12, "odd about one half")
	}
	// The first overshoot of a band-limited step is 8.95 % (Gibbs; 1/2 + Si(pi)/pi = 1.0895, computed independently with
	// mpmath); the taper takes a little off.
	var most float64
	for u := 0.0; u < 3; u += 0.01 {
		most = math.Max(most, bandStep(u))
	}
	assert.InDelta(t, 1.0895, most, 0.003)
}
