package handturn

import (
	"math"
	"strings"
	"testing"

	"breakcue/timing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// JCGM 101:2008, 9.2: the sum of four rectangular variables of unit standard deviation lies within ±3.88 with 95 % (read there);
// 2 sqrt 3 (2 - (3/5)^(1/4)) = 3.8807. Two make a triangle: ±2 sqrt 3 (1 - sqrt 0.05).
func TestDensityOfRectangles(t *testing.T) {
	half := math.Sqrt(3)
	d := density{-8, 1.0 / 64, make([]float64, 1024)}
	d.p[511], d.p[512] = 0.5, 0.5 // a place, as near as cells allow
	unit := [2]float64{-half, half}
	two := d.plus(unit).plus(unit)
	lo, hi := two.central(0.95)
	assert.InDelta(t, 2*half*(1-math.Sqrt(0.05)), hi, 2e-3, "an eighth of a cell")
	assert.InDelta(t, -hi, lo, 1e-9, "even")
	lo, hi = two.plus(unit).plus(unit).central(0.95)
	assert.InDelta(t, 3.8807, hi, 2e-3, "an eighth of a cell")
	assert.InDelta(t, -hi, lo, 1e-9)
}

func TestDensityOfPlaces(t *testing.T) {
	d := density{0, 0.01, make([]float64, 200)}
	d.p[50] = 1 // 0.50..0.51
	moved := d.plus([2]float64{0.3, 0.3}, [2]float64{0.6, 0.6})
	assert.InDelta(t, 0.505+0.3, moved.quantile(0.25), 0.001, "half the mass at each place; a tenth of a cell")
	assert.InDelta(t, 0.505+0.6, moved.quantile(0.75), 0.001)
}

func TestPhi(t *testing.T) {
	for z := -9.0; z <= 9; z += 0.0137 {
		assert.InDelta(t, distuv.UnitNormal.CDF(z), phi(z), 5e-7, "what the table promises")
	}
}

// inverseChiSquare returns the belief that sigma² is nu s0² over a chi-square variable with nu degrees of freedom.
func inverseChiSquare(nu float64, s0 timing.Angle) belief {
	var b belief
	const least, most, n = 0.1, 100.0, 4 * sigmas // of s0: the tail is long
	for i := range n {
		sigma := float64(s0) * least * math.Pow(most/least, float64(i)/(n-1))
		x := float64(s0) / sigma
		b.sigma = append(b.sigma, sigma)
		b.weight = append(b.weight, math.Pow(x, nu)*math.Exp(-nu*x*x/2))
	}
	return b
}

// coreDF and coreScatter are what package timing believes of the scatter before it has seen any.
const (
	coreDF                   = 2
	coreScatter timing.Angle = 0.18
)

// The stated interval comes from closed formulas for the scatter, Student's here; the same prior tried with the likelihood of brackets, in
// which nothing but the range of each opening is used, must give nearly the same (JCGM 101:2008 in spirit: the propagation of distributions
// validates the formulas). The dial here makes no errors, so that nothing hides the difference.
func TestFormulasAgreeWithCensoredLikelihood(t *testing.T) {
	c := crank(t)
	d := timing.NewDial(10)
	d.Graduation, d.MaxError, d.Hysteresis, d.Repeatability = 0.001, 0, 0, 0
	s, err := timing.NewSetup(c, d, timing.Spec{
		Value:     timing.Quantity{Value: 2, Unit: timing.Millimetre},
		Tolerance: timing.Quantity{Value: 0.1, Unit: timing.Millimetre},
	})
	require.NoError(t, err)
	const kappa = 0.1977003717 // mm/° at 2 mm: computed independently with mpmath
	ratio := func(texts []string) (width, shift float64) {
		var readings []timing.Reading
		for _, text := range texts {
			r, err := s.ParseReading(text)
			require.NoError(t, err)
			readings = append(readings, r)
		}
		results, err := s.Evaluate([][]timing.Reading{readings})
		require.NoError(t, err)
		ranges, err := censor(d, s.Target.Travel, readings)
		require.NoError(t, err)
		lo, hi := inverseChiSquare(coreDF, coreScatter).posterior(ranges, nil, kappa, 1, 0).central(timing.Coverage)
		stated := results[0].Travel.Interval
		return float64(stated[1]-stated[0]) / (hi - lo), (float64(stated[0]+stated[1])/2 - (lo+hi)/2) / (hi - lo)
	}

	// Steps of 0.02..0.03 mm, scatters of 0, 0.01, 0.04 and 0.1 mm, one to eight passes.
	middles := []float64{2.000, 2.035, 1.945, 2.015, 2.030, 1.885, 1.995, 2.110}
	for _, n := range []int{1, 2, 3, 4, 5, 6, 7, 8} {
		for _, spread := range []float64{0, 0.2, 0.5, 1, 1.5} {
			var texts []string
			for i := range n {
				middle, half := 2+spread*(middles[i]-2), 0.010+0.005*float64(i%2)
				texts = append(texts, typed(d, math.Round((middle+half)*1000))+"/"+typed(d, math.Round((middle-half)*1000)))
			}
			width, shift := ratio(texts)
			// Within 7 %: nearly alike brackets are up to 12 % narrower, as below; very unlike ones make the prior yield, which the
			// likelihood's does not.
			if spread < 0.5 {
				assert.InDelta(t, 0.98, width, 0.1, "%v", texts)
			} else {
				assert.InDelta(t, 1, width, 0.07, "%v", texts)
			}
			assert.InDelta(t, 0, shift, 0.01, "%v", texts)
		}
	}

	// Wide brackets that are all alike: their middles do not spread, which says nothing of the opening's spread. One is too wide,
	// because Student's tails are taken for the bracket's too, which has none.
	for _, tt := range []struct {
		text   string
		n      int
		lo, hi float64
	}{
		{"2.050/1.950", 1, 1.15, 1.30},
		{"2.050/1.950", 3, 0.87, 1.13}, {"2.050/1.950", 5, 0.87, 1.13}, {"2.050/1.950", 8, 0.87, 1.13}, {"2.100/1.900", 8, 0.87, 1.13},
	} {
		width, shift := ratio(strings.Fields(strings.Repeat(tt.text+" ", tt.n)))
		assert.True(t, width > tt.lo && width < tt.hi, "%d times %s: %.3f of the width", tt.n, tt.text, width)
		assert.InDelta(t, 0, shift, 0.01)
	}
}

// With a known scatter and readings that are no wider than it, mean and standard deviation are known: normal, sigma/sqrt n
// and what the ranges add, w²/12 each.
func TestPosteriorOfAnOracle(t *testing.T) {
	var c censored
	for _, m := range []float64{1.98, 2.03, 2.01, 1.99} {
		c.lo, c.hi = append(c.lo, m-0.01), append(c.hi, m+0.01)
	}
	p := known(0.25).posterior(c, nil, 0.2, 1, 0)
	lo, hi := p.central(0.95)
	sd := math.Sqrt((0.05*0.05 + 0.02*0.02/12) / 4)
	assert.InDelta(t, 2.0025-1.959964*sd, lo, 2e-4, "Sheppard's correction is good to 1e-5 here, the grid to 1e-4")
	assert.InDelta(t, 2.0025+1.959964*sd, hi, 2e-4)
}

// With brackets so narrow that they are places, a scaled inverse chi-square belief gives Student's distribution: the mean's scale is
// that of the pooled variance [nu s0² + sum of squares]/(nu + n - 1) (Gelman et al., Bayesian Data Analysis, ch. 3, from memory).
func TestPosteriorIsStudents(t *testing.T) {
	const kappa, s0 = 0.2, 0.25
	for _, nu := range []float64{2, 4} {
		for n := 1; n <= 8; n++ {
			for _, spread := range []float64{0, 0.01, 0.05, 0.15} {
				var c censored
				squares := 0.0
				for i := range n {
					off := spread * (float64(i) - float64(n-1)/2)
					squares += off * off
					c.lo, c.hi = append(c.lo, 2+off-0.0005), append(c.hi, 2+off+0.0005)
				}
				lo, hi := inverseChiSquare(nu, s0).posterior(c, nil, kappa, 1, 0).central(timing.Coverage)
				df := nu + float64(n) - 1
				scale := math.Sqrt((nu*s0*s0*kappa*kappa + squares) / df / float64(n))
				half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.975) * scale
				// The grid is good to 0.3 %, and to 1 % where Student's tails reach beyond it.
				assert.InDelta(t, 1, (hi-lo)/2/half, 0.01, "nu %g, %d passes, spread %g", nu, n, spread)
				assert.InDelta(t, 2, (hi+lo)/2, 0.001*half+1e-4)
			}
		}
	}
}
