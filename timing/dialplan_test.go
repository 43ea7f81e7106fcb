package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func planOf(t require.TestingT, change func(*Dial), value, tolerance Quantity) ([]Station, error) {
	crank, err := NewCrank(54, 110, 0)
	require.NoError(t, err)
	d := NewDial(10)
	change(&d)
	s, err := NewSetup(crank, d, Spec{Value: value, Tolerance: tolerance})
	require.NoError(t, err)
	return s.DialPlan()
}

// 2 mm ↔ 19.9161672822138° with 2r 54, l 110: computed independently with mpmath.
func TestDialPlan(t *testing.T) {
	two, tenth := Quantity{2, Millimetre}, Quantity{0.1, Millimetre}
	plan, err := planOf(t, func(d *Dial) { d.Counting, d.CounterAtZero = CountsIn, 5 }, two, tenth)
	require.NoError(t, err)
	require.Len(t, plan, 5)
	assert.InDelta(t, 19.9161672822138, float64(plan[AtMark].Angle), 1e-9)
	assert.Equal(t, "3+00", plan[AtMark].Face.String())
	assert.Equal(t, "2+90", plan[EarlyEnd].Face.String())
	assert.Equal(t, "3+10", plan[LateEnd].Face.String())
	assert.Equal(t, "5+00", plan[AtTDC].Face.String())
	assert.InDelta(t, 5, float64(plan[Start].Angle-plan[EarlyEnd].Angle), 1e-9)
	// 20° and 21° ↔ 2.0166064340579 mm and, for the end of the tolerance, 1° more: in degrees as specified.
	plan, err = planOf(t, func(*Dial) {}, Quantity{20, Degree}, Quantity{1, Degree})
	require.NoError(t, err)
	assert.InDelta(t, 2.0166064340579, float64(plan[AtMark].Travel), 1e-12)
	assert.InDelta(t, 21, float64(plan[EarlyEnd].Angle), 1e-9)
	assert.InDelta(t, 19, float64(plan[LateEnd].Angle), 1e-9)
	for i, p := range []string{"start", "early_end", "mark", "late_end", "tdc"} {
		assert.Equal(t, p, Place(i).String())
	}
}

func TestDialPlanNeedsPreload(t *testing.T) {
	two, tenth := Quantity{2, Millimetre}, Quantity{0.1, Millimetre}
	_, err := planOf(t, func(d *Dial) { d.Preload = 2.05 }, two, tenth)
	assert.ErrorContains(t, err, "timing: the dial does not follow to the start of an approach")
	assert.ErrorContains(t, err, "pressed in 2.05 mm at top dead centre); press it in by at least 2.53 mm at top dead centre")
	plan, err := planOf(t, func(d *Dial) { d.Preload = 2.6 }, two, tenth)
	require.NoError(t, err)
	assert.InDelta(t, 2.6, float64(plan[Start].Movement), 1e-9, "a shorter approach, as far as it goes")
	plan, err = planOf(t, func(d *Dial) { d.PlungerAngle, d.Preload = 30, 3 }, two, tenth)
	require.NoError(t, err)
	assert.InDelta(t, 3, float64(plan[Start].Movement), 1e-9)
	assert.InDelta(t, 3*0.866025404, float64(plan[Start].Travel), 1e-8, "nine digits of cos 30°: the plunger moves farther than the piston")
	plan, err = planOf(t, func(d *Dial) { d.Range = 3 }, two, tenth)
	require.NoError(t, err)
	assert.InDelta(t, 2.8, float64(plan[Start].Movement), 1e-9, "and no stop at top dead centre")
	crank, err := NewCrank(54, 110, 0)
	require.NoError(t, err)
	d := NewDial(10)
	d.Preload = 1.5
	_, err = NewSetup(crank, d, Spec{Value: two, Tolerance: tenth})
	assert.ErrorContains(t, err, "the dial cannot show the mark: timing: travel, got 2 mm, want 0..1.500 mm (what the dial can follow, "+
		"pressed in 1.5 mm at top dead centre); press it in by at least 2.53 mm at top dead centre", "enough for the approach too")
}

// Whatever the dial and the specification: the places come in their order, or there is an error.
func TestDialPlanOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(0.2, 9).Draw(t, "value")
		tolerance := value * rapid.Float64Range(0.01, 0.9).Draw(t, "tolerance")
		plan, err := planOf(t, func(d *Dial) {
			d.Range = 20
			d.PlungerAngle = Angle(rapid.Float64Range(0, 30).Draw(t, "alpha"))
			d.Preload = Length(rapid.SampledFrom([]float64{0, 12, 20}).Draw(t, "preload"))
			d.Zero = Zero(rapid.IntRange(0, 1).Draw(t, "zero"))
		}, Quantity{value, Millimetre}, Quantity{tolerance, Millimetre})
		if err != nil {
			assert.ErrorContains(t, err, "does not follow")
			return
		}
		for i := range plan[1:] {
			assert.Greater(t, plan[i].Travel, plan[i+1].Travel)
			assert.Greater(t, plan[i].Reading, plan[i+1].Reading)
			assert.Greater(t, plan[i].Angle, plan[i+1].Angle)
		}
	})
}
