package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func estimate(value, u Length, df float64, n int) Estimate[Length] {
	return Estimate[Length]{Value: value, U: u, DF: df, N: n}
}

// JCGM 106:2012, examples of conformity probabilities, 0.92 and 0.66 from memory; more digits computed independently
// with mpmath.
func TestJCGM106(t *testing.T) {
	inf := Length(math.Inf(1))
	assert.InDelta(t, 0.919243, Probability(estimate(-5.47, 0.05, math.Inf(1), 2), -inf, -5.4), 5e-7, "breakdown voltage, at most -5.4 V")
	assert.InDelta(t, 0.662630, Probability(estimate(13.6, 1.8, math.Inf(1), 2), 12.5, 16.3), 5e-7, "viscosity, 12.5 to 16.3 mm²/s")
}

// ISO 14253-1: the guard band is 1.65 u for 95 % (from memory); each boundary is tried on both sides.
func TestDecide(t *testing.T) {
	const u = 0.02
	inf := math.Inf(1)
	guard := Length(1.6448536 * u) // normal quantile of 95 %, computed independently with mpmath
	few := Length(2.1318468 * u)   // Student, 4 degrees of freedom: 2.132 in printed tables
	const hair = 1e-6
	for _, tc := range []struct {
		e    Estimate[Length]
		want Verdict
		why  string
	}{
		{estimate(0, u, inf, 3), InTolerance, "in the middle"},
		{estimate(0.1-guard-hair, u, inf, 3), InTolerance, "just inside the guard band"},
		{estimate(0.1-guard+hair, u, inf, 3), CannotTell, "just in it"},
		{estimate(0.1+guard-hair, u, inf, 3), CannotTell, "just in the outer one"},
		{estimate(0.1+guard+hair, u, inf, 3), OutOfTolerance, "just beyond"},
		{estimate(-0.1+guard+hair, u, inf, 3), InTolerance, "the other end"},
		{estimate(-0.1+guard-hair, u, inf, 3), CannotTell, "the other end"},
		{estimate(-0.1-guard-hair, u, inf, 3), OutOfTolerance, "the other end"},
		{estimate(0.1-few-hair, u, 4, 2), InTolerance, "few degrees of freedom: a wider band"},
		{estimate(0.1-few+hair, u, 4, 2), CannotTell, "few degrees of freedom: a wider band"},
		{estimate(0, u, inf, 1), CannotTell, "one pass never proves conformity"},
		{estimate(0.5, u, inf, 1), OutOfTolerance, "one pass can be plainly out"},
		{estimate(0, 0.2, inf, 9), CannotTell, "too uncertain for this tolerance"},
		{Estimate[Length]{}, CannotTell, "nothing measured"},
	} {
		assert.Equal(t, tc.want, Decide(tc.e, -0.1, 0.1), tc.why)
	}
	assert.Equal(t, "in_tolerance", InTolerance.String())
	assert.Equal(t, "out", OutOfTolerance.String())
	assert.Equal(t, "cannot_tell", CannotTell.String())
}

// Far from the tolerance the probabilities below its two ends differ by rounding alone, either way.
func TestProbabilityIsNeverBelowZero(t *testing.T) {
	for far := Length(-3); far < 3; far += 0.01 {
		e := newEstimate(far, []Component{{U: 0.02, DF: 9}, {U: 0.003, DF: math.Inf(1)}, {U: 0.009, DF: math.Inf(1), Shape: Rectangular}}, 2)
		for half := Length(1e-9); half < 1; half *= 10 {
			assert.GreaterOrEqual(t, Probability(e, -half, half), 0.0)
		}
	}
}

func TestProbabilityProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := estimate(Length(rapid.Float64Range(-1, 1).Draw(t, "e")), Length(rapid.Float64Range(0, 0.5).Draw(t, "u")), rapid.Float64Range(1, 1e7).Draw(t, "df"), rapid.IntRange(0, 5).Draw(t, "n"))
		p := Probability(e, -0.1, 0.1)
		assert.True(t, p >= 0 && p <= 1, "%g", p)
		switch Decide(e, -0.1, 0.1) {
		case InTolerance:
			assert.GreaterOrEqual(t, p, 0.9-1e-9, "one-sided 95 % at each end leaves at least 90 % between")
		case OutOfTolerance:
			assert.LessOrEqual(t, p, 0.05+1e-9)
		}
	})
}
