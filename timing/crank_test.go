package timing

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The tables are printed to 14 digits; the exact form must agree to these.
const (
	tableLength = 1e-10 // mm
	tableAngle  = 1e-9  // degrees
)

func crank(t testing.TB, stroke, rod, offset Length) Crank {
	c, err := NewCrank(stroke, rod, offset)
	require.NoError(t, err)
	return c
}

// Computed independently with mpmath.
func TestTravelTable(t *testing.T) {
	angles := []Angle{1, 5, 10, 20, 23, 30, 90}
	for _, tc := range []struct {
		stroke, rod, offset Length
		travel              []Length
	}{
		{54, 110, 0, []Length{0.0051215242784046, 0.12791682307191, 0.51015445267788, 2.0166064340579, 2.6534332210376, 4.4488662752006, 30.365108899573}},
		{58, 105, 0, []Length{0.0056366439236575, 0.14077882935602, 0.56140303089964, 2.2184318959023, 2.9185600615814, 4.8912730792780, 33.084193507657}},
		{86, 143, 0, []Length{0.0085182841440564, 0.21274562150501, 0.84834433865533, 3.3514931614829, 4.4087435116540, 7.3864049856241, 49.618183030141}},
		{54, 110, 1.5, []Length{0.0051220715558615, 0.12795447903716, 0.51042360757261, 2.0185916662787, 2.6563986794703, 4.4551765399281, 30.451910160896}},
	} {
		c := crank(t, tc.stroke, tc.rod, tc.offset)
		for i, b := range angles {
			got, err := c.Travel(b)
			require.NoError(t, err)
			assert.InDelta(t, float64(tc.travel[i]), float64(got), tableLength, "%+v at %g°", c, b)
			back, err := c.Angle(tc.travel[i], BTDC)
			require.NoError(t, err)
			assert.InDelta(t, float64(b), float64(back), tableAngle, "%+v at %g mm", c, tc.travel[i])
		}
	}
}

// Computed independently with mpmath.
func TestInverseTable(t *testing.T) {
	straight, offset := crank(t, 54, 110, 0), crank(t, 54, 110, 1.5)
	for _, tc := range []struct {
		c      Crank
		travel Length
		side   Side
		want   Angle
	}{
		{straight, 2, BTDC, 19.9161672822138},
		{straight, 2.5, BTDC, 22.3113937469248},
		{straight, 2, ATDC, 19.9161672822138},
		{offset, 2, BTDC, 19.9062581963073},
		{offset, 2, ATDC, 19.9248456182476},
	} {
		got, err := tc.c.Angle(tc.travel, tc.side)
		require.NoError(t, err)
		assert.InDelta(t, float64(tc.want), float64(got), tableAngle, "%g mm, side %d, offset %g", tc.travel, tc.side, tc.c.e)
	}
	for travel, want := range map[Length]float64{2: 0.1977003717, 2.5: 0.2197033348} {
		b, err := straight.Angle(travel, BTDC)
		require.NoError(t, err)
		got, err := straight.Slope(b)
		require.NoError(t, err)
		assert.InDelta(t, want, got, 1e-10, "slope at %g mm; the table has ten digits", travel)
	}
	// The middle of equal heights lies off true top dead centre when the pin is offset.
	for travel, want := range map[Length]float64{2: 0.00929, 10: 0.04940} {
		before, err := offset.Angle(travel, BTDC)
		require.NoError(t, err)
		after, err := offset.Angle(travel, ATDC)
		require.NoError(t, err)
		assert.InDelta(t, want, float64(after-before)/2, 0.000005, "half a unit of the table's last digit, at %g mm", travel)
	}
	assert.InDelta(t, 0.627338587559258, float64(offset.TDC()), tableAngle)
	assert.InDelta(t, 54.0053433988281, float64(offset.TrueStroke()), tableLength)
}

