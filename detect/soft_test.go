package detect

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// IEEE Std 181 (from memory): the instant of a transition is where it passes 50 % of the step, its duration the time from 10 to 90 %. Of a linear
// ramp of length T: T/2 after its begin, 0.8 T; of a step through an RC low-pass: 0.693147 RC after the step, 2.197225 RC (computed
// independently with mpmath).
func TestSlopesAreThoseOfTheStandard(t *testing.T) {
	crossing := func(sl slope, share float64) float64 {
		lo, hi := sl.from, sl.upto
		for range 60 {
			if mid := (lo + hi) / 2; sl.done(mid) < share {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	const rc = 1 / math.Ln2 // in transition times, which end at 50 %
	for i, want := range []struct{ begin, duration float64 }{
		{0.5, 0.8},
		{0.5, 2 * math.Asin(0.8) / math.Pi}, // of a raised cosine, from sin(pi u) = 2 * 0.9 - 1
		{0.693147 * rc, 2.197225 * rc},
	} {
		sl := slopes[i]
		assert.InDelta(t, 0, sl.done(sl.from), 1e-12)
		assert.InDelta(t, 1, sl.done(sl.upto), 1e-3) // an RC step never quite ends
		assert.InDelta(t, 0, crossing(sl, 0.5), 1e-9, "the instant is at 50 %%")
		assert.InDelta(t, want.begin, crossing(sl, 0.5)-sl.from, 1e-6)
		assert.InDelta(t, want.duration, crossing(sl, 0.9)-crossing(sl, 0.1), 2e-6)
	}
}

// Soft edges are found to be soft, and the instants are the 50 % points: to 10 us at 40 dB, less than half a frame. They lie on whole
// frames here, since a soft edge is told by its first frame at or past the 50 % point. A linear ramp of 8 ms can be known to no better than a
// fifth of a frame (T v / (D^2/2), the root of it), and a short RC step hides where the tone passes through 0: then one in three is a frame off.
func TestSoftEdgesAreTimedAtHalf(t *testing.T) {
	t.Parallel()
	line := func(u float64) float64 { return max(0, min(1, u+0.5)) }
	shapes := map[string]func(u float64) float64{
		"linear":        line,
		"raised cosine": func(u float64) float64 { return 0.5 - 0.5*math.Cos(math.Pi*line(u)) },
		"RC":            func(u float64) float64 { return 1 - math.Exp(-max(0, u+math.Ln2)) }, // u in RC
	}
	for _, c := range []struct {
		shape string
		ms    float64
		us    float64 // RMS
	}{
		{"linear", 1, 10}, {"linear", 2, 10}, {"linear", 5, 10}, {"linear", 8, 15},
		{"raised cosine", 1, 10}, {"raised cosine", 2, 10}, {"raised cosine", 5, 10}, {"raised cosine", 8, 10},
		{"RC", 0.2, 15}, {"RC", 1, 10},
	} {
		t.Run(fmt.Sprintf("%s %g ms", c.shape, c.ms), func(t *testing.T) {
			t.Parallel()
			turns := turnsAt(16, func(int) float64 { return 0 })
			g := shapes[c.shape]
			x := keyed(40, turns, 168000, func(u float64) float64 { return g(u / (48 * c.ms)) })
			rms, share := rmsError(t, x, turns, Soft)
			assert.LessOrEqual(t, rms, c.us*1e-6*48000)
			assert.GreaterOrEqual(t, share, 13.0/16) // 95 % less the binomial error of 16
		})
	}
}
