package leads

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What noise alone makes of a level is taken off: of nothing but noise next to nothing is left, of a level what it is.
func TestNoiseIsTakenOff(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	k := &conclusion{}
	const u = 0.01
	for s, level := range []float64{Apart: 0, Together: 0.03} {
		m := &Measure{Step: Step(s)}
		for range 2000 {
			m.Tones = append(m.Tones, Tone{Level: Complex{level + u*rng.NormFloat64(), u * rng.NormFloat64()}, U: u})
		}
		k.m[s] = m
	}
	k.hz = make([]float64, 2000)
	// The mean of 2000 squares is off by 1/sqrt(2000) of 2 u^2 at one standard deviation: 0.2 u after the root, here at four.
	assert.Less(t, k.size(Apart).Value, 0.45*u)
	assert.InDelta(t, math.Sqrt2*u, k.size(Apart).U, 1e-12, "both parts")
	assert.InDelta(t, 0.03, k.size(Together).Value, 0.1*u, "four standard deviations")
	assert.InDelta(t, 0.03, k.distance(Apart, Together).Value, 0.2*u)
	assert.InDelta(t, 2*u, k.distance(Apart, Together).U, 1e-12, "both parts of both")
}
