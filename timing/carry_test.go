package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Where the crank is nearly straight an uncertainty is carried by the slope (JCGM 100:2008, 5.1.2). Slopes at 2 and 2.5 mm
// were computed independently with mpmath.
func TestCarryBySlope(t *testing.T) {
	c := crank(t, 54, 110, 0)
	for travel, slope := range map[Length]float64{2: 0.1977003717, 2.5: 0.2197033348} {
		got, err := c.CarryTravel(travel, 0.02, BTDC, CrankU{})
		require.NoError(t, err)
		assert.InEpsilon(t, 0.02/slope, float64(got.U), 1e-4, "the bend of the curve adds (u/travel)², a part in 10⁴")
		b, err := c.Angle(travel, BTDC)
		require.NoError(t, err)
		assert.InDelta(t, float64(b)-1.96*0.02/slope, float64(got.Interval[0]), 1e-3, "the bend again")
		assert.InDelta(t, float64(b)+1.96*0.02/slope, float64(got.Interval[1]), 1e-3)
		back, err := c.CarryAngle(b, got.U, CrankU{})
		require.NoError(t, err)
		assert.InEpsilon(t, 0.02, float64(back.U), 1e-4, "there and back")
	}
	// The ends of the interval go through the exact crank: angles at 2 mm and at 2.5 mm, computed independently with mpmath.
	got, err := c.CarryTravel(2, 0.5/1.959963984540054, BTDC, CrankU{})
	require.NoError(t, err)
	assert.InDelta(t, 22.3113937469248, float64(got.Interval[1]), tableAngle)
	offset := crank(t, 54, 110, 1.5)
	after, err := offset.CarryTravel(2, 0, ATDC, CrankU{})
	require.NoError(t, err)
	assert.Zero(t, after.U)
	assert.InDelta(t, 19.9248456182476, float64(after.Interval[0]), tableAngle)
	assert.Equal(t, after.Interval[0], after.Interval[1])
}

// At top dead centre the slope is zero. There travel = k b² and, with b normal about 0, E[b⁴] = 3 u⁴; for the way back
// E[max(s, 0)] = u/√(2π). Both are moments of the normal distribution.
func TestCarryAtTopDeadCentre(t *testing.T) {
	c := crank(t, 54, 110, 0)
	k := 27 * (1 + 27.0/110) / 2 * math.Pow(math.Pi/180, 2) // mm per degree², for small angles
	got, err := c.CarryAngle(0, 0.5, CrankU{})
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt(3)*k*0.25, float64(got.U), 1e-3, "travel is k b² to 1e-4 at 2°")
	assert.Zero(t, got.Interval[0])
	assert.InEpsilon(t, k*math.Pow(1.96*0.5, 2), float64(got.Interval[1]), 1e-3)

	back, err := c.CarryTravel(0, 0.01, BTDC, CrankU{})
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt(0.01/math.Sqrt(2*math.Pi)/k), float64(back.U), 1e-3)
	assert.Zero(t, back.Interval[0])
	assert.InEpsilon(t, math.Sqrt(1.96*0.01/k), float64(back.Interval[1]), 1e-3)

	// A little before it, the interval still begins at the top.
	near, err := c.CarryAngle(0.3, 0.5, CrankU{})
	require.NoError(t, err)
	assert.Zero(t, near.Interval[0])
	assert.InEpsilon(t, k*math.Pow(0.3+1.96*0.5, 2), float64(near.Interval[1]), 1e-3)
	// E[(k b² - k b0²)²] = k² (4 b0² u² + 3 u⁴) with b normal about b0.
	assert.InEpsilon(t, k*math.Sqrt(4*0.09*0.25+3*0.0625), float64(near.U), 1e-3)
}