func TestWorkedExamples(t *testing.T) {
	// Pulkrabek, Engineering Fundamentals of the ICE, Ex. 2-1, from memory: 0.32 cm; to more digits with mpmath.
	s, err := crank(t, 86, 166, 0).Travel(-20)
	require.NoError(t, err)
	assert.InDelta(t, 3.24598, float64(s), 0.000005, "printed to 0.00001 mm")

	// Exact triangles.
	s, err = crank(t, 6, 5, 0).Travel(90)
	require.NoError(t, err)
	assert.InDelta(t, 4, float64(s), tableLength)
	c := crank(t, 5, 17.5, 12)
	assert.InDelta(t, 7, float64(c.TrueStroke()), tableLength)
	assert.InDelta(t, 36.869897645844, float64(c.TDC()), tableAngle)
	assert.InDelta(t, 16, float64(c.HeightTDC()), tableLength)
	assert.InDelta(t, 9, float64(c.HeightBDC()), tableLength)

	// HELM Workbook 12.2, Engineering Example 4: crank 150, rod 375, the pin half as far from the crank's centre as at the top:
	// cos theta = -5/8.
	b, err := crank(t, 300, 375, 0).Angle(525-262.5, BTDC)
	require.NoError(t, err)
	assert.InDelta(t, 128.682187, float64(b), 5e-7, "six decimals, with mpmath")
	assert.InDelta(t, -5.0/8, math.Cos(b.Radians()), 1e-14, "rounding only")

	// Piston at mid-travel: cos theta = r/(2l); for l/r = 4 computed independently with mpmath.
	b, err = crank(t, 54, 108, 0).Angle(27, BTDC)
	require.NoError(t, err)
	assert.InDelta(t, 82.819244218542, float64(b), tableAngle)

	// Khurmi & Gupta, Theory of Machines, 14th ed., Ex. 15.3: r 0.3 m, l 1 m, 200 rpm: greatest piston velocity 6.54 m/s at 75°
	// by the two-term formula (with mpmath 6.540332 m/s at 74.955268°). The exact form is larger by what that formula leaves out,
	// r omega sin 2theta / 2 · (1/sqrt(n² - sin² theta) - 1/n) with n = l/r.
	slope, err := crank(t, 600, 1000, 0).Slope(-74.955268)
	require.NoError(t, err)
	theta, n, omega := Angle(74.955268).Radians(), 1/0.3, 2*math.Pi*200/60
	sin := math.Sin(theta)
	leftOut := 0.3 * omega * math.Sin(2*theta) / 2 * (1/math.Sqrt(n*n-sin*sin) - 1/n)
	assert.InDelta(t, 6.540332, -slope*200*360/60/1000-leftOut, 5e-7, "printed to 1e-6 m/s")
}

// The usual two-term approximation, r (1 - cos b) + r²/(2l) sin² b, is short of the exact travel by 1.17 µm at 23° and 51 µm at 90°
// (computed independently with mpmath): the crank must not be it.
func TestExactNotTwoTerms(t *testing.T) {
	c := crank(t, 54, 110, 0)
	for b, short := range map[Angle][2]float64{23: {0.00117, 0.000005}, 90: {0.051, 0.0006}} {
		sin, cos := math.Sincos(b.Radians())
		got, err := c.Travel(b)
		require.NoError(t, err)
		assert.InDelta(t, short[0], float64(got)-(27*(1-cos)+27*27/(2*110.0)*sin*sin), short[1], "printed to so many digits")
	}
}

// Very near top dead centre travel is (r + r²/l)/2 · b² without offset; the relative error of that series is of order b².
func TestNothingCancelsAtTDC(t *testing.T) {
	c := crank(t, 54, 110, 0)
	for _, b := range []Angle{1e-3, 1e-5, 1e-7, 1e-9} {
		got, err := c.Travel(b)
		require.NoError(t, err)
		x := b.Radians()
		assert.InEpsilon(t, 27*(1+27.0/110)/2*x*x, float64(got), 1e-9, "the series is good to 1e-10 at 0.001°")
		back, err := c.Angle(got, BTDC)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(b), float64(back), 1e-12, "rounding only")
	}
	offset := crank(t, 54, 110, 1.5)
	for _, b := range []Angle{1e-5, -1e-5, 1e-8} {
		got, err := offset.Travel(b)
		require.NoError(t, err)
		slope, err := offset.Slope(b)
		require.NoError(t, err)
		assert.InEpsilon(t, 2*float64(got)/float64(b), slope, 1e-6, "travel grows with the square: slope = 2 travel/b, good to order b")
	}
}

