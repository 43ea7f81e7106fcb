package timing

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// found returns a cylinder with an error in degrees of crank and the half width of its interval.
func found(name string, value, half Angle, v Verdict) Measured {
	return Measured{Cylinder: name, Verdict: v, Error: Estimate[Angle]{
		Value: value, U: half / 2, Interval: [2]Angle{value - half, value + half}, Coverage: Coverage, DF: 10, N: 3,
	}}
}

func twinBreaker() Breaker {
	return Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, PlateRadius: 30, Sets: 2}
}

func advise(t testing.TB, b Breaker, measured ...Measured) Advice {
	a, err := b.Advise(crank(t, 54, 110, 0), 20, measured)
	require.NoError(t, err)
	require.Len(t, a.Moves, b.Sets)
	return a
}

// 0.05 mm at 12 mm radius on a half-speed cam is 0.5° of crank, and about 0.1 mm of travel (common practice): by the radian
// 0.05/12 is 0.238732° of cam, 0.477465° of crank.
func TestPlayAtTheRim(t *testing.T) {
	b := Breaker{CamRatio: 0.5, Cam: Clockwise, Gap: 0.35, PlateRadius: 12, Sets: 1}
	const inCrank = 0.05 / 12 * (180 / math.Pi) / 0.5
	m := advise(t, b, found("only", inCrank, 0.1, OutOfTolerance)).Moves[0]
	assert.InDelta(t, 0.5, float64(m.Crank), 0.03, "the trade rounds to half a degree")
	assert.InDelta(t, 0.238732, float64(m.Turn), 1e-6, "six digits above")
	assert.InDelta(t, 0.05, float64(*m.Rim), 1e-12, "rounding only")
	slope, err := crank(t, 54, 110, 0).Slope(20)
	require.NoError(t, err)
	assert.InDelta(t, 0.1, inCrank*slope, 0.01, "the trade rounds to a tenth of a millimetre")
}

// arc = radius · angle: 1.37° at 30 mm is 0.717 mm.
func TestEarlyPointsMoveWithTheCam(t *testing.T) {
	for _, tc := range []struct {
		b             Breaker
		err           Angle
		turn, rim, lo float64
		sense         Rotation
		with          string
	}{
		{Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, PlateRadius: 30, Sets: 1}, 1.37, 1.37, 0.717330, 0.455531, Clockwise, "with"},
		{Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, PlateRadius: 30, Sets: 1}, -1.37, -1.37, -0.717330, -0.979129, Anticlockwise, "against"},
		{Breaker{CamRatio: 0.5, Cam: Clockwise, Gap: 0.35, PlateRadius: 30, Sets: 1}, 1.37, 0.685, 0.358665, 0.227765, Clockwise, "with"},
		{Breaker{CamRatio: 0.5, Cam: Anticlockwise, Gap: 0.35, PlateRadius: 30, Sets: 1}, 1.37, 0.685, 0.358665, 0.227765, Anticlockwise, "with"},
		{Breaker{CamRatio: 0.5, Cam: Anticlockwise, Gap: 0.35, PlateRadius: 30, Sets: 1}, -1.37, -0.685, -0.358665, -0.489565, Clockwise, "against"},
	} {
		a := advise(t, tc.b, found("only", tc.err, 0.5, OutOfTolerance))
		m := a.Moves[0]
		assert.Equal(t, MovePlate, m.Action)
		assert.Equal(t, BreakerPlate, m.Plate)
		assert.Equal(t, tc.sense, m.Sense)
		assert.InDelta(t, tc.turn, float64(m.Turn), 1e-12, "rounding only")
		assert.InDelta(t, tc.rim, float64(*m.Rim), 1e-6, "six digits, by hand")
		assert.InDelta(t, tc.lo, float64(m.RimInterval[0]), 1e-6, "six digits, by hand")
		assert.Contains(t, a.Lines()[1], fmt.Sprintf("° %s seen from the plate's side, %s the cam's rotation", tc.sense, tc.with))
		assert.Empty(t, a.Caveats)
	}
}

