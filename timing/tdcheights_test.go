package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// 2r 54, l 110, e +1.5: 2 mm ↔ 19.9062581963073° BTDC and 19.9248456182476° ATDC; the middle lies 0.00929° off at 2 mm,
// 0.04940° at 10 mm: computed independently with mpmath.
func TestHeightsWithPinOffset(t *testing.T) {
	c, d := testCrank(t, 1.5), NewDial(20)
	at := func(falls bool, height Length, before, after Angle) Heights {
		const tdc = 351.2
		p := HeightPair{Height: height, Before: turn(tdc - before), After: turn(tdc + after)}
		if falls {
			p.Before, p.After = turn(tdc+before), turn(tdc-after)
		}
		h, err := FindHeights(c, d, []HeightPair{p}, 0.1)
		require.NoError(t, err)
		assert.InDelta(t, tdc, float64(h.TDC.Value), 1e-10, "twelve digits given")
		assert.Equal(t, falls, h.Falls)
		return h
	}
	for _, falls := range []bool{false, true} {
		h := at(falls, 2, 19.9062581963073, 19.9248456182476)
		assert.InDelta(t, 0.00929, float64(h.Pairs[0].PinOffset), 5e-6, "as printed")
	}
	b, err := c.Angle(10, BTDC)
	require.NoError(t, err)
	a, err := c.Angle(10, ATDC)
	require.NoError(t, err)
	assert.InDelta(t, 0.04940, float64(at(false, 10, b, a).Pairs[0].PinOffset), 5e-6, "as printed")
	// Left out, the offset would have gone into TDC.
	straight, err := FindHeights(testCrank(t, 0), d, []HeightPair{{Height: 2, Before: -19.9062581963073, After: 19.9248456182476}}, 0.1)
	require.NoError(t, err)
	assert.InDelta(t, 0.00929, float64(straight.TDC.Value), 5e-6)
}

// One pair says what is expected of it: half the variance of a wheel reading, and half of that of a dial reading over the slope,
// 0.1977003717 mm per degree at 2 mm (mpmath).
func TestHeightsOfOnePair(t *testing.T) {
	d := NewDial(10)
	h, err := FindHeights(testCrank(t, 0), d, []HeightPair{{2, 340.1, 20, TurnedRising}}, 0.1)
	require.NoError(t, err)
	const slope = 0.1977003717
	v := (0.09*0.09+0.1*0.1/12)/2 + (0.01*0.01+0.003*0.003)/12/(2*slope*slope)
	assert.InDelta(t, math.Sqrt(v), h.Budget[0].U, 1e-9, "the slope has ten digits")
	assert.InDelta(t, tdcPriorDF, h.Budget[0].DF, 1e-6, "nothing is left over")
}

// wheelAt returns what a perfect wheel and dial read at a height.
func wheelAt(t require.TestingT, c Crank, d Dial, tdc Angle, travel Length, side Side) Angle {
	a, err := c.Angle(travel, side)
	require.NoError(t, err)
	if side == BTDC {
		a = -a
	}
	return turn(tdc + a)
}

func TestPlayIsFoundFromBothWays(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	const half, tdc = 0.02, 12.0
	pair := func(height Length, how Turning) HeightPair {
		before, after := height-half, height+half // the piston lags: rising it is lower than the crank says
		switch how {
		case TurnedBackwards:
			before, after = height+half, height-half
		case TurnedRising:
			before, after = height-half, height-half
		}
		return HeightPair{height, wheelAt(t, c, d, tdc, before, BTDC), wheelAt(t, c, d, tdc, after, ATDC), how}
	}
	forth, err := FindHeights(c, d, []HeightPair{pair(2, TurnedForwards), pair(5, TurnedForwards)}, 0.1)
	require.NoError(t, err)
	assert.InDelta(t, 0.02/0.25, float64(forth.TDC.Value-tdc), 0.03, "shifted by half the play over the slope, 0.2 to 0.3 mm per degree")
	assert.Contains(t, codesOf(forth.TDC.Caveats), "one_way")
	assert.Nil(t, forth.Lost)
	both, err := FindHeights(c, d, []HeightPair{pair(2, TurnedForwards), pair(2, TurnedBackwards), pair(5, TurnedForwards), pair(5, TurnedBackwards)}, 0.1)
	require.NoError(t, err)
	assert.InDelta(t, tdc, float64(both.TDC.Value), 1e-3, "drops out but for the curve of the crank")
	require.NotNil(t, both.Lost)
	assert.InDelta(t, 0.04, float64(*both.Lost), 0.02, "pulled towards what is usual")
	var mirrored []HeightPair // on a wheel whose figures fall
	for _, how := range []Turning{TurnedForwards, TurnedBackwards} {
		p := pair(3, how)
		p.Before, p.After = turn(-p.Before), turn(-p.After)
		mirrored = append(mirrored, p)
	}
	fallen, err := FindHeights(c, d, append(mirrored, mirrored...), 0.1)
	require.NoError(t, err)
	assert.True(t, fallen.Falls)
	assert.InDelta(t, 360-tdc, float64(fallen.TDC.Value), 1e-3)
	assert.InDelta(t, 0.04, float64(*fallen.Lost), 0.02)
	rising, err := FindHeights(c, d, []HeightPair{pair(2, TurnedRising), pair(5, TurnedRising)}, 0.1)
	require.NoError(t, err)
	assert.InDelta(t, tdc, float64(rising.TDC.Value), 1e-9, "drops out altogether")
	assert.Less(t, float64(rising.TDC.U), float64(forth.TDC.U))
	assert.InDelta(t, 0, rising.Budget[1].U, 1e-6, "nothing is left of it; rounding only")
}

