package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func testCrank(t require.TestingT, offset Length) Crank {
	c, err := NewCrank(54, 110, offset)
	require.NoError(t, err)
	return c
}

// Travel at 1° is 0.0051215242784046 mm with 2r 54, l 110: computed independently with mpmath. Near the top
// travel = r (1 + r/l) b²/2 (Heywood, Internal Combustion Engine Fundamentals, 1988, ch. 2, expanded; equation number from
// memory): 27 (1 + 27/110) (pi/180)²/2 = 0.00512 mm at 1°.
func TestZeroSlip(t *testing.T) {
	s, err := testCrank(t, 0).ZeroSlip(1)
	require.NoError(t, err)
	assert.InDelta(t, 0.0051215242784046, float64(s.Most), 1e-15)
	assert.InDelta(t, 27*(1+27.0/110)*math.Pow(math.Pi/180, 2)/2, float64(s.Most), 1e-6, "the next term is 1e-4 of it")
	two, err := testCrank(t, 0).ZeroSlip(2)
	require.NoError(t, err)
	assert.InDelta(t, 4, float64(two.Most/s.Most), 1e-3, "it grows with the square")
	// Mean and standard deviation by the exact crank, summed over angles.
	c := testCrank(t, 1.5)
	s, err = c.ZeroSlip(3)
	require.NoError(t, err)
	var sum, squares, within float64
	const n = 20000
	for i := range n {
		travel, err := c.Travel(Angle(-3 + 6*(float64(i)+0.5)/n))
		require.NoError(t, err)
		sum += float64(travel) / n
		squares += float64(travel*travel) / n
		if travel <= s.Interval[1] {
			within += 1.0 / n
		}
	}
	assert.InEpsilon(t, sum, float64(s.Mean), 1e-3, "the quadratic holds to 0.03 % at 3°")
	assert.InEpsilon(t, math.Sqrt(squares-sum*sum), float64(s.U), 1e-3)
	assert.InDelta(t, Coverage, within, 1e-3)
	for _, off := range []Angle{-1, 31, Angle(math.NaN())} {
		_, err := c.ZeroSlip(off)
		assert.ErrorContains(t, err, "want 0..30°")
	}
	_, err = Crank{}.ZeroSlip(1)
	assert.ErrorContains(t, err, "crank, got none")
}

func TestTDCWay(t *testing.T) {
	assert.Equal(t, ByHeights, Spec{Value: Quantity{20, Degree}}.TDCWay())
	for _, u := range []Unit{Millimetre, Inch, Thou} {
		assert.Equal(t, ByHighest, Spec{Value: Quantity{2, u}, Tolerance: Quantity{1, Degree}}.TDCWay(), "a tolerance in degrees changes nothing")
	}
	assert.Equal(t, "heights", ByHeights.String())
	assert.Equal(t, "highest", ByHighest.String())
}

// Travel at 23° with 2r 54: 2.6534332210376 mm with l 110, computed independently with mpmath. A longer rod makes less travel
// of the same angle, so a travel set with it lies farther before top dead centre: early.
func TestRodEffect(t *testing.T) {
	c := testCrank(t, 0)
	off, err := c.RodEffect(23, 1)
	require.NoError(t, err)
	longer, err := NewCrank(54, 111, 0)
	require.NoError(t, err)
	at, err := longer.Travel(23 + off)
	require.NoError(t, err)
	assert.InDelta(t, 2.6534332210376, float64(at), 1e-12)
	assert.True(t, off > 0.01 && off < 0.03, "%g", off)
	_, err = c.RodEffect(23, -90)
	assert.ErrorContains(t, err, "rod, got 20 mm")
}

// tally counts how often intervals hold the truth, and whether it is as often as they say: 95 %, and for 2000 cases
// 93..97 %, four standard deviations of a binomial count.
type tally struct{ cases, held int }

func (c *tally) add(holds bool) {
	c.cases++
	if holds {
		c.held++
	}
}

func (c tally) check(t *testing.T, what string) {
	share := float64(c.held) / float64(c.cases)
	t.Logf("%s: %.2f %% of %d", what, 100*share, c.cases)
	assert.True(t, share >= 0.93 && share <= 0.97, "%s: %.2f %%", what, 100*share)
}

// spreadOf draws a standard deviation: hands and wheels differ by a factor of two either way (common practice).
func spreadOf(r *rand.Rand, median float64) float64 {
	return median * math.Exp(math.Ln2*r.NormFloat64())
}

func rect(r *rand.Rand, width Length) float64 { return (r.Float64() - 0.5) * float64(width) }

func toStep(x, step float64) float64 { return math.Round(x/step) * step }
