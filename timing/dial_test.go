package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestDialRatio(t *testing.T) {
	straight := NewDial(10)
	assert.Equal(t, 1.0, straight.Ratio())
	for _, tc := range []struct {
		alpha, beta Angle
		want        float64 // travel for a reading of 1
		why         string
	}{
		// cos 10°, 20°, 30°: computed independently with mpmath.
		{10, 0, 0.984807753, "crown square to the bore: travel = reading · cos alpha"},
		{20, 0, 0.939692621, "crown square to the bore"},
		{30, 0, 0.866025404, "crown square to the bore"},
		{20, 20, 1 / 0.939692621, "crown square to the plunger: travel = reading / cos alpha"},
	} {
		d := straight
		d.PlungerAngle, d.CrownSlope = tc.alpha, tc.beta
		require.NoError(t, d.Validate())
		got, err := d.Travel(1, 0)
		require.NoError(t, err)
		assert.InDelta(t, tc.want, float64(got), 1e-9, tc.why) // nine digits given
	}
	d := straight
	d.PlungerAngle = 20
	flat, err := d.Travel(2, 0)
	require.NoError(t, err)
	d.CrownSlope = 10
	sloped, err := d.Travel(2, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0.12, float64(sloped-flat), 0.005, "20°, crown slope 10° instead of 0: 0.12 mm on 2 mm, worked out with the formula")
}

func TestReadingBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NewDial(10)
		d.Zero = Zero(rapid.IntRange(0, 1).Draw(t, "zero"))
		d.PlungerAngle = Angle(rapid.Float64Range(-25, 25).Draw(t, "alpha"))
		d.CrownSlope = Angle(rapid.Float64Range(-15, 15).Draw(t, "beta"))
		travel, mark := Length(rapid.Float64Range(0, 7.9).Draw(t, "travel")), Length(rapid.Float64Range(0.1, 6).Draw(t, "mark"))
		reading, err := d.Reading(travel, mark)
		require.NoError(t, err)
		back, err := d.Travel(reading, mark)
		require.NoError(t, err)
		assert.InDelta(t, float64(travel), float64(back), 1e-12, "rounding only")
		atMark, err := d.Reading(mark, mark)
		require.NoError(t, err)
		if d.Zero == ZeroMark {
			assert.Zero(t, atMark)
			assert.Equal(t, travel > mark, reading > 0, "positive is before the mark")
		}
	})
}

func TestDialRange(t *testing.T) {
	d := NewDial(10)
	for _, reading := range []Length{-0.01, 10.01, Length(math.NaN()), Length(math.Inf(1))} {
		_, err := d.Travel(reading, 2)
		assert.ErrorContains(t, err, "want 0..10 mm (what the dial can show, zeroed at top dead centre)")
	}
	d.Zero = ZeroMark
	for _, reading := range []Length{-2.01, 8.01} {
		_, err := d.Travel(reading, 2)
		assert.ErrorContains(t, err, "want -2..8 mm (what the dial can show, zeroed at the mark)")
	}
	got, err := d.Travel(-0.05, 2)
	require.NoError(t, err)
	assert.InDelta(t, 1.95, float64(got), 1e-12, "past the mark; rounding only")
	// The mark of a specification in degrees falls between two graduations, and so does top dead centre then.
	for _, reading := range []Length{-2.85, -2.8468, -2.842} {
		got, err = d.Travel(reading, 2.8468)
		require.NoError(t, err)
		assert.InDelta(t, max(0, 2.8468+float64(reading)), float64(got), 1e-12, "rounding only")
	}
	_, err = d.Travel(-2.86, 2.8468)
	assert.Error(t, err)
	inches := Dial{Unit: Inch, Graduation: 0.0254, PerRevolution: 2.54, Range: 12.7}
	require.NoError(t, inches.Validate())
	_, err = ParseReading("78", inches, 2)
	assert.ErrorContains(t, err, "got 78 in, want 0..0.5 in (what the dial can show, zeroed at top dead centre; "+
		"a number without a unit is taken in inches, write 78thou for thousandths)")
	_, err = d.Reading(10.5, 2)
	assert.ErrorContains(t, err, "want 0..10.000 mm")
}