func TestHeightsRefuse(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(40)
	d.Range = 40
	good := HeightPair{Height: 2, Before: 340.1, After: 20.1}
	for name, tc := range map[string]struct {
		pairs []HeightPair
		step  Angle
		want  string
	}{
		"none":        {nil, 0, "equal heights, got none, want at least one pair"},
		"negative":    {[]HeightPair{{Height: -2, Before: 340, After: 20}}, 0, "height, got -2 mm, want more than 0"},
		"stroke":      {[]HeightPair{{Height: 60, Before: 340, After: 20}}, 0, "height, got 60 mm, want more than 0, below 54.00 mm"},
		"half a turn": {[]HeightPair{{Height: 30, Before: 270, After: 90}}, 0, "want one nearer to the top"},
		"slip":        {[]HeightPair{{Height: 2, Before: 304.1, After: 20.1}}, 0, "304.1° and 20.1°, 76.0° apart, want about 39.8° apart"},
		"swapped":     {[]HeightPair{good, {Height: 2, Before: 20.1, After: 340.1}}, 0, "the reading before top dead centre first, as in the pairs before"},
		"NaN":         {[]HeightPair{{Height: 2, Before: Angle(math.NaN()), After: 20}}, 0, "degree wheel"},
		"NaN height":  {[]HeightPair{{Height: Length(math.NaN()), Before: 340, After: 20}}, 0, "height"},
		"step":        {[]HeightPair{good}, 6, "step of the degree wheel, got 6°"},
	} {
		_, err := FindHeights(c, d, tc.pairs, tc.step)
		assert.ErrorContains(t, err, tc.want, name)
	}
	_, err := FindHeights(Crank{}, d, []HeightPair{good}, 0)
	assert.ErrorContains(t, err, "crank, got none")
}

func TestHeightsCaveats(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	one, err := FindHeights(c, d, []HeightPair{{2, 340.1, 20, TurnedRising}}, 0)
	require.NoError(t, err)
	assert.Equal(t, []string{"one_pair"}, codesOf(one.TDC.Caveats))
	odd, err := FindHeights(c, d, []HeightPair{{2, 340.1, 20, TurnedRising}, {2, 340.1, 20, TurnedRising}, {2, 340, 20, TurnedRising},
		{2, 343.2, 23, TurnedRising}, {2, 340, 20, TurnedRising}}, 0)
	require.NoError(t, err)
	assert.Contains(t, codesOf(odd.TDC.Caveats), "outlier")
	wide, err := FindHeights(c, d, []HeightPair{{2, 338, 23, TurnedRising}, {5, 326, 33, TurnedRising}}, 0)
	require.NoError(t, err)
	assert.Contains(t, codesOf(wide.TDC.Caveats), "apart")
	slip, err := FindHeights(c, d, []HeightPair{{2, 340.1, 33, TurnedRising}}, 0)
	require.NoError(t, err)
	last := slip.TDC.Caveats[len(slip.TDC.Caveats)-1]
	// 52.9° apart instead of 2 · 19.916167° (mpmath).
	assert.Contains(t, last.Message, "a slip of one reading alone puts TDC off by 6.5°")
}

