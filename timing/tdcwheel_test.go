package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseDistances(t *testing.T) {
	d := NewDial(10)
	got, err := d.ParseDistances(" 0.00 -0.01;0,02 0.001in 1+98 ")
	require.NoError(t, err)
	want := []Length{0, -0.01, 0.02, 0.0254, 1.98}
	require.Len(t, got, len(want))
	for i := range want {
		assert.InDelta(t, float64(want[i]), float64(got[i]), 1e-12, "rounding only")
	}
	got, err = d.ParseDistances("  ")
	assert.NoError(t, err)
	assert.Empty(t, got)
	for text, why := range map[string]string{
		"0.0 x": "no digits", "2.03/1.98": "want one number", "-": "want one number", "20deg": "a dial shows no degrees",
		"11": "got 11 mm, want -10 mm..10 mm (what the dial can show)", "1+100": "counter and pointer",
	} {
		_, err := d.ParseDistances(text)
		assert.ErrorContains(t, err, why, text)
	}
}

func TestParseHeights(t *testing.T) {
	d := NewDial(10)
	got, err := d.ParseHeights("2.00: 340.1 20.3; 5,00 : 327,7° 32.6 rising # a note\n3: -24.6 24.7 b;")
	require.NoError(t, err)
	assert.Equal(t, []HeightPair{{2, 340.1, 20.3, TurnedForwards}, {5, 327.7, 32.6, TurnedRising}, {3, -24.6, 24.7, TurnedBackwards}}, got)
	for text, why := range map[string]string{
		"340.1 20.3":           "no colon after the height",
		"2: 340.1":             "not two wheel readings",
		"2: 340.1 20.3 f more": "not two wheel readings",
		"2: 340.1 20.3 up":     `"up" is no way of turning`,
		"x: 340.1 20.3":        "no digits",
		"2: 340.1mm 20.3":      "angle, got 340.1 mm",
		"2: 340.1 400":         "degree wheel, got 400°, want -360..360°",
		"2: 3,40.1 20":         "more than one decimal mark",
	} {
		_, err := d.ParseHeights(text)
		assert.ErrorContains(t, err, why, text)
	}
}

func TestParsePoints(t *testing.T) {
	d := NewDial(10)
	got, err := d.ParsePoints("# wheel dial\n340.1 2.03\n\n 350,5 0.46 backwards\r\n10 0+51 R\n")
	require.NoError(t, err)
	assert.Equal(t, []TopPoint{{340.1, 2.03, TurnedForwards}, {350.5, 0.46, TurnedBackwards}, {10, 0.51, TurnedRising}}, got)
	for text, why := range map[string]string{
		"340.1": "not two readings", "340 2 f 3": "not two readings", "340 2 down": `"down" is no way of turning`, "340 2°": "a dial shows no degrees", "x 2": "no digits",
	} {
		_, err := d.ParsePoints(text)
		assert.ErrorContains(t, err, why, text)
	}
}

func TestWheelStep(t *testing.T) {
	for step, readings := range map[Angle][]Angle{
		1: {340, 20}, 0.5: {340.5, 20}, 0.25: {340.25, 20.5}, 0.2: {340.2, 20}, 0.1: {340.1, 20.5}, 0.05: {340.05, 20}, // the finest that they need
	} {
		assert.Equal(t, step, wheelStep(readings))
	}
}

func TestTurningWords(t *testing.T) {
	for _, how := range []Turning{TurnedForwards, TurnedBackwards, TurnedRising} {
		got, ok := parseTurning(how.String())
		assert.True(t, ok)
		assert.Equal(t, how, got)
	}
}

// Whatever is typed: an error or figures, no panic and no NaN.
func FuzzTDC(f *testing.F) {
	f.Add("2.00: 340.1 20.3; 5: 327.7 32.6 r", "0 0.01", uint8(0))
	f.Add("2:340 20\n2:341 21", "1+98;-0.01", uint8(1))
	f.Add("340 2\n350 0.5\n10 0.5 b\n20 2 r", "", uint8(2))
	f.Fuzz(func(t *testing.T, lines, list string, n uint8) {
		c, d := testCrank(t, Length(n%4)), NewDial(10)
		good := func(e Estimate[Angle]) {
			assert.True(t, finite(float64(e.Value)) && finite(float64(e.U)) && e.U > 0 && e.Value >= 0 && e.Value < 360)
		}
		if pairs, err := d.ParseHeights(lines); err == nil {
			if h, err := FindHeights(c, d, pairs, 0); err == nil {
				good(h.TDC)
			}
		}
		if points, err := d.ParsePoints(lines); err == nil {
			if top, err := FitTop(c, d, points, n%2 == 0, 0); err == nil {
				good(top.TDC)
				assert.True(t, finite(float64(top.Peak.U)))
			}
		}
		if readings, err := d.ParseDistances(list); err == nil {
			k := min(int(n), len(readings))
			if r, err := FindReversal(c, d, readings[:k], readings[k:]); err == nil {
				assert.True(t, finite(float64(r.Reading.U)) && r.Reading.U > 0)
			}
		}
	})
}
