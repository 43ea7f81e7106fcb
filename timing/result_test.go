package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func setup(t testing.TB, d Dial) Setup {
	s, err := NewSetup(crank(t, 54, 110, 0), d, Spec{Value: Quantity{2, Millimetre}, Tolerance: Quantity{0.1, Millimetre}})
	require.NoError(t, err)
	return s
}

func readings(t testing.TB, s Setup, texts ...string) []Reading {
	var out []Reading
	for _, text := range texts {
		r, err := s.ParseReading(text)
		require.NoError(t, err, text)
		out = append(out, r)
	}
	return out
}

func evaluate(t testing.TB, s Setup, passes ...[]Reading) []Result {
	r, err := s.Evaluate(passes)
	require.NoError(t, err)
	require.Len(t, r, len(passes))
	return r
}

func codes(r Result) []string {
	var out []string
	for _, c := range r.Error.Caveats {
		out = append(out, c.Code)
	}
	return out
}

func TestEvaluateBrackets(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.20/2.14", "2.18/2.15", "-", "2.21/2.16"))[0]
	assert.Equal(t, 3, r.Error.N, "no reading is no pass")
	assert.InDelta(t, (2.17+2.165+2.185)/3, float64(r.Travel.Value), 1e-12, "mean of the brackets' middles; rounding only")
	assert.InDelta(t, float64(r.Travel.Value)-2, float64(r.Error.Value), 1e-12)
	assert.Equal(t, Early, r.When())
	assert.Equal(t, OutOfTolerance, r.Verdict)
	assert.Less(t, r.InTolerance, 0.05)
	assert.Empty(t, r.Error.Caveats)
	require.NotNil(t, r.Scatter)
	assert.InDelta(t, 0.010408, float64(*r.Scatter), 1e-6, "standard deviation of 2.17, 2.165, 2.185, worked by hand")
	// The angle through the crank: 2 mm is 19.91617° (mpmath), the slope there 0.1977 mm/°, a little more farther on.
	assert.InDelta(t, 0.17333/0.2016, float64(r.ErrorAngle.Value), 0.01, "the slope changes by 4 % on the way; its middle is good to 1 %")
	assert.Less(t, float64(r.ErrorAngle.Interval[0]), float64(r.ErrorAngle.Value))
	assert.Greater(t, float64(r.ErrorAngle.Interval[1]), float64(r.ErrorAngle.Value))
}

// The whole chain, worked by hand from its formulas with the numbers of a straight 10 mm dial.
func TestEvaluateUncertainty(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.03/1.99", "2.01/1.97"))[0]
	const kappa = 0.1977003717 // mm/° at 2 mm: computed independently with mpmath
	v := 0.04*0.04/12 + 0.01*0.01/24
	s2 := 0.0002 // of 2.01 and 1.99
	sP2 := (2*(0.18*0.18*kappa*kappa+v) + s2) / 3
	uA2 := sP2 / 2
	uZ2 := (0.01*0.01 + 0.003*0.003 + 0.003*0.003) / 12
	uB2 := 0.015*0.015/3 + 0.01*0.01/12 + uZ2
	u2 := uA2 + uB2
	df := u2 * u2 / (uA2 * uA2 / 3)
	assert.InDelta(t, math.Sqrt(u2), float64(r.Error.U), 1e-10, "kappa has ten digits")
	assert.InDelta(t, df, r.Error.DF, 1e-6)
	// Student's quantile with the effective degrees of freedom is not far from that of the whole distribution, which is
	// wider here: three degrees of freedom make tails that the formula takes for thinner.
	assert.InEpsilon(t, student(df).Quantile(0.975)*math.Sqrt(u2), float64(r.Error.Interval[1]-r.Error.Value), 0.12)
	assert.InDelta(t, 0.975, Sum(r.Budget).CDF(float64(r.Error.Interval[1]-r.Error.Value)), 1e-6, "the root is found to 1e-8")
	assert.Equal(t, 0.95, r.Error.Coverage)
	var sum float64
	for _, p := range r.Budget {
		sum += p.U * p.U
	}
	assert.InDelta(t, u2, sum, 1e-12, "the budget is the whole of it")
}

func TestEvaluateOnePass(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.02/1.98"))[0]
	assert.Nil(t, r.Scatter, "one pass shows no repeatability")
	assert.Equal(t, CannotTell, r.Verdict)
	assert.Equal(t, []string{"one_pass"}, codes(r))
	assert.True(t, finite(float64(r.Error.U)) && r.Error.U > 0)
	assert.Equal(t, "on_mark", r.When().String())
}

func TestEvaluateNoPass(t *testing.T) {
	s := setup(t, NewDial(10))
	for _, passes := range [][]Reading{nil, readings(t, s, "-")} {
		r := evaluate(t, s, passes)[0]
		assert.False(t, r.Error.Known())
		assert.Equal(t, CannotTell, r.Verdict)
		assert.Equal(t, []string{"no_pass"}, codes(r))
		assert.Empty(t, r.Budget)
	}
}

