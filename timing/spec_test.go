package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTarget(t *testing.T) {
	c := crank(t, 54, 110, 0)
	// 2 mm ↔ 19.9161672822138° and the travels at 19° and 21°: computed independently with mpmath (19° and 21° with the crank
	// itself, whose table is tested elsewhere).
	at := func(b Angle) Length { s, err := c.Travel(b); require.NoError(t, err); return s }
	for _, tc := range []struct {
		spec      Spec
		travel    Length
		angle     Angle
		low, high Length
	}{
		{Spec{Value: Quantity{2, Millimetre}, Tolerance: Quantity{0.1, Millimetre}}, 2, 19.9161672822138, -0.1, 0.1},
		{Spec{Value: Quantity{20, Degree}, Tolerance: Quantity{1, Degree}}, 2.0166064340579, 20, at(19) - 2.0166064340579, at(21) - 2.0166064340579},
		{Spec{Value: Quantity{20, Degree}, Tolerance: Quantity{4, Thou}}, 2.0166064340579, 20, -0.1016, 0.1016},
		{Spec{Value: Quantity{0.0787401574803149606, Inch}, Tolerance: Quantity{1, Degree}}, 2, 19.9161672822138, at(18.9161672822138) - 2, at(20.9161672822138) - 2},
		{Spec{Value: Quantity{78.7401574803149606, Thou}, Tolerance: Quantity{0.1, Millimetre}}, 2, 19.9161672822138, -0.1, 0.1},
	} {
		got, err := tc.spec.Target(c)
		require.NoError(t, err)
		assert.True(t, got.HasAngle)
		assert.InDelta(t, float64(tc.travel), float64(got.Travel), tableLength, "%v", tc.spec)
		assert.InDelta(t, float64(tc.angle), float64(got.Angle), tableAngle, "%v", tc.spec)
		assert.InDelta(t, float64(tc.low), float64(got.Low), 2*tableLength, "%v", tc.spec)
		assert.InDelta(t, float64(tc.high), float64(got.High), 2*tableLength, "%v", tc.spec)
	}
}

// A spread is a full difference: half on each side of the mark.
func TestSpread(t *testing.T) {
	c := crank(t, 54, 110, 0)
	spec := Spec{Value: Quantity{20, Degree}, Tolerance: Quantity{1, Degree}}
	got, err := spec.Target(c)
	require.NoError(t, err)
	assert.Zero(t, got.Spread, "none is specified")
	for _, tc := range []struct {
		spread Quantity
		want   float64
	}{
		{Quantity{0.05, Millimetre}, 0.05},
		{Quantity{2, Thou}, 0.0508},
		// 10° on each side: travels at 30° and 10°, computed independently with mpmath.
		{Quantity{19.999999999999, Degree}, 4.4488662752006 - 0.51015445267788},
	} {
		spec.Spread = tc.spread
		got, err := spec.Target(c)
		require.NoError(t, err)
		assert.InDelta(t, tc.want, float64(got.Spread), 1e-9, "%v", tc.spread) // 1e-12° short of 20°, and the table's digits
	}
	spec.Spread = Quantity{0.05, Millimetre}
	spec.Value, spec.Tolerance = Quantity{2, Millimetre}, Quantity{0.1, Millimetre}
	got, err = spec.Target(Crank{})
	require.NoError(t, err)
	assert.InDelta(t, 0.05, float64(got.Spread), 1e-12, "rounding only")
	for want, q := range map[string]Quantity{
		"spread, got 1° without a crank, want stroke and rod length": {1, Degree},
		"spread, got 0.05, want a unit":                              {0.05, NoUnit},
		"spread, got 0 mm, want more than 0":                         {0, Millimetre},
		"spread, got -1 thou, want more than 0":                      {-1, Thou},
		"spread, got 2 mm, want less than the timing itself, 2 mm":   {2, Millimetre},
		"spread, got NaN mm, want a finite number":                   {math.NaN(), Millimetre},
	} {
		spec.Spread = q
		_, err := spec.Target(Crank{})
		assert.ErrorContains(t, err, want)
	}
}

