package cue

import (
	"fmt"
	"math"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
)

// luminance is the relative luminance of WCAG 2.2 (definition "relative luminance", from memory).
func luminance(c tcell.Color) float64 {
	linear := func(v int32) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	r, g, b := c.RGB()
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

// contrast is the contrast ratio of WCAG 2.2, 1 to 21.
func contrast(a, b tcell.Color) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// lightness is L* of CIE 1976, 0 black to 100 white (ISO/CIE 11664-4, from memory).
func lightness(c tcell.Color) float64 {
	y := luminance(c)
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

// TestMeasures holds the formulas against figures that are well known.
func TestMeasures(t *testing.T) {
	grey := tcell.NewHexColor(0x777777)
	assert.InDelta(t, 21, contrast(tcell.ColorBlack, tcell.NewHexColor(0xffffff)), 1e-9, "black on white")
	assert.InDelta(t, 4.48, contrast(grey, tcell.NewHexColor(0xffffff)), 0.005, "#777 on white just fails 4.5, as is widely told")
	assert.InDelta(t, 50.03, lightness(grey), 0.05, "#777777 is in the middle, L* 50.0")
}

// TestContrast holds every text against its background: 7:1 is what WCAG 2.2 asks for at level AAA (success criterion 1.4.6).
func TestContrast(t *testing.T) {
	for _, colours := range []int{8, 16, 88, 256, 1 << 24} {
		for state, ds := range dressesFor(colours) {
			for l, d := range ds {
				name := fmt.Sprintf("%d colours, state %d, look %d", colours, state, l)
				assert.True(t, d.coloured, name)
				assert.False(t, d.reverse, name)
				assert.GreaterOrEqual(t, contrast(d.ink, d.paper), 7.0, name)
			}
		}
	}
}

// TestOkabeIto checks the contrasts that are known for black on these colours.
func TestOkabeIto(t *testing.T) {
	for want, s := range map[float64]State{9.1: Unknown, 15.9: Open, 9.3: Lost} {
		assert.InDelta(t, want, contrast(trueColours[s].ink, trueColours[s].paper), 0.05, "rounded to one place")
	}
}

// TestLightness: with all colour taken away points open and points closed are still far apart. Half of the way from black
// to white is ten times what is told apart side by side at a glance (common practice: 5 units). Unknown and lost are as far
// from points closed. From points open they are as far as the colours of 7:1 allow; their patterns do the rest.
func TestLightness(t *testing.T) {
	for _, colours := range []int{8, 16, 256, 1 << 24} {
		p := paletteFor(colours)
		assert.GreaterOrEqual(t, math.Abs(lightness(p[Open].paper)-lightness(p[Closed].paper)), 50.0, "%d colours", colours)
		if colours < 256 {
			continue
		}
		for _, s := range []State{Unknown, Lost} {
			assert.GreaterOrEqual(t, lightness(p[s].paper)-lightness(p[Closed].paper), 50.0, "%d colours", colours)
			assert.GreaterOrEqual(t, lightness(p[Open].paper)-lightness(p[s].paper), 10.0, "%d colours", colours)
		}
	}
}

// TestNearest: where a terminal makes do with the nearest entry of the fixed part of its palette of 256, as some do with
// true colours, texts can still be read. Our own choice for such a palette is from that part, too.
func TestNearest(t *testing.T) {
	for s, c := range trueColours {
		assert.GreaterOrEqual(t, contrast(nearest(c.ink), nearest(c.paper)), 7.0, "state %d", s)
		for _, own := range []tcell.Color{colours256[s].ink, colours256[s].paper} {
			assert.GreaterOrEqual(t, own, tcell.PaletteColor(16))
			assert.Less(t, own, tcell.PaletteColor(256))
		}
	}
}

func nearest(c tcell.Color) (found tcell.Color) {
	r, g, b := c.RGB()
	best := math.Inf(1)
	for n := 16; n < 256; n++ {
		x, y, z := tcell.PaletteColor(n).RGB()
		if d := math.Hypot(math.Hypot(float64(x-r), float64(y-g)), float64(z-b)); d < best {
			best, found = d, tcell.PaletteColor(n)
		}
	}
	return found
}

// TestNoColour: with NO_COLOR, and on a terminal without colours, there is reverse video and nothing else.
func TestNoColour(t *testing.T) {
	for s, ds := range dressesFor(0) {
		for _, d := range ds {
			assert.False(t, d.coloured)
		}
		assert.NotEqual(t, ds[plain].reverse, ds[reversed].reverse, "state %d", s)
		assert.NotEqual(t, ds[plain].reverse, ds[striking].reverse, "state %d", s)
		assert.True(t, ds[striking].bold)
	}
	all := dressesFor(0)
	assert.NotEqual(t, all[Open][plain].reverse, all[Closed][plain].reverse)
}
