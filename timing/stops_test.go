package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Without brackets the lag is assumed: it is added, and how far it may be off counts as a limit.
func TestLagAssumed(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.00", "2.01"))[0]
	// 0.33 s at 0.2 °/s, 0.066° (Woods et al. 2015; common practice), and 0.33 s at 0.1 °/s with 0.1 s at 0.2 °/s, 0.053°, at
	// 0.1977003717 mm/° (mpmath).
	late, half := 0.066*0.1977003717, 0.053*0.1977003717
	assert.InDelta(t, late, float64(r.Late), 1e-9, "kappa has ten digits")
	assert.False(t, r.Measured)
	assert.InDelta(t, 2.005+late, float64(r.Travel.Value), 1e-9)
	assert.Contains(t, codes(r), "read_after_stopping")
	assert.Equal(t, "lag after stopping, assumed", r.Budget[len(r.Budget)-1].Name)
	assert.InDelta(t, half/1.7320508, r.Budget[len(r.Budget)-1].U, 1e-9)
}

// Of a mean that is only partly from stops, only that part is uncertain by the lag. The width of a stop is that of its reading, q²/12.
func TestLagAssumedOfAPart(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.00", "2.10/2.06", "2.10/2.06", "2.09/2.07"))[0]
	const late, half = 0.066 * 0.1977003717, 0.053 * 0.1977003717 // as above
	assert.InDelta(t, (2.00+late+3*2.08)/4, float64(r.Travel.Value), 1e-9)
	last := r.Budget[len(r.Budget)-1]
	assert.Equal(t, "lag after stopping, assumed", last.Name)
	assert.InDelta(t, half/4/1.7320508, last.U, 1e-9, "one of four")
	const q = 0.01
	assert.InDelta(t, (q*q/12+(2*0.04*0.04+0.02*0.02)/12+3*q*q/24)/4, r.evidence.own.reading, 1e-15)
}

// The mean of brackets less the mean of stops, within a series and weighted over series: worked by hand.
func TestLagMeasured(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s,
		readings(t, s, "2.10/2.06", "2.05", "2.12/2.08", "2.03"), // brackets 2.09, stops 2.04: late by 0.05
		readings(t, s, "2.00", "2.02/1.98", "2.02"),              // bracket 2.00, stops 2.01: late by -0.01
		readings(t, s, "1.90", "1.92"))
	late := (0.05*1 - 0.01*(2.0/3)) / (1 + 2.0/3) // weights 1/(1/2+1/2) and 1/(1+1/2)
	for _, one := range r {
		assert.InDelta(t, late, float64(one.Late), 1e-12)
		assert.True(t, one.Measured)
		assert.Contains(t, codes(one), "read_after_stopping_measured")
		for _, p := range one.Budget {
			assert.NotContains(t, p.Name, "assumed")
		}
	}
	assert.InDelta(t, 2.065+late/2, float64(r[0].Travel.Value), 1e-12, "half of its passes are stops")
	assert.InDelta(t, 1.91+late, float64(r[2].Travel.Value), 1e-12, "all of its passes are stops")
	// Degrees of freedom: the prior's 2, 3 + 2 + 1 between passes, less the one that went into the lag.
	assert.InDelta(t, 7, r[2].Budget[0].DF, 0)
	e := r[2].evidence
	assert.InDelta(t, e.sd*e.sd*(1.0/2+1/(1+2.0/3)), r[2].Budget[0].U*r[2].Budget[0].U, 1e-12, "the lag's own uncertainty is in it")
}

// Stops that lie before the brackets are moved the other way, and nobody reads a bare minus sign.
func TestLagBackwards(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.00/1.96", "2.00/1.96", "2.05", "2.05"))[0]
	assert.InDelta(t, -0.07, float64(r.Late), 1e-12, "rounding only")
	text := message(r, "read_after_stopping_measured")
	assert.Contains(t, text, "2 of 4 passes have one reading, taken after stopping: 0.070 mm was taken off each, because they lie before the brackets")
	assert.NotContains(t, text, "-")
}

// Near the top stops may be moved past it; that is told as what it is, a result that may lie on either side.
func TestLagBackwardsAtTheTop(t *testing.T) {
	s, err := NewSetup(crank(t, 54, 110, 0), NewDial(10), Spec{Value: Quantity{0.05, Millimetre}, Tolerance: Quantity{0.02, Millimetre}})
	require.NoError(t, err)
	r := evaluate(t, s, readings(t, s, "0.05/0.01", "0.05/0.01", "0.10", "0.10"), readings(t, s, "0.00", "0.01"))
	assert.InDelta(t, 0.005-0.07, float64(r[1].Travel.Value), 1e-12, "rounding only")
	assert.Contains(t, codes(r[1]), "near_tdc")
	assert.True(t, finite(float64(r[1].ErrorAngle.U)) && finite(float64(r[1].ErrorAngle.Value)))
}

// One stop against one bracket says less than the assumption, which then stays.
func TestLagOfTooFewStaysAssumed(t *testing.T) {
	s := setup(t, NewDial(10))
	for _, typed := range [][]string{{"2.00", "2.10/2.06"}, {"2.00", "2.10/2.06", "2.10/2.04"}, {"2.00", "2.02", "2.01", "2.10/2.06"}} {
		r := evaluate(t, s, readings(t, s, typed...))[0]
		assert.False(t, r.Measured, "%v", typed)
	}
	// Nor do brackets in one series and stops in another show it: they are of different settings.
	r := evaluate(t, s, readings(t, s, "2.00", "2.01", "2.02"), readings(t, s, "2.10/2.06", "2.09/2.05"))
	assert.False(t, r[0].Measured)
	assert.Zero(t, r[1].Late, "its passes are all brackets")
	require.Empty(t, r[1].Error.Caveats)
}