// opening turns a crank with a cam and finds by search where its lobe lifts the heel: plane geometry, angles anticlockwise
// from the plate's side, without the formula of the advice. It returns degrees before top dead centre. plate is how far the
// plate has been turned with the cam's rotation.
func opening(b Breaker, rest, plate Angle) Angle {
	sense := 1.0
	if b.Cam == Clockwise {
		sense = -1
	}
	heel := (rest.Radians() + plate.Radians()) * sense
	lifts := func(pastTDC float64) bool {
		cam := sense * b.CamRatio * pastTDC * math.Pi / 180
		// The ramp is a straight line in the cam that the heel meets where it lies on the leading side of that line.
		leading := math.Sin(cam-heel) * sense
		return leading >= 0
	}
	lo, hi := -80.0, 80.0
	for range 100 {
		if mid := (lo + hi) / 2; lifts(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return Angle(-hi)
}

// What is advised, done to a breaker, takes the error away, whichever way the cam turns and however fast.
func TestAdviceTakesTheErrorAway(t *testing.T) {
	c := crank(t, 54, 110, 0)
	for _, cam := range []Rotation{Clockwise, Anticlockwise} {
		for _, ratio := range []float64{1, 0.5} {
			for _, rest := range []Angle{-23, -15.5, -9} { // where the heel stands past the cam's place at top dead centre
				b := Breaker{CamRatio: ratio, Cam: cam, Gap: 0.35, PlateRadius: 30, Sets: 1}
				const mark Angle = 20
				off := opening(b, rest, 0) - mark
				a, err := b.Advise(c, mark, []Measured{found("only", off, 0.1, OutOfTolerance)})
				require.NoError(t, err)
				m := a.Moves[0]
				// As a mechanic does it: so far at the rim, in the sense that was said.
				turned := Angle(math.Abs(float64(*m.Rim)) / 30 * 180 / math.Pi)
				if m.Sense != cam {
					turned = -turned
				}
				require.Greater(t, math.Abs(float64(off)), 1.0, "there is something to take away")
				assert.InDelta(t, float64(mark), float64(opening(b, rest, turned)), 1e-9, "the search ends at 1e-13°; %s %g %g", cam, ratio, rest)
				// The other way round the error doubles.
				assert.InDelta(t, float64(mark+2*off), float64(opening(b, rest, -turned)), 1e-9)
			}
		}
	}
}

func TestPlatesAreLeftAlone(t *testing.T) {
	b := Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, Sets: 1}
	for _, tc := range []struct {
		measured Measured
		action   Action
		want     string
	}{
		{found("only", 0.3, 0.2, InTolerance), LeavePlate, "leave the breaker plate alone, the timing is in tolerance"},
		{found("only", 0.3, 0.5, CannotTell), MeasureAgain, "leave the breaker plate alone for now, whether the points open too early or too late " +
			"cannot be told (0.20° too late to 0.80° too early, in degrees of crank); measure again"},
		{found("only", 0.5, 0.5, CannotTell), MeasureAgain, "(less than 0.01° too early to 1.0° too early"},
		{found("only", 0, 0, OutOfTolerance), MeasureAgain, "alone for now"},
		{Measured{Cylinder: "only"}, NotMeasured, "leave the breaker plate alone until there is a measurement of cylinder only"},
	} {
		a := advise(t, b, tc.measured)
		assert.Equal(t, tc.action, a.Moves[0].Action)
		assert.Empty(t, a.Moves[0].Sense)
		lines := a.Lines()
		require.Len(t, lines, 1, "no word of the gap where nothing moves")
		assert.Contains(t, lines[0], tc.want)
	}
}

func TestBasePlateFirstThenTheOthers(t *testing.T) {
	b := twinBreaker()
	a := advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), found("right", 0.8, 0.3, OutOfTolerance))
	assert.Equal(t, []Plate{BasePlate, OwnPlate}, []Plate{a.Moves[0].Plate, a.Moves[1].Plate})
	// The base plate has made the second set later by 1.4°: 0.6° late is left, with the interval of the second alone.
	second := a.Moves[1]
	assert.InDelta(t, -0.6, float64(second.Crank), 1e-12, "rounding only, here and below")
	assert.InDelta(t, -0.9, float64(second.CrankInterval[0]), 1e-12)
	assert.InDelta(t, -0.3, float64(second.CrankInterval[1]), 1e-12)
	assert.Equal(t, Anticlockwise, second.Sense)
	assert.Equal(t, []string{
		"first the gap, 0.35 mm at full lift: 0.05 mm more of it opens the points about 1° to 3° of crank earlier (0.20 mm to 0.64 mm of travel), " +
			"as much less of it as much later; after a change measure again before any plate is moved, and never correct the timing by the gap",
		"base plate first, for the first set (cylinder left), because it moves both sets of points: move it 1.4° clockwise seen from the plate's side, with the cam's rotation: " +
			"0.73 mm at its rim, 30 mm from the centre; 95 % interval 1.0° to 1.8°, 0.52 mm to 0.94 mm",
		"then the second set (cylinder right) on its own, with the base plate moved so far: move it 0.60° anticlockwise seen from the plate's side, " +
			"against the cam's rotation: 0.31 mm of arc, 30 mm from the cam's centre; 95 % interval 0.30° to 0.90°, 0.16 mm to 0.47 mm",
		"then check the first set (cylinder left) again",
		"tightening moves the setting: measure again, as left",
	}, a.Lines())

	// A second set in tolerance goes out of it with the base plate.
	a = advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), found("right", 0.1, 0.3, InTolerance))
	assert.Equal(t, MovePlate, a.Moves[1].Action)
	assert.InDelta(t, -1.3, float64(a.Moves[1].Crank), 1e-12)
	// One that is as far out as the first comes right with it.
	a = advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), found("right", 1.3, 0.3, OutOfTolerance))
	assert.Equal(t, MeasureAgain, a.Moves[1].Action)
	assert.Contains(t, a.Lines()[2], "0.40° too late to 0.20° too early")
	// With the first set right, the second alone is moved.
	a = advise(t, b, found("left", 0.1, 0.3, InTolerance), found("right", -1.3, 0.3, OutOfTolerance))
	assert.Equal(t, LeavePlate, a.Moves[0].Action)
	assert.InDelta(t, -1.3, float64(a.Moves[1].Crank), 1e-12)
	assert.Contains(t, a.Lines()[1], "for the first set (cylinder left), because it moves both sets of points: leave it alone, the timing is in tolerance")
	assert.Contains(t, a.Lines()[2], "then the second set (cylinder right) on its own: move it 1.3° anticlockwise")
	// With the first not measured as well, and it is said.
	a = advise(t, b, Measured{Cylinder: "left"}, found("right", -1.3, 0.3, OutOfTolerance))
	assert.Equal(t, NotMeasured, a.Moves[0].Action)
	assert.InDelta(t, -1.3, float64(a.Moves[1].Crank), 1e-12)
	assert.Contains(t, a.Lines()[1], "leave it alone until there is a measurement of cylinder left")

	b.Sets = 3
	a = advise(t, b, found("a", 1, 0.1, OutOfTolerance), found("b", 1.5, 0.1, OutOfTolerance), found("c", 2, 0.1, OutOfTolerance))
	assert.Contains(t, a.Lines()[1], "all sets of points")
	assert.Contains(t, a.Lines()[3], "then the next set (cylinder c)")
	assert.InDelta(t, 0.5, float64(a.Moves[1].Crank), 1e-12)
	assert.InDelta(t, 1, float64(a.Moves[2].Crank), 1e-12, "only the base plate moves the others' points")
}

