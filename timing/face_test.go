package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// With figures that rise as the plunger goes in, backing off 1.98 mm leaves the pointer on 02 and the counter two lower
// (common practice: the piston is backed off, and the pointer runs against its figures).
func TestFace(t *testing.T) {
	out, in, inch, coarse := NewDial(10), NewDial(10), NewDial(10), NewDial(10)
	in.Counting, in.CounterAtZero = CountsIn, 5
	inch.Unit, inch.Graduation, inch.PerRevolution = Inch, ThouLength, 100*ThouLength
	coarse.Graduation, coarse.PerRevolution = 0.05, 0.5
	for _, tc := range []struct {
		dial    Dial
		reading Length
		counter int
		pointer float64
		text    string
	}{
		{in, 1.98, 3, 2, "3+02"},
		{in, 0, 5, 0, "5+00"},
		{in, 0.01, 4, 99, "4+99"},
		{in, -0.05, 5, 5, "5+05"},
		{in, 5.01, -1, 99, "-1+99"},
		{in, 7, -2, 0, "-2+00"},
		{out, 1.98, 1, 98, "1+98"},
		{out, 1.9862, 1, 98.6, "1+98.6"},
		{out, 0.0642, 0, 6.4, "0+06.4"},
		{out, 1.9996, 2, 0, "2+00"}, // 99.96 graduations carry
		{out, 1.9994, 1, 99.9, "1+99.9"},
		{out, -0.02, -1, 98, "-1+98"},
		{out, -0.0003, 0, 0, "0+00"},
		{inch, 1.9812, 0, 78, "0+78"},
		{coarse, 1.3, 2, 6, "2+6"},
		{coarse, 1.3251, 2, 6.5, "2+6.5"},
	} {
		f := tc.dial.Face(tc.reading)
		assert.Equal(t, tc.counter, f.Counter, tc.text)
		assert.InDelta(t, tc.pointer, f.Pointer, 0, tc.text)
		assert.Equal(t, tc.text, f.String())
	}
}

// What the face prints is what ParseReading takes, for the same reading to half of the tenth that is printed.
func TestFaceIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NewDial(10)
		d.Counting = Counting(rapid.IntRange(0, 1).Draw(t, "counting"))
		d.Graduation = rapid.SampledFrom([]Length{0.01, 0.005, 0.02, 0.001, ThouLength}).Draw(t, "graduation")
		d.PerRevolution = d.Graduation * Length(rapid.SampledFrom([]int{10, 50, 100, 200}).Draw(t, "turn"))
		d.Zero = Zero(rapid.IntRange(0, 1).Draw(t, "zero"))
		d.CounterAtZero = rapid.IntRange(0, int(d.Range/d.PerRevolution)).Draw(t, "counter")
		require.NoError(t, d.Validate())
		mark := Length(2)
		lo := Length(0)
		if d.Zero == ZeroMark {
			lo = -mark
		}
		reading := Length(rapid.Float64Range(float64(lo)+0.01, 7.9).Draw(t, "reading"))
		f := d.Face(reading)
		assert.True(t, f.Pointer >= 0 && f.Pointer < float64(f.Turn))
		r, err := ParseReading(f.String(), d, mark)
		require.NoError(t, err)
		assert.InDelta(t, float64(reading), float64(r.Mid()), float64(d.Graduation)/20+1e-9, f.String())
		assert.Equal(t, f, d.Face(r.Mid()), "and printed again the same")
	})
}
