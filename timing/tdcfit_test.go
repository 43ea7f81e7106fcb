package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Travels at whole degrees with 2r 54, l 110, e +1.5: computed independently with mpmath; before top dead centre, so after it
// they are those of the crank with e -1.5, which mirrors it.
func TestFitTopFindsAnExactCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		offset := Length(rapid.Float64Range(-3, 3).Draw(t, "offset"))
		c, d := testCrank(t, offset), NewDial(10)
		d.PlungerAngle, d.CrownSlope = 15, 5
		tdc, peak := Angle(rapid.Float64Range(0, 360).Draw(t, "tdc")), Length(rapid.Float64Range(-1, 1).Draw(t, "peak"))
		falls := rapid.Bool().Draw(t, "falls")
		var points []TopPoint
		for _, b := range []Angle{27, 20.3, 5, -9, -24.1} {
			travel, err := c.Travel(b)
			require.NoError(t, err)
			w := tdc - b
			how := TurnedRising
			if falls {
				w = tdc + b
			}
			points = append(points, TopPoint{turn(w), peak + travel*Length(d.Ratio()), how})
		}
		top, err := FitTop(c, d, points, falls, 0.1)
		require.NoError(t, err)
		assert.InDelta(t, 0, float64(halfTurn(top.TDC.Value-tdc)), 1e-7, "Gauss-Newton stops at 1e-9°")
		assert.InDelta(t, float64(peak), float64(top.Peak.Value), 1e-4, "up to the play, which the same turning everywhere cannot tell from it")
		for _, r := range top.Residuals {
			assert.InDelta(t, 0, float64(r), 1e-7)
		}
		assert.True(t, top.TDC.U > 0 && top.TDC.U < 1)
	})
}

func TestFitTopAgainstTheTable(t *testing.T) {
	points := []TopPoint{
		{-20, 2.0185916662787, TurnedRising}, {-10, 0.51042360757261, TurnedRising}, {-5, 0.12795447903716, TurnedRising},
	}
	c := testCrank(t, 1.5)
	mirror := testCrank(t, -1.5)
	for _, b := range []Angle{8, 19} {
		travel, err := mirror.Travel(b)
		require.NoError(t, err)
		points = append(points, TopPoint{b, travel, TurnedRising})
	}
	top, err := FitTop(c, NewDial(10), points, false, 0.1)
	require.NoError(t, err)
	assert.InDelta(t, 0, float64(halfTurn(top.TDC.Value)), 1e-7)
	assert.Nil(t, top.Lost, "the same turning everywhere tells nothing of play")
}

// Points taken both ways tell of the play, which holds the piston back on its way up and on its way down.
func TestFitTopFindsThePlay(t *testing.T) {
	c := testCrank(t, 0)
	const half, tdc = 0.02, 100
	for _, other := range []Turning{TurnedBackwards, TurnedRising} {
		var points []TopPoint
		for _, how := range []Turning{TurnedForwards, other} {
			for _, b := range []Angle{25, 18, 12, -11, -19, -26} {
				travel, err := c.Travel(b)
				require.NoError(t, err)
				lag := Length(-half)
				if how == TurnedRising || (how == TurnedForwards) == (b > 0) {
					lag = half // rising, it is lower than the crank says
				}
				points = append(points, TopPoint{tdc - b, travel + lag, how})
			}
		}
		top, err := FitTop(c, NewDial(10), points, false, 0.1)
		require.NoError(t, err)
		assert.InDelta(t, tdc, float64(top.TDC.Value), 5e-3, "%s: it drops out but for the pull towards what is usual", other)
		require.NotNil(t, top.Lost)
		assert.InDelta(t, 0.04, float64(top.Lost.Value), 0.01, "%s: pulled a little towards what is usual", other)
		assert.Empty(t, top.TDC.Caveats)
	}
}