// The derivatives of travel = r + l - r cos b - sqrt(l² - r² sin² b), by hand: by l it is 1 - l/sqrt(…), by r
// 1 - cos b + r sin² b/sqrt(…), and the stroke is 2r.
func TestCarryTheCrank(t *testing.T) {
	c := crank(t, 54, 110, 0)
	sin, cos := math.Sincos(20 * math.Pi / 180)
	root := math.Sqrt(110*110 - 27*27*sin*sin)
	byRod, byStroke := math.Abs(1-110/root), (1-cos+27*sin*sin/root)/2
	got, err := c.CarryAngle(20, 0, CrankU{Stroke: 0.2, Rod: 0.5})
	require.NoError(t, err)
	require.Len(t, got.Parts, 3)
	assert.Equal(t, Part[Length]{"value", 0}, got.Parts[0])
	assert.Equal(t, "stroke", got.Parts[1].Name)
	assert.InEpsilon(t, 0.2*byStroke, float64(got.Parts[1].U), 1e-4, "travel is nearly straight in the stroke, and in the rod to (u/rod)²")
	assert.InEpsilon(t, 0.5*byRod, float64(got.Parts[2].U), 1e-3)
	assert.InDelta(t, math.Hypot(float64(got.Parts[1].U), float64(got.Parts[2].U)), float64(got.U), 1e-15, "rounding only")
	slope, err := c.Slope(20)
	require.NoError(t, err)
	s, err := c.Travel(20)
	require.NoError(t, err)
	assert.InEpsilon(t, 1.959963985*float64(got.U), float64(s-got.Interval[0]), 3e-3, "the distances add as squares; the rod bends a little")
	assert.InEpsilon(t, 1.959963985*float64(got.U), float64(got.Interval[1]-s), 3e-3)
	back, err := c.CarryTravel(s, 0, BTDC, CrankU{Stroke: 0.2, Rod: 0.5, PinOffset: 0.1})
	require.NoError(t, err)
	assert.InEpsilon(t, 0.5*byRod/slope, float64(back.Parts[2].U), 1e-3, "as before")
	require.Len(t, back.Parts, 4)
	assert.Equal(t, "pin offset", back.Parts[3].Name)
	assert.Positive(t, back.Parts[3].U)
}

func TestCarryRefuses(t *testing.T) {
	c := crank(t, 54, 110, 0)
	nan := math.NaN()
	for want, tc := range map[string]struct {
		u  Length
		cu CrankU
	}{
		"uncertainty of the value, got -1, want a finite number, 0 or more":      {-1, CrankU{}},
		"uncertainty of the value, got NaN":                                      {Length(nan), CrankU{}},
		"uncertainty of the value, got +Inf":                                     {Length(math.Inf(1)), CrankU{}},
		"uncertainty of the rod, got -0.5":                                       {0, CrankU{Rod: -0.5}},
		"uncertainty of the stroke, got NaN":                                     {0, CrankU{Stroke: Length(nan)}},
		"uncertainty of the rod, got 20 mm, want so little that the crank turns": {0, CrankU{Rod: 20}},
		"uncertainty of the pin offset, got 100 mm, want so little":              {0, CrankU{PinOffset: 100}},
		"uncertainty of the stroke, got 10 mm, want so little":                   {0, CrankU{Stroke: 10}},
	} {
		_, err := c.CarryTravel(2, tc.u, BTDC, tc.cu)
		assert.ErrorContains(t, err, want)
		_, err = c.CarryAngle(20, Angle(tc.u), tc.cu)
		assert.ErrorContains(t, err, want)
	}
	_, err := c.CarryTravel(55, 0.1, BTDC, CrankU{})
	assert.ErrorContains(t, err, "travel, got 55 mm, want 0..54.0000 mm")
	_, err = c.CarryAngle(Angle(nan), 0.1, CrankU{})
	assert.ErrorContains(t, err, "got NaN°")
	_, err = Crank{}.CarryAngle(1, 0.1, CrankU{})
	assert.ErrorContains(t, err, "want stroke and rod length")
}