func TestEvaluateAllAlike(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.00/2.00", "2.00/2.00", "2.00/2.00"))[0]
	require.NotNil(t, r.Scatter)
	assert.Zero(t, *r.Scatter)
	assert.Greater(t, float64(r.Error.U), 0.01/math.Sqrt(12), "resolution still counts")
	assert.Equal(t, InTolerance, r.Verdict)
}

func TestEvaluatePoolsAndKeepsOrder(t *testing.T) {
	s := setup(t, NewDial(10))
	alone := evaluate(t, s, readings(t, s, "2.02/1.98"))[0]
	steady := readings(t, s, "2.02/2.00", "2.02/2.00", "2.02/2.00", "2.03/2.01", "2.02/2.00")
	both := evaluate(t, s, steady, readings(t, s, "2.02/1.98"), nil)
	assert.Equal(t, 5, both[0].Error.N)
	assert.Equal(t, 1, both[1].Error.N)
	assert.Equal(t, 0, both[2].Error.N)
	assert.Less(t, float64(both[1].Error.U), float64(alone.Error.U), "a steady hand elsewhere narrows the single pass")
	assert.Greater(t, both[1].Error.DF, alone.Error.DF)
}

func TestEvaluateStopsAreCaveated(t *testing.T) {
	s := setup(t, NewDial(10))
	stops := evaluate(t, s, readings(t, s, "2.00", "2.01"))[0]
	brackets := evaluate(t, s, readings(t, s, "2.00/2.00", "2.01/2.01"))[0]
	assert.Contains(t, codes(stops), "read_after_stopping")
	assert.Greater(t, float64(stops.Error.U), float64(brackets.Error.U))
	assert.NotContains(t, codes(brackets), "read_after_stopping")
}

// In degrees the uncertainty is that of the travel over the slope, 0.1977003717 mm a degree at 2 mm (mpmath).
func TestEvaluateInDegrees(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.01/1.99", "2.01/1.99", "2.01/1.99"))[0]
	assert.InEpsilon(t, float64(r.Error.U)/0.1977003717, float64(r.ErrorAngle.U), 1e-3, "the curve bends a little within the interval")
}

func TestEvaluateInclined(t *testing.T) {
	d := NewDial(10)
	d.PlungerAngle, d.PlungerAngleU, d.CrownSlopeU = 20, 1, 3
	s := setup(t, d)
	r := evaluate(t, s, readings(t, s, "2.14/2.10"))[0]
	assert.InDelta(t, 2.12*0.939692621, float64(r.Travel.Value), 1e-8, "travel = reading cos alpha; nine digits of cos 20°")
	assert.Contains(t, codes(r), "inclined_plunger")
	// What is believed of the scatter is in degrees of crank, so in travel it is the same however the plunger stands; what is
	// read on the dial stands for less travel.
	const kappa, cos20 = 0.1977003717, 0.939692621 // at 2 mm (mpmath)
	v := (0.04*0.04/12 + 0.01*0.01/24) * cos20 * cos20
	assert.InDelta(t, math.Sqrt(0.18*0.18*kappa*kappa+v), r.Budget[0].U, 1e-9)
	two := evaluate(t, s, readings(t, s, "2.15/2.11", "2.13/2.09"))[0]
	assert.InDelta(t, 0.02/math.Sqrt2*cos20, float64(*two.Scatter), 1e-9)
	stop := evaluate(t, s, readings(t, s, "2.13"))[0]
	assert.InDelta(t, 0.066*kappa, float64(stop.Late), 1e-9, "of travel, not of the plunger")
}

// Points that open at 2 mm where 0.05 mm is specified scatter as points at 2 mm do.
func TestEvaluateFarFromTheMark(t *testing.T) {
	near, err := NewSetup(crank(t, 54, 110, 0), NewDial(10), Spec{Value: Quantity{0.05, Millimetre}, Tolerance: Quantity{0.02, Millimetre}})
	require.NoError(t, err)
	at := setup(t, NewDial(10))
	far := evaluate(t, near, readings(t, near, "2.01/1.99", "2.02/2.00"))[0]
	assert.InEpsilon(t, float64(evaluate(t, at, readings(t, at, "2.01/1.99", "2.02/2.00"))[0].Error.U), float64(far.Error.U), 0.01, "the slope at 2.005 mm is 0.1 % more")
}

// Near the top the dial reads alike on both sides.
func TestEvaluateNearTDC(t *testing.T) {
	s, err := NewSetup(crank(t, 54, 110, 0), NewDial(10), Spec{Value: Quantity{0.05, Millimetre}, Tolerance: Quantity{0.02, Millimetre}})
	require.NoError(t, err)
	assert.Contains(t, codes(evaluate(t, s, readings(t, s, "0.01/0.00", "0.00/0.00"))[0]), "near_tdc")
	assert.NotContains(t, codes(evaluate(t, setup(t, NewDial(10)), readings(t, s, "2.01/2.00", "2.00/2.00"))[0]), "near_tdc")
}