// The piston goes down from top dead centre, and the plunger comes out only as far as it was pressed in there.
func TestPreload(t *testing.T) {
	d := NewDial(10)
	d.Preload = 2
	require.NoError(t, d.Validate())
	_, err := d.Reading(2, 2)
	assert.NoError(t, err)
	_, err = d.Reading(2.503, 2.503)
	assert.EqualError(t, err, "timing: travel, got 2.503 mm, want 0..2.000 mm (what the dial can follow, pressed in 2 mm at top dead centre)"+
		"; press it in by at least 2.51 mm at top dead centre")
	_, err = d.Reading(10.5, 2)
	assert.ErrorContains(t, err, "; that takes a dial with a range of 10.50 mm or more")
	_, err = d.Travel(2.01, 2)
	assert.ErrorContains(t, err, "want 0..2 mm (what the dial can show, zeroed at top dead centre, pressed in 2 mm at top dead centre)")
	d.PlungerAngle = 20 // the plunger moves 1/cos 20° = 1.0642 of the travel
	_, err = d.Reading(1.95, 1.95)
	assert.ErrorContains(t, err, "press it in by at least 2.08 mm")
	d.Preload = 0
	_, err = d.Reading(9, 2)
	assert.NoError(t, err, "without it the range alone limits")
}

func TestDialFormat(t *testing.T) {
	mm, inch := NewDial(10), NewDial(10)
	inch.Unit, inch.Graduation = Inch, ThouLength
	assert.Equal(t, "1.98 mm", mm.Format(1.98))
	assert.Equal(t, "1.983 mm", mm.Format(1.9834))
	assert.Equal(t, "0.0787 in", inch.Format(2))
	assert.Equal(t, "0 mm", mm.Format(-0.00001))
}

func TestDialValidate(t *testing.T) {
	for name, spoil := range map[string]func(*Dial){
		"unit": func(d *Dial) { d.Unit = Thou }, "no unit": func(d *Dial) { d.Unit = NoUnit },
		"graduation": func(d *Dial) { d.Graduation = 0 }, "graduation NaN": func(d *Dial) { d.Graduation = Length(math.NaN()) },
		"per revolution": func(d *Dial) { d.PerRevolution = 0.995e-2 }, "uneven revolution": func(d *Dial) { d.PerRevolution = 0.995 },
		"range": func(d *Dial) { d.Range = 0.05 }, "range infinite": func(d *Dial) { d.Range = Length(math.Inf(1)) },
		"zero": func(d *Dial) { d.Zero = 2 }, "counting": func(d *Dial) { d.Counting = 2 },
		"counter": func(d *Dial) { d.CounterAtZero = 12 }, "counter negative": func(d *Dial) { d.CounterAtZero = -1 },
		"plunger": func(d *Dial) { d.PlungerAngle = 61 }, "crown": func(d *Dial) { d.CrownSlope = Angle(math.NaN()) },
		"apart": func(d *Dial) { d.PlungerAngle, d.CrownSlope = 40, -40 }, "plunger u": func(d *Dial) { d.PlungerAngleU = -1 },
		"crown u": func(d *Dial) { d.CrownSlopeU = 21 }, "error": func(d *Dial) { d.MaxError = -0.01 },
		"preload": func(d *Dial) { d.Preload = 10.01 }, "preload NaN": func(d *Dial) { d.Preload = Length(math.NaN()) },
		"extension": func(d *Dial) { d.ExtensionGive = -0.01 }, "local": func(d *Dial) { d.Local[2] = 0.016 },
		"local order": func(d *Dial) { d.Local = [3]Length{0.009, 0, 0.008} }, "local NaN": func(d *Dial) { d.Local[0] = Length(math.NaN()) },
		"hysteresis": func(d *Dial) { d.Hysteresis = 11 }, "repeatability": func(d *Dial) { d.Repeatability = Length(math.NaN()) },
	} {
		d := NewDial(10)
		require.NoError(t, d.Validate())
		spoil(&d)
		err := d.Validate()
		var field *FieldError
		assert.ErrorAs(t, err, &field, name)
	}
}