// Everywhere, the dead centres included, what comes out is finite, holds the value and stays where the piston can be.
func TestCarryProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := Length(rapid.SampledFrom([]float64{0, 1.5, -3}).Draw(t, "offset"))
		c, err := NewCrank(54, 110, e)
		require.NoError(t, err)
		cu := CrankU{Rod: Length(rapid.SampledFrom([]float64{0, 0.5}).Draw(t, "rod")), PinOffset: Length(rapid.SampledFrom([]float64{0, 0.2}).Draw(t, "u(offset)"))}
		before, after := c.Limits()
		b := Angle(rapid.OneOf(rapid.Just(0.0), rapid.Just(float64(before)), rapid.Just(-float64(after)), rapid.Float64Range(-float64(after), float64(before))).Draw(t, "b"))
		travel, err := c.CarryAngle(b, Angle(rapid.Float64Range(0, 200).Draw(t, "u(b)")), cu)
		require.NoError(t, err)
		s, err := c.Travel(b)
		require.NoError(t, err)
		assert.True(t, 0 <= travel.Interval[0] && travel.Interval[0] <= s && s <= travel.Interval[1] && travel.Interval[1] <= c.TrueStroke(), "%v %v", s, travel)
		assert.True(t, travel.U >= 0 && travel.U <= c.TrueStroke(), "%v", travel)
		side := rapid.SampledFrom([]Side{BTDC, ATDC}).Draw(t, "side")
		angle, err := c.CarryTravel(s, Length(rapid.Float64Range(0, 200).Draw(t, "u(s)")), side, cu)
		require.NoError(t, err)
		at, err := c.Angle(s, side)
		require.NoError(t, err)
		assert.True(t, 0 <= angle.Interval[0] && angle.Interval[0] <= at && at <= angle.Interval[1] && angle.Interval[1] <= 360, "%v %v", at, angle)
		assert.True(t, angle.U >= 0 && angle.U <= 360, "%v", angle)
	})
}

func TestParseUncertain(t *testing.T) {
	for text, want := range map[string][2]Quantity{
		"2mm":          {{2, Millimetre}, {0, Millimetre}},
		"2mm±0.02mm":   {{2, Millimetre}, {0.02, Millimetre}},
		"2 ± 0,02 mm":  {{2, Millimetre}, {0.02, Millimetre}},
		"2mm±0.02":     {{2, Millimetre}, {0.02, Millimetre}},
		"20deg+-0.1":   {{20, Degree}, {0.1, Degree}},
		"-20°+/-0.1°":  {{-20, Degree}, {0.1, Degree}},
		"110±0.5":      {{110, NoUnit}, {0.5, NoUnit}},
		"2.54mm±1thou": {{2.54, Millimetre}, {0.0254, Millimetre}},
		"1in±0.0254mm": {{1, Inch}, {0.001, Inch}},
		"2mm±0":        {{2, Millimetre}, {0, Millimetre}},
	} {
		q, u, err := ParseUncertain(text)
		require.NoError(t, err, text)
		assert.Equal(t, want[0], q, text)
		assert.Equal(t, want[1].Unit, u.Unit, text)
		assert.InDelta(t, want[1].Value, u.Value, 1e-15, text) // rounding only
	}
	for text, want := range map[string]string{
		"":              "empty",
		"±0.1mm":        "empty",
		"2mm±":          "after ±: timing: number, got \"\"",
		"2mm±0.1±0.2":   "after ±: timing: number, got \"0.1±0.2\" (more than one number)",
		"2mm±-0.1mm":    "uncertainty, got -0.1 mm, want 0 or more",
		"2mm±0.1deg":    "uncertainty, got 0.1° for 2 mm, want both in degrees, or both in mm, in or thou",
		"20deg±0.02mm":  "uncertainty, got 0.02 mm for 20°",
		"2mm±nan":       "after ±",
		"2mm+-0.1+-0.1": "more than one number",
	} {
		_, _, err := ParseUncertain(text)
		assert.ErrorContains(t, err, want, text)
	}
}

func FuzzParseUncertain(f *testing.F) {
	for _, s := range []string{"2mm±0.02mm", "110+-0.5", "20° +/- 0,1", "±", "2±±3", "1in±1e9mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if q, u, err := ParseUncertain(s); err == nil {
			assert.True(t, finite(q.Value) && finite(u.Value) && u.Value >= 0 && u.Unit == q.Unit, "%v %v", q, u)
		}
	})
}
