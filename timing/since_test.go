package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// As left last time against as found now, worked by hand: everything is there twice, but of the dial's error only the limit for a
// movement under half a revolution (JIS B 7503:2011, 9 µm).
func TestSince(t *testing.T) {
	s := setup(t, NewDial(10))
	then := evaluate(t, s, readings(t, s, "2.01/1.98", "2.02/2.00"))[0]
	now := evaluate(t, s, readings(t, s, "1.81/1.78", "1.80/1.78", "1.81/1.79"))[0]
	d := s.Since(now, then, true)
	assert.InDelta(t, (1.795+1.79+1.8)/3-(1.995+2.01)/2, float64(d.Value), 1e-12)
	assert.Equal(t, 2, d.N)
	a, b, zero := now.Budget[0].U, then.Budget[0].U, s.Dial.zeroU()
	rest := a*a + b*b + 2*zero*zero + 2*0.01*0.01/12
	assert.InDelta(t, math.Sqrt(rest+0.009*0.009/3), float64(d.U), 1e-12)
	other := s.Since(now, then, false)
	assert.InDelta(t, math.Sqrt(rest+2*0.015*0.015/3), float64(other.U), 1e-12, "another dial: its limit of error counts whole, twice")
	both := evaluate(t, s, readings(t, s, "2.01/1.98", "2.02/2.00"), readings(t, s, "1.81/1.78", "1.80/1.78", "1.81/1.79"))
	assert.Greater(t, d.DF, s.Difference(both[1], both[0], ZeroedAnew).DF/2, "the scatter of the two days is known separately")
	assert.False(t, s.Since(now, Result{}, true).Known())
	assert.False(t, s.Since(Result{}, then, true).Known())
}

// The angles of an inclined plunger are wrong alike on both days when it is the same hole.
func TestSinceOfAnInclinedDial(t *testing.T) {
	d := NewDial(10)
	d.PlungerAngle, d.PlungerAngleU, d.CrownSlopeU = 20, 1, 3
	s := setup(t, d)
	r := func(text string) Result {
		return evaluate(t, s, readings(t, s, text, text, text, text, text, text))[0]
	}
	now, then := r("2.15/2.13"), r("2.17/2.15")
	assert.Less(t, float64(s.Since(now, then, true).U), 0.7*float64(now.Error.U))
	assert.Greater(t, float64(s.Since(now, then, false).U), 1.3*float64(now.Error.U))
}

// The interval of a difference between two days holds the true one in about 95 %: the scatter of the engine is the same on
// both, the zero is drawn for each, the dial's error for both. 1500 settings: the standard deviation of the share is 0.56 %.
func TestSinceCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	s := setup(t, NewDial(10))
	const settings = 1500
	held := 0
	for range settings {
		sigma := 0.25 * math.Exp(math.Log(2)*rng.NormFloat64()) * s.kappa // the population of engines: median 0.25°, geometric sd 2
		bias := 0.0105 * (2*rng.Float64() - 1)                            // and the local part below: 0.015 together
		truth := [2]float64{2, 2 - 0.2*rng.Float64()}
		var r [2]Result
		for i := range r {
			local := 0.0045 * (2*rng.Float64() - 1) // half the limit at either place: 0.009 between them
			zero := s.Dial.zeroU() * rng.NormFloat64()
			var p []Reading
			for range 3 {
				at := truth[i] + sigma*rng.NormFloat64()
				high := at + 0.03*rng.Float64()
				read := func(y float64) Length { return Length(math.Round((y+bias+local+zero)*100) / 100) }
				p = append(p, Reading{LastClosed: max(0, read(high)), FirstOpen: max(0, read(high-0.03)), Bracket: true})
			}
			r[i] = evaluate(t, s, p)[0]
		}
		d := s.Since(r[1], r[0], true)
		if want := Length(truth[1] - truth[0]); d.Interval[0] <= want && want <= d.Interval[1] {
			held++
		}
	}
	// Two thirds of the settings lie within what the prior believes: the intervals may be a little too wide, never far too narrow.
	assert.InDelta(t, 0.95, float64(held)/settings, 0.025)
}