func TestDeadCentres(t *testing.T) {
	for _, e := range []Length{0, 1.5, -1.5, 12} {
		c := crank(t, 54, 110, e)
		before, after := c.Limits()
		assert.InDelta(t, 360, float64(before+after), tableAngle)
		for _, b := range []Angle{before, -after} {
			s, err := c.Travel(b)
			require.NoError(t, err)
			assert.InDelta(t, float64(c.TrueStroke()), float64(s), tableLength)
		}
		zero, err := c.Travel(0)
		require.NoError(t, err)
		assert.Zero(t, zero)
		top, err := c.Angle(0, ATDC)
		require.NoError(t, err)
		assert.Zero(t, top)
	}
}

func TestCrankProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stroke := Length(rapid.Float64Range(20, 120).Draw(t, "stroke"))
		rod := stroke * Length(rapid.Float64Range(0.8, 3).Draw(t, "rod/stroke"))
		offset := stroke * Length(rapid.Float64Range(-0.2, 0.2).Draw(t, "offset/stroke"))
		c, err := NewCrank(stroke, rod, offset)
		require.NoError(t, err)
		before, after := c.Limits()
		b := Angle(rapid.Float64Range(-float64(after)+0.01, float64(before)-0.01).Draw(t, "b"))

		s, err := c.Travel(b)
		require.NoError(t, err)
		// The definition itself, which cancels only where travel is small: 1e-10 mm covers its rounding.
		theta := (c.TDC() - b).Radians()
		u := c.r*math.Sin(theta) - c.e
		assert.InDelta(t, c.hTDC-c.r*math.Cos(theta)-math.Sqrt(c.l*c.l-u*u), float64(s), 1e-10)

		side := BTDC
		if b < 0 {
			side = ATDC
		}
		back, err := c.Angle(min(s, c.TrueStroke()), side)
		require.NoError(t, err)
		// At bottom dead centre rounding of the travel is magnified without bound; 0.01° away from it, by 1e4.
		assert.InDelta(t, math.Abs(float64(b)), float64(back), 1e-8)

		slope, err := c.Slope(b)
		require.NoError(t, err)
		const step = 1e-4
		hi, err1 := c.Travel(b + step)
		lo, err2 := c.Travel(b - step)
		require.NoError(t, err1)
		require.NoError(t, err2)
		// A central difference over 2e-4° is good to about 1e-10 of curvature and 1e-14/1e-4 of rounding.
		assert.InDelta(t, float64(hi-lo)/(2*step), slope, 1e-8)
	})
}

// Whatever a crank gives, it takes back: its stroke, its limits and every travel between, up to a rod that just turns.
func TestCrankTakesBackWhatItGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stroke := math.Pow(10, rapid.Float64Range(-2, 3.4).Draw(t, "log stroke"))
		offset := stroke * rapid.SampledFrom([]float64{0, 1}).Draw(t, "offset pin") * rapid.Float64Range(-0.5, 0.5).Draw(t, "offset/stroke")
		spare := math.Pow(10, rapid.Float64Range(-13, 0.3).Draw(t, "log spare rod"))
		c, err := NewCrank(Length(stroke), Length((stroke/2+math.Abs(offset))*(1+spare)), Length(offset))
		require.NoError(t, err)
		before, after := c.Limits()
		full := c.TrueStroke()
		if offset == 0 {
			assert.Equal(t, Length(stroke), full)
		}
		for side, limit := range map[Side]Angle{BTDC: before, ATDC: after} {
			sign := Angle(1)
			if side == ATDC {
				sign = -1
			}
			for _, near := range []float64{1, 1 - 1e-15, 1 + 5e-13} { // 5e-13 is half the slack
				s, err := c.Travel(sign * limit * Angle(near))
				require.NoError(t, err)
				assert.LessOrEqual(t, s, full)
				_, err = c.Slope(sign * limit * Angle(near))
				require.NoError(t, err)
				b, err := c.Angle(full*Length(near), side)
				require.NoError(t, err)
				assert.LessOrEqual(t, b, limit)
				if near >= 1 {
					assert.Equal(t, limit, b)
				}
			}
			s := full * Length(rapid.Float64Range(0, 1).Draw(t, "travel/stroke"))
			b, err := c.Angle(s, side)
			require.NoError(t, err)
			assert.True(t, b >= 0 && b <= limit, "%v", b)
			back, err := c.Travel(sign * b)
			require.NoError(t, err)
			slope, err := c.Slope(sign * b)
			require.NoError(t, err)
			assert.True(t, finite(float64(back)) && finite(slope), "%v, %v", back, slope)
			if spare > 1e-3 { // with less the rod lies nearly across the bore, where a small angle is a long way
				assert.InDelta(t, float64(s), float64(back), 1e-11*stroke, "rounding, magnified by the obliquity of the rod")
			}
		}
	})
}