// With one set of points for all, the plate halves the difference between the cylinders and cannot take it out.
func TestSharedPoints(t *testing.T) {
	b := twinBreaker()
	b.Sets = 1
	a := advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), found("right", 0.6, 0.2, OutOfTolerance))
	assert.InDelta(t, 1, float64(a.Moves[0].Crank), 1e-12, "rounding only, here and below")
	assert.InDelta(t, 0.7, float64(a.Moves[0].CrankInterval[0]), 1e-12)
	assert.Equal(t, []string{"left", "right"}, a.Moves[0].Cylinders)
	require.Len(t, a.Caveats, 1)
	assert.Equal(t, "shared_points", a.Caveats[0].Code)
	assert.Contains(t, a.Caveats[0].Message, "cylinders left and right open the same points, so their difference of 0.80° of crank stays")
	// With one of them measured the advice rests on it, and it is said.
	a = advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), Measured{Cylinder: "right"})
	assert.InDelta(t, 1.4, float64(a.Moves[0].Crank), 1e-12)
	require.Len(t, a.Caveats, 1)
	assert.Contains(t, a.Caveats[0].Message, "cylinder right is not measured")
	// One that is out is reason enough to move.
	a = advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), found("right", 0.2, 0.2, InTolerance))
	assert.Equal(t, MovePlate, a.Moves[0].Action)
	// Late and early alike: the middle is right as it is.
	a = advise(t, b, found("left", 1.4, 0.4, OutOfTolerance), found("right", -1.4, 0.4, OutOfTolerance))
	assert.Equal(t, MeasureAgain, a.Moves[0].Action)

	// Four cylinders, two sets in turn.
	b.Sets = 2
	a = advise(t, b, found("1", 1, 0.1, OutOfTolerance), found("2", 3, 0.1, OutOfTolerance), found("4", 1.2, 0.1, OutOfTolerance), found("3", 3.4, 0.1, OutOfTolerance))
	assert.Equal(t, []string{"1", "4"}, a.Moves[0].Cylinders)
	assert.Equal(t, []string{"2", "3"}, a.Moves[1].Cylinders)
	assert.InDelta(t, 1.1, float64(a.Moves[0].Crank), 1e-12)
	assert.InDelta(t, 3.2-1.1, float64(a.Moves[1].Crank), 1e-12)
	assert.Len(t, a.Caveats, 2)
	assert.Contains(t, a.Lines()[2], "(cylinders 2 and 3)")
}