func TestTargetWithoutCrank(t *testing.T) {
	got, err := Spec{Value: Quantity{2, Millimetre}, Tolerance: Quantity{0.1, Millimetre}}.Target(Crank{})
	require.NoError(t, err)
	assert.False(t, got.HasAngle)
	assert.Equal(t, Length(2), got.Travel)
	_, err = Spec{Value: Quantity{20, Degree}, Tolerance: Quantity{1, Degree}}.Target(Crank{})
	assert.ErrorContains(t, err, "timing, got 20° without a crank, want stroke and rod length")
	_, err = Spec{Value: Quantity{2, Millimetre}, Tolerance: Quantity{1, Degree}}.Target(Crank{})
	assert.ErrorContains(t, err, "tolerance, got 1° without a crank")
}

func TestSpecRefuses(t *testing.T) {
	c := crank(t, 54, 110, 0)
	ok, nan := Quantity{0.1, Millimetre}, math.NaN()
	for _, tc := range []struct {
		value, tolerance Quantity
		why              string
	}{
		{Quantity{2, NoUnit}, ok, "timing, got 2, want a unit"},
		{Quantity{2, Millimetre}, Quantity{1, NoUnit}, "tolerance, got 1, want a unit"},
		{Quantity{0, Millimetre}, ok, "want more than 0 before top dead centre"},
		{Quantity{0, Degree}, ok, "want more than 0 before top dead centre"},
		{Quantity{-2, Millimetre}, ok, "want more than 0 before top dead centre"},
		{Quantity{-2, Degree}, ok, "want more than 0"},
		{Quantity{91, Degree}, ok, "at most 90°"},
		{Quantity{40, Millimetre}, ok, "at most 30.37 mm"},
		{Quantity{nan, Millimetre}, ok, "finite"},
		{Quantity{nan, Degree}, ok, "finite"},
		{Quantity{2, Millimetre}, Quantity{0, Millimetre}, "tolerance, got 0 mm, want more than 0"},
		{Quantity{2, Millimetre}, Quantity{-0.1, Millimetre}, "tolerance, got -0.1 mm, want more than 0"},
		{Quantity{2, Millimetre}, Quantity{-1, Degree}, "tolerance, got -1°, want more than 0, at most 90°"},
		{Quantity{2, Millimetre}, Quantity{math.Inf(1), Millimetre}, "finite"},
		{Quantity{2, Millimetre}, Quantity{2, Millimetre}, "less than the timing itself"},
		{Quantity{2, Millimetre}, Quantity{25, Degree}, "less than the timing itself, 19.92°"},
		{Quantity{20, Degree}, Quantity{3, Millimetre}, "less than the timing itself, 2.017 mm"},
		{Quantity{85, Degree}, Quantity{100, Degree}, "at most 90°"},
	} {
		_, err := Spec{Value: tc.value, Tolerance: tc.tolerance}.Target(c)
		assert.ErrorContains(t, err, tc.why, "%v ± %v", tc.value, tc.tolerance)
	}
	_, err := Spec{Value: Quantity{300, Millimetre}, Tolerance: ok}.Target(Crank{})
	assert.ErrorContains(t, err, "at most 200.00 mm")
}

func TestWords(t *testing.T) {
	for err, want := range map[Length]string{
		0.12:    "0.12 mm too early (opens too far before TDC)",
		-0.05:   "0.05 mm too late (opens too near TDC)",
		0.0049:  "0.00 mm: neither early nor late",
		-0.0049: "0.00 mm: neither early nor late",
		0.0051:  "0.01 mm too early (opens too far before TDC)",
		-0.0051: "0.01 mm too late (opens too near TDC)",
	} {
		assert.Equal(t, want, Words(err), "%g", err)
	}
	assert.Equal(t, "early", WhenOf(1).String())
	assert.Equal(t, "late", WhenOf(-1).String())
	assert.Equal(t, "on_mark", WhenOf(0).String())
}