// Typed in decimals, as people have them, a stroke is a travel too.
func TestTheWholeStrokeIsATravel(t *testing.T) {
	for tenths := 300; tenths <= 1200; tenths++ {
		stroke := Length(float64(tenths) / 10)
		c := crank(t, stroke, 2*stroke+0.3, 0)
		b, err := c.Angle(stroke, BTDC)
		require.NoError(t, err)
		assert.InDelta(t, 180, float64(b), tableAngle)
		// What the message allows is taken.
		_, err = c.Angle(stroke+1, BTDC)
		assert.ErrorContains(t, err, fmt.Sprintf("want 0..%.4f mm", stroke))
	}
}

func TestCrankRefuses(t *testing.T) {
	nan, inf := Length(math.NaN()), Length(math.Inf(1))
	for name, tc := range map[string]struct {
		stroke, rod, offset Length
		want                string
	}{
		"zero stroke":                         {0, 110, 0, "stroke, got 0 mm, want more than 0, up to 10000 mm"},
		"negative stroke":                     {-54, 110, 0, "stroke, got -54 mm, want more than 0"},
		"NaN stroke":                          {nan, 110, 0, "stroke, got NaN mm, want more than 0"},
		"infinite stroke":                     {inf, 110, 0, "stroke, got +Inf mm, want more than 0"},
		"zero rod":                            {54, 0, 0, "rod, got 0 mm, want more than 0"},
		"negative rod":                        {54, -110, 0, "rod, got -110 mm, want more than 0"},
		"NaN rod":                             {54, nan, 0, "rod, got NaN mm, want more than 0"},
		"infinite rod":                        {54, inf, 0, "rod, got +Inf mm, want more than 0"},
		"NaN offset":                          {54, 110, nan, "pin offset, got NaN mm, want -10000..10000 mm"},
		"infinite offset":                     {54, 110, -inf, "pin offset, got -Inf mm, want -10000..10000 mm"},
		"rod shorter than the crank":          {54, 20, 0, "rod, got 20 mm between centres, want more than 27 mm (half the stroke and the pin offset together)"},
		"rod as short as the crank":           {54, 27, 0, "rod, got 27 mm between centres, want more than 27 mm"},
		"rod shorter than crank and offset":   {54, 28, 1.5, "rod, got 28 mm between centres, want more than 28.5 mm"},
		"offset the other way":                {54, 28, -1.5, "rod, got 28 mm between centres, want more than 28.5 mm"},
		"thousandths of a millimetre, not mm": {54000, 110000, 0, "stroke, got 54000 mm, want more than 0, up to 10000 mm"},
	} {
		c, err := NewCrank(tc.stroke, tc.rod, tc.offset)
		assert.ErrorContains(t, err, tc.want, name)
		assert.False(t, c.Known(), name)
	}
	c := crank(t, 54, 110, 0)
	for _, s := range []Length{-0.001, 54.001, nan, inf} {
		_, err := c.Angle(s, BTDC)
		assert.ErrorContains(t, err, "want 0..54.0000 mm")
	}
	for _, b := range []Angle{180.01, -180.01, Angle(math.NaN()), Angle(math.Inf(-1))} {
		_, err := c.Travel(b)
		assert.ErrorContains(t, err, "want -180.0000..180.0000°")
		_, err = c.Slope(b)
		assert.Error(t, err)
	}
	_, err := Crank{}.Travel(1)
	assert.ErrorContains(t, err, "want stroke and rod length")
	_, err = Crank{}.Angle(1, BTDC)
	assert.ErrorContains(t, err, "want stroke and rod length")
}

func BenchmarkTravel(b *testing.B) {
	c := crank(b, 54, 110, 1.5)
	for b.Loop() {
		if _, err := c.Travel(20); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAngle(b *testing.B) {
	c := crank(b, 54, 110, 1.5)
	for b.Loop() {
		if _, err := c.Angle(2, BTDC); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSlope(b *testing.B) {
	c := crank(b, 54, 110, 1.5)
	for b.Loop() {
		if _, err := c.Slope(20); err != nil {
			b.Fatal(err)
		}
	}
}