// A wider gap opens earlier, 0.05 mm by 1 to 3 degrees of cam (common practice): twice that at the crank of a half-speed cam.
// Travels at 20° and 23°, and 30°, computed independently with mpmath.
func TestGapEffect(t *testing.T) {
	b := twinBreaker()
	g := advise(t, b, found("left", 1, 0.1, OutOfTolerance), Measured{Cylinder: "right"}).Gap
	assert.Equal(t, [2]Angle{1, 3}, g.Crank)
	assert.InDelta(t, 2.6534332210376-2.0166064340579, float64(g.Travel[1]), tableLength)
	b.CamRatio = 0.5
	c := crank(t, 54, 110, 0)
	a, err := b.Advise(c, 24, []Measured{found("left", 1, 0.1, OutOfTolerance), {Cylinder: "right"}})
	require.NoError(t, err)
	assert.Equal(t, [2]Angle{2, 6}, a.Gap.Crank)
	at, err := c.Travel(24)
	require.NoError(t, err)
	assert.InDelta(t, 4.4488662752006-float64(at), float64(a.Gap.Travel[1]), tableLength)
}

func TestALargeMoveIsDoubted(t *testing.T) {
	b := Breaker{CamRatio: 0.5, Cam: Clockwise, Gap: 0.35, Sets: 1}
	a := advise(t, b, found("only", 19, 0.5, OutOfTolerance))
	assert.Empty(t, a.Caveats, "9.5° of plate")
	a = advise(t, b, found("only", -21, 0.5, OutOfTolerance))
	require.Len(t, a.Caveats, 1)
	assert.Contains(t, a.Caveats[0].Message, "10.5° is further than most plates can be moved")
	assert.Contains(t, a.Lines()[1], "move the breaker plate 10.5° anticlockwise seen from the plate's side, against the cam's rotation; 95 % interval 10.2° to 10.8°")
}

func TestAdviseRefuses(t *testing.T) {
	c := crank(t, 54, 110, 0)
	ok := []Measured{found("left", 1, 0.1, OutOfTolerance), found("right", 1, 0.1, OutOfTolerance)}
	nan := Angle(math.NaN())
	for want, tc := range map[string]struct {
		change   func(b *Breaker)
		c        Crank
		mark     Angle
		measured []Measured
	}{
		"cam ratio, got 2, want 1":                       {func(b *Breaker) { b.CamRatio = 2 }, c, 20, ok},
		"cam ratio, got NaN":                             {func(b *Breaker) { b.CamRatio = math.NaN() }, c, 20, ok},
		`cam rotation, got "", want "clockwise"`:         {func(b *Breaker) { b.Cam = "" }, c, 20, ok},
		"gap, got 0 mm, want more than 0":                {func(b *Breaker) { b.Gap = 0 }, c, 20, ok},
		"plate radius, got -1 mm":                        {func(b *Breaker) { b.PlateRadius = -1 }, c, 20, ok},
		"plate radius, got NaN mm":                       {func(b *Breaker) { b.PlateRadius = Length(math.NaN()) }, c, 20, ok},
		"sets, got 0, want 1 or more":                    {func(b *Breaker) { b.Sets = 0 }, c, 20, ok},
		"cylinders, got 2, want as many for each of the": {func(b *Breaker) { b.Sets = 3 }, c, 20, ok},
		"cylinders, got 0":                               {func(*Breaker) {}, c, 20, nil},
		"crank, got none":                                {func(*Breaker) {}, Crank{}, 20, ok},
		"angle before top dead centre, got NaN°":         {func(*Breaker) {}, c, nan, ok},
		"error of cylinder left, got NaN°":               {func(*Breaker) {}, c, 20, []Measured{found("left", nan, 1, OutOfTolerance), ok[1]}},
		"error of cylinder left, got 1°, want a finite number with a finite interval": {func(*Breaker) {}, c, 20,
			[]Measured{found("left", 1, Angle(math.Inf(1)), OutOfTolerance), ok[1]}},
	} {
		b := twinBreaker()
		tc.change(&b)
		_, err := b.Advise(tc.c, tc.mark, tc.measured)
		assert.ErrorContains(t, err, want)
	}
}