func TestParseReading(t *testing.T) {
	tdc, mark, inch, in := NewDial(10), NewDial(10), NewDial(10), NewDial(10)
	mark.Zero = ZeroMark
	inch.Unit, inch.Graduation, inch.PerRevolution = Inch, ThouLength, 100*ThouLength
	in.Counting, in.CounterAtZero = CountsIn, 5
	for _, tc := range []struct {
		text         string
		dial         Dial
		closed, open Length
		bracket      bool
	}{
		{"1.98", tdc, 1.98, 1.98, false},
		{" 1,98 ", tdc, 1.98, 1.98, false},
		{"1.98mm", tdc, 1.98, 1.98, false},
		{"0.078in", tdc, 1.9812, 1.9812, false},
		{"2.03/1.98", tdc, 2.03, 1.98, true},
		{"2,03 / 1,98 mm", tdc, 2.03, 1.98, true},
		{"1.98/1.98", tdc, 1.98, 1.98, true},
		{"1+98", tdc, 1.98, 1.98, false},
		{"2+03/1+98.5", tdc, 2.03, 1.985, true},
		{"+1.98", tdc, 1.98, 1.98, false},
		{"0.05/-0.02", mark, 0.05, -0.02, true},
		{"-0.05", mark, -0.05, -0.05, false},
		{"0.078", inch, 1.9812, 1.9812, false},
		{"1.98mm", inch, 1.98, 1.98, false},
		{"2.03/1.98mm", inch, 2.03, 1.98, true}, // the unit is meant for both
		{"2.03mm/1.98", inch, 2.03, 1.98, true},
		{"0+78", inch, 1.9812, 1.9812, false},
		{"80/78 thou", inch, 2.032, 1.9812, true},
		{"-1+99", in, 5.01, 5.01, false},
		{"−1+99", in, 5.01, 5.01, false},
		{"3+02", in, 1.98, 1.98, false}, // backing off 1.98 mm from 5+00 puts the pointer on 02
	} {
		r, err := ParseReading(tc.text, tc.dial, 2)
		require.NoError(t, err, tc.text)
		assert.Equal(t, tc.text, r.Text)
		assert.InDelta(t, float64(tc.closed), float64(r.LastClosed), 1e-12, tc.text) // rounding only
		assert.InDelta(t, float64(tc.open), float64(r.FirstOpen), 1e-12, tc.text)
		assert.Equal(t, tc.bracket, r.Bracket, tc.text)
		assert.False(t, r.None)
	}
	r, err := ParseReading(" - ", tdc, 2)
	require.NoError(t, err)
	assert.True(t, r.None)
	assert.Equal(t, " - ", r.Text)
}

func TestParseReadingRefuses(t *testing.T) {
	tdc, in := NewDial(10), NewDial(10)
	in.Counting = CountsIn
	for _, tc := range []struct {
		text, why string
		dial      Dial
	}{
		{"", "got nothing", tdc},
		{"about two", "no digits", tdc},
		{"two", "1.98, 1,98, 0.078in, 1+98 (counter and pointer) or -", tdc},
		{"1.98 2.03", "more than one number", tdc},
		{"1.98/", `got "1.98/" (one side is empty)`, tdc},
		{"/1.98", `got "/1.98" (one side is empty)`, tdc},
		{"2.03/1.98/1.95", "more than two numbers", tdc},
		{"1.98/2.03", "so larger, than the first with points open", tdc},
		{"-2+02/-3+98", "so with smaller figures on this dial, than the first with points open", in},
		{"-0.05", "got -0.05 mm, want 0..10 mm", tdc},
		{"198", "got 198 mm, want 0..10 mm", tdc},
		{"20°", "a dial shows no degrees", tdc},
		{"2.03mm/0.078in", "got mm and in, want one unit for both", tdc},
		{"1+100", "counter and pointer", tdc},
		{"1+-5", "counter and pointer", tdc},
		{"1++5", "counter and pointer", tdc},
		{"1.5+20", "counter and pointer", tdc},
		{"1+98mm", "counter and pointer", tdc},
		{"1+98", "figures rise as the plunger goes in, with the counter at 0", in},
		{"nan", "no digits", tdc},
		{"1,234.5", "more than one decimal mark", tdc},
	} {
		r, err := ParseReading(tc.text, tc.dial, 2)
		assert.ErrorContains(t, err, tc.why, tc.text)
		assert.Equal(t, tc.text, r.Text, "what was typed is kept")
	}
}

func FuzzParseReading(f *testing.F) {
	for _, s := range []string{"1.98", "2.03/1.98mm", "1+98", "-", "-0.05", "1+98/1+95", "0.078in/0.07", "\x00/\xff", "1++"} {
		f.Add(s, true, true)
	}
	f.Fuzz(func(t *testing.T, s string, mark, in bool) {
		d := NewDial(10)
		if mark {
			d.Zero = ZeroMark
		}
		if in {
			d.Counting = CountsIn
		}
		r, err := ParseReading(s, d, 2)
		assert.Equal(t, s, r.Text)
		if err != nil || r.None {
			return
		}
		travel, err := d.Travel(r.Mid(), 2)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, float64(r.Width()), 0.0)
		assert.True(t, travel >= 0 && travel <= 10+1e-9)
	})
}