// A wheel read to whole degrees shows the same at one height however often it is read: the step does not average out.
func TestStepsOfTheWheelStay(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	r := rand.New(rand.NewPCG(11, 4))
	var held tally
	for range 2000 {
		tdc, height := Angle(360*r.Float64()), Length(1+7*r.Float64())
		before, after := wheelAt(t, c, d, tdc, height, BTDC), wheelAt(t, c, d, tdc, height, ATDC)
		var pairs []HeightPair
		for range 6 {
			read := func(a Angle) Angle { return turn(Angle(math.Round(float64(a) + 0.05*r.NormFloat64()))) }
			pairs = append(pairs, HeightPair{height, read(before), read(after), TurnedRising})
		}
		h, err := FindHeights(c, d, pairs, 0)
		require.NoError(t, err)
		held.add(math.Abs(float64(halfTurn(tdc-h.TDC.Value))) <= float64(h.TDC.Interval[1]-h.TDC.Value))
	}
	assert.Greater(t, float64(held.held)/float64(held.cases), 0.93, "at least as often as stated")
}

func TestHeightsCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2))
	var all tally
	classes := map[Turning]*tally{TurnedForwards: {}, TurnedRising: {}}
	for range 2000 {
		c, d := testCrank(t, Length(r.Float64()*4-2)), NewDial(10)
		tdc, sd, play := Angle(360*r.Float64()), spreadOf(r, 0.085), lostMotion*Length(r.NormFloat64())
		step := []Angle{0.1, 0.5, 1}[r.IntN(3)]
		how := []Turning{TurnedForwards, TurnedRising}[r.IntN(2)]
		var pairs []HeightPair
		same, height := r.IntN(3) == 0, Length(1+7*r.Float64())
		for range 1 + r.IntN(5) {
			if !same {
				height = Length(1 + 7*r.Float64())
			}
			lag := map[Turning]Length{TurnedForwards: play, TurnedRising: -play}[how]
			read := func(travel Length, side Side) Angle {
				travel += Length(rect(r, d.Graduation) + rect(r, d.Repeatability))
				return turn(Angle(toStep(float64(wheelAt(t, c, d, tdc, travel, side))+sd*r.NormFloat64(), float64(step))))
			}
			pairs = append(pairs, HeightPair{height, read(height-play, BTDC), read(height+lag, ATDC), how})
		}
		h, err := FindHeights(c, d, pairs, step)
		require.NoError(t, err)
		holds := math.Abs(float64(halfTurn(tdc-h.TDC.Value))) <= float64(h.TDC.Interval[1]-h.TDC.Value)
		all.add(holds)
		classes[how].add(holds)
	}
	all.check(t, "equal heights")
	classes[TurnedForwards].check(t, "equal heights, one way")
	classes[TurnedRising].check(t, "equal heights, piston rising")
}

// Where the wheel's zero stands does not matter, nor past 360° which way it wraps.
func TestHeightsTurnWithTheWheel(t *testing.T) {
	c, d := testCrank(t, 1.5), NewDial(10)
	rapid.Check(t, func(t *rapid.T) {
		by := Angle(rapid.Float64Range(-360, 360).Draw(t, "by"))
		base := []HeightPair{{2, 340.1, 20, TurnedForwards}, {5, 328, 32.4, TurnedBackwards}, {3, 335.4, 24.5, TurnedRising}}
		moved := make([]HeightPair, len(base))
		for i, p := range base {
			p.Before, p.After = turn(p.Before+by), turn(p.After+by)
			moved[i] = p
		}
		a, err := FindHeights(c, d, base, 0.1)
		require.NoError(t, err)
		b, err := FindHeights(c, d, moved, 0.1)
		require.NoError(t, err)
		assert.InDelta(t, 0, float64(halfTurn(b.TDC.Value-a.TDC.Value-by)), 1e-9, "rounding only")
		assert.InDelta(t, float64(a.TDC.U), float64(b.TDC.U), 1e-9)
		assert.True(t, b.TDC.Value >= 0 && b.TDC.Value < 360)
	})
}

// A wheel read 13° wrong on one side puts the middle 6.5° off, and the interval says that it may.
func TestSlipOfOneWheelReadingIsInTheInterval(t *testing.T) {
	c := crank(t, 54, 110, 0)
	slip, err := FindHeights(c, NewDial(10), []HeightPair{{Height: 2, Before: 340.1, After: 33}}, 0)
	require.NoError(t, err)
	assert.Greater(t, float64(slip.TDC.U), 3.0)
	assert.True(t, slip.TDC.Interval[0] <= 360 && slip.TDC.Interval[1] >= 360 || slip.TDC.Interval[0] <= 0, "%v holds 0°", slip.TDC.Interval)
	// Beside two good pairs it hardly counts.
	three, err := FindHeights(c, NewDial(10), []HeightPair{{Height: 2, Before: 340.1, After: 33}, {Height: 2, Before: 340.1, After: 19.9}, {Height: 5, Before: 327.9, After: 32.1}}, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0, float64(halfTurn(three.TDC.Value)), 0.3)
}