// Whatever was measured, the advice can be printed as JSON, and its lines have no sign, no NaN and no size of zero.
func TestAdviceProperties(t *testing.T) {
	c := crank(t, 54, 110, 0)
	rapid.Check(t, func(t *rapid.T) {
		b := Breaker{
			CamRatio: rapid.SampledFrom([]float64{1, 0.5}).Draw(t, "ratio"), Cam: rapid.SampledFrom([]Rotation{Clockwise, Anticlockwise}).Draw(t, "cam"),
			Gap: 0.35, PlateRadius: Length(rapid.SampledFrom([]float64{0, 12, 30}).Draw(t, "radius")), Sets: rapid.IntRange(1, 4).Draw(t, "sets"),
		}
		var measured []Measured
		for i := range b.Sets * rapid.IntRange(1, 3).Draw(t, "lobes") {
			m := found(fmt.Sprint(i+1), Angle(rapid.Float64Range(-30, 30).Draw(t, "error")), Angle(rapid.Float64Range(0, 20).Draw(t, "half")),
				rapid.SampledFrom([]Verdict{CannotTell, InTolerance, OutOfTolerance}).Draw(t, "verdict"))
			if rapid.Bool().Draw(t, "unknown") {
				m = Measured{Cylinder: m.Cylinder}
			}
			measured = append(measured, m)
		}
		a, err := b.Advise(c, 20, measured)
		require.NoError(t, err)
		_, err = json.Marshal(a)
		require.NoError(t, err)
		text := strings.Join(a.Lines(), "\n")
		for _, bad := range []string{"NaN", "Inf", " 0.00", " -", "%!"} {
			assert.NotContains(t, text, bad)
		}
		for _, m := range a.Moves {
			assert.Equal(t, m.Action == MovePlate, m.Sense != "")
			assert.Equal(t, m.Action == MovePlate && m.Turn > 0, m.Sense == b.Cam)
			assert.True(t, m.TurnInterval[0] <= m.Turn && m.Turn <= m.TurnInterval[1])
		}
	})
}

// Where nothing is proven out of tolerance the plate may be right as it is.
func TestUnprovenMoveSaysSo(t *testing.T) {
	a := advise(t, Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, Sets: 1}, found("only", 0.4, 0.3, CannotTell))
	assert.Equal(t, MovePlate, a.Moves[0].Action)
	assert.True(t, a.Moves[0].Unproven)
	assert.Contains(t, a.Lines()[1], "or leave it, for the timing may be in tolerance as it is")
	a = advise(t, Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, Sets: 1}, found("only", 1.4, 0.3, OutOfTolerance))
	assert.False(t, a.Moves[0].Unproven)
	assert.NotContains(t, a.Lines()[1], "or leave it")
	// The second set's points are moved with the base plate, whatever they were.
	a = advise(t, twinBreaker(), found("left", 1.4, 0.3, OutOfTolerance), found("right", 0.2, 0.3, CannotTell))
	assert.False(t, a.Moves[1].Unproven)
}

func TestMoveInAFewWords(t *testing.T) {
	a := advise(t, twinBreaker(), found("left", 1.37, 0.3, OutOfTolerance), found("right", 0.1, 0.3, InTolerance))
	assert.Equal(t, "move the base plate 1.4° clockwise", a.Moves[0].Brief())
	assert.Equal(t, "move its own plate 1.3° anticlockwise", a.Moves[1].Brief(), "the base plate has taken it along")
	a = advise(t, Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, Sets: 1}, found("only", -0.5, 0.3, OutOfTolerance))
	assert.Equal(t, "move the breaker plate 0.50° anticlockwise", a.Moves[0].Brief())
	a = advise(t, Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, Sets: 1}, found("only", 0.05, 0.3, InTolerance))
	assert.Empty(t, a.Moves[0].Brief())
}