func TestFitTopRefuses(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	good := []TopPoint{{340, 2, 0}, {350, 0.5, 0}, {10, 0.5, 0}, {20, 2, 0}}
	_, err := FitTop(c, d, good, false, 0)
	require.NoError(t, err)
	for name, tc := range map[string]struct {
		points []TopPoint
		want   string
	}{
		"too few":     {good[:3], "points, got 3, want at least 4, on both sides of top dead centre"},
		"one side":    {[]TopPoint{{340, 2, 0}, {345, 1.14, 0}, {350, 0.51, 0}, {355, 0.128, 0}}, "all on one side of top dead centre"},
		"upside down": {[]TopPoint{{340, -2, 0}, {350, -0.5, 0}, {10, -0.5, 0}, {20, -2, 0}}, "dial readings that do not grow to both sides"},
		"flat":        {[]TopPoint{{340, 2, 0}, {350, 2, 0}, {10, 2, 0}, {20, 2, 0}}, "dial readings that do not grow to both sides"},
		"one place":   {[]TopPoint{{340, 2, 0}, {340, 2, 0}, {340, 2.01, 0}, {340, 2, 0}}, "all at one place of the wheel"},
		"NaN":         {[]TopPoint{{340, Length(math.NaN()), 0}, {350, 0.5, 0}, {10, 0.5, 0}, {20, 2, 0}}, "dial, got NaN mm"},
		"NaN wheel":   {[]TopPoint{{Angle(math.NaN()), 2, 0}, {350, 0.5, 0}, {10, 0.5, 0}, {20, 2, 0}}, "degree wheel"},
	} {
		_, err := FitTop(c, d, tc.points, false, 0)
		assert.ErrorContains(t, err, tc.want, name)
	}
}

func TestFitTopCaveats(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	points := func(scale Length, how Turning) (out []TopPoint) {
		for _, b := range []Angle{30, 25, 20, 15, 10, -10, -15, -20, -25, -30} {
			travel, err := c.Travel(b)
			require.NoError(t, err)
			out = append(out, TopPoint{-b, travel * scale, how})
		}
		return out
	}
	top, err := FitTop(c, d, append(points(1, TurnedForwards)[2:3], points(1, TurnedForwards)[4:8]...), false, 0.1)
	require.NoError(t, err)
	assert.Contains(t, codesOf(top.TDC.Caveats), "one_way")
	slipped := points(1, TurnedRising)
	slipped[2].Dial += 1
	top, err = FitTop(c, d, slipped, false, 0.1)
	require.NoError(t, err)
	assert.Contains(t, codesOf(top.TDC.Caveats), "outlier")
	top, err = FitTop(c, d, points(1.5, TurnedRising), false, 0.1)
	require.NoError(t, err)
	assert.Contains(t, codesOf(top.TDC.Caveats), "bad_fit", "another crank")
}

func TestFitTopCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 3))
	var all tally
	classes := make([]tally, 3)
	names := []string{"forwards", "rising", "both ways"}
	for range 2000 {
		c, d := testCrank(t, Length(r.Float64()*4-2)), NewDial(10)
		tdc, wheelSD, dialSD := Angle(360*r.Float64()), spreadOf(r, 0.085), spreadOf(r, 0.003)
		half := float64(lostMotion) * r.NormFloat64()
		step := []float64{0.1, 0.5, 1}[r.IntN(3)]
		class := r.IntN(3)
		var points []TopPoint
		for i := range 4 + r.IntN(6) {
			b := Angle(3 + 25*r.Float64()) // never quite at the top
			if i%2 == 1 {
				b = -b
			}
			how := []Turning{TurnedForwards, TurnedRising, Turning(i / 2 % 2)}[class]
			rising := how == TurnedRising || (how == TurnedForwards) == (b > 0)
			travel, err := c.Travel(b)
			require.NoError(t, err)
			y := float64(travel) - half
			if rising {
				y = float64(travel) + half
			}
			y += dialSD*r.NormFloat64() + rect(r, d.Repeatability)
			points = append(points, TopPoint{
				turn(Angle(toStep(float64(tdc-b)+wheelSD*r.NormFloat64(), step))), Length(toStep(y, 0.01)), how,
			})
		}
		top, err := FitTop(c, d, points, false, Angle(step))
		require.NoError(t, err)
		holds := math.Abs(float64(halfTurn(tdc-top.TDC.Value))) <= float64(top.TDC.Interval[1]-top.TDC.Value)
		all.add(holds)
		classes[class].add(holds)
	}
	all.check(t, "fit")
	for i, c := range classes {
		c.check(t, "fit, "+names[i])
	}
}