func TestSetupRefuses(t *testing.T) {
	spec := Spec{Value: Quantity{2, Millimetre}, Tolerance: Quantity{0.1, Millimetre}}
	_, err := NewSetup(Crank{}, NewDial(10), spec)
	assert.ErrorContains(t, err, "crank, got none")
	_, err = NewSetup(crank(t, 54, 110, 0), NewDial(1), spec)
	assert.ErrorContains(t, err, "the dial cannot show the mark")
	_, err = NewSetup(crank(t, 54, 110, 0), Dial{}, spec)
	assert.ErrorContains(t, err, "timing: unit, got")
	_, err = NewSetup(crank(t, 54, 110, 0), NewDial(10), Spec{})
	assert.ErrorContains(t, err, "want a unit")

	s, err := NewSetup(crank(t, 8, 20, 0), NewDial(10), Spec{Value: Quantity{1, Millimetre}, Tolerance: Quantity{0.1, Millimetre}})
	require.NoError(t, err)
	_, err = s.ParseReading("9.5")
	assert.ErrorContains(t, err, "the stroke", "the dial could show it, the piston cannot")
}

func TestEvaluateNeverNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NewDial(10)
		d.PlungerAngle = Angle(rapid.Float64Range(0, 25).Draw(t, "alpha"))
		d.CrownSlope = Angle(rapid.Float64Range(-10, 25).Draw(t, "beta"))
		d.PlungerAngleU, d.CrownSlopeU = 1, 3
		c, err := NewCrank(54, 110, 1.5)
		require.NoError(t, err)
		s, err := NewSetup(c, d, Spec{Value: Quantity{20, Degree}, Tolerance: Quantity{1, Degree}})
		require.NoError(t, err)
		var passes [][]Reading
		for range rapid.IntRange(0, 4).Draw(t, "series") {
			var p []Reading
			for range rapid.IntRange(0, 4).Draw(t, "passes") {
				first := Length(rapid.Float64Range(0, 9).Draw(t, "open"))
				p = append(p, Reading{LastClosed: first + Length(rapid.Float64Range(0, 1).Draw(t, "width")), FirstOpen: first, Bracket: true})
			}
			passes = append(passes, p)
		}
		results, err := s.Evaluate(passes)
		require.NoError(t, err)
		for _, r := range results {
			for _, x := range []float64{float64(r.Travel.Value), float64(r.Error.Value), float64(r.Error.U), float64(r.Error.Interval[0]), float64(r.Error.Interval[1]), r.Error.DF, float64(r.ErrorAngle.Value), float64(r.ErrorAngle.U), float64(r.ErrorAngle.Interval[0]), float64(r.ErrorAngle.Interval[1]), r.InTolerance} {
				assert.True(t, finite(x), "%+v", r)
			}
			if r.Error.Known() {
				assert.True(t, r.Error.Interval[0] < r.Error.Value && r.Error.Value < r.Error.Interval[1])
				assert.True(t, r.ErrorAngle.Interval[0] <= r.ErrorAngle.Value && r.ErrorAngle.Value <= r.ErrorAngle.Interval[1])
			}
		}
	})
}

// Coverage by simulation on the prior's own population (scatter drawn so that the prior is right): the interval must
// then hold the truth in about 95 %. 4,000 settings: the sd of the share is 0.35 %; ±2 % is far out for chance alone, and the dial's
// rectangular limits make it a little conservative.
func TestCoverageOnThePriorsOwnPopulation(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	s := setup(t, NewDial(10))
	held, settings := 0, 0
	for range 4000 {
		chi := 0.0
		for range priorDF {
			chi += math.Pow(rng.NormFloat64(), 2)
		}
		sigma := float64(priorScatter) * s.kappa * math.Sqrt(priorDF/chi) // scaled inverse chi-square
		if sigma > 0.4 {                                                  // one of a hundred: the dial could not follow
			continue
		}
		settings++
		truth := 2 + 0.2*rng.Float64()
		bias := 0.015*(2*rng.Float64()-1) + s.Dial.zeroU()*rng.NormFloat64()
		var p []Reading
		for range 3 {
			at := truth + sigma*rng.NormFloat64()
			high := at + 0.03*rng.Float64()
			read := func(y float64) Length { return Length(math.Round((y+bias)*100) / 100) }
			p = append(p, Reading{LastClosed: read(high), FirstOpen: read(high - 0.03), Bracket: true})
		}
		r := evaluate(t, s, p)[0]
		if r.Travel.Interval[0] <= Length(truth) && Length(truth) <= r.Travel.Interval[1] {
			held++
		}
	}
	assert.InDelta(t, 0.95, float64(held)/float64(settings), 0.02)
}

func BenchmarkEvaluate(b *testing.B) {
	s := setup(b, NewDial(10))
	p := [][]Reading{readings(b, s, "2.20/2.14", "2.18/2.15", "2.21/2.16")}
	for b.Loop() {
		if _, err := s.Evaluate(p); err != nil {
			b.Fatal(err)
		}
	}
}
