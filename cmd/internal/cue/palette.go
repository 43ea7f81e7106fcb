package cue

import "github.com/gdamore/tcell/v2"

// pair is what a state is written with.
type pair struct{ ink, paper tcell.Color }

// palette has a pair for each state. Points closed is dark and points open is light, so that they differ without colours;
// the others lie between and have patterns of their own.
type palette [4]pair

// The light colours are those of Okabe and Ito (Color Universal Design, 2008), which people tell apart whatever their
// colour vision; black is the only ink that reads well on them.
var (
	trueColours = palette{
		Unknown: {tcell.NewHexColor(0x000000), tcell.NewHexColor(0x56B4E9)}, // sky blue
		Closed:  {tcell.NewHexColor(0xFFFFFF), tcell.NewHexColor(0x000000)},
		Open:    {tcell.NewHexColor(0x000000), tcell.NewHexColor(0xF0E442)}, // yellow
		Lost:    {tcell.NewHexColor(0x000000), tcell.NewHexColor(0xE69F00)}, // orange
	}
	// colours256 are like these, of the fixed part of the palette of 256: users change the first 16. The entries nearest to
	// yellow and to orange would be hard to tell apart, so one is lighter and one darker.
	colours256 = palette{
		Unknown: {tcell.PaletteColor(16), tcell.PaletteColor(74)},
		Closed:  {tcell.PaletteColor(231), tcell.PaletteColor(16)},
		Open:    {tcell.PaletteColor(16), tcell.PaletteColor(227)},
		Lost:    {tcell.PaletteColor(16), tcell.PaletteColor(172)},
	}
	// With 16 colours or 8 nobody knows how they look, so there is black and white only.
	colours16 = blackAndWhite(tcell.PaletteColor(15))
	colours8  = blackAndWhite(tcell.PaletteColor(7))
)

func blackAndWhite(white tcell.Color) palette {
	black := tcell.PaletteColor(0)
	return palette{Unknown: {white, black}, Closed: {white, black}, Open: {black, white}, Lost: {black, white}}
}

// dress is how a cell is written.
type dress struct {
	pair
	coloured bool // without it the terminal's own colours are used, and pair is not
	bold     bool
	reverse  bool
}

// dresses are the ways to write a cell on the background of one state.
type dresses [looks]dress

// dressesFor gives the dresses of each state for a terminal with that many colours; with less than 8 there is reverse
// video without a colour.
func dressesFor(colours int) (all [4]dresses) {
	for s := range all {
		d := dress{reverse: State(s) == Open || State(s) == Lost}
		if colours >= 8 {
			d = dress{pair: paletteFor(colours)[s], coloured: true}
		}
		all[s] = dresses{plain: d, strong: d, reversed: d, striking: d}
		all[s][strong].bold, all[s][striking].bold = true, true
		for _, l := range []look{reversed, striking} {
			if colours >= 8 {
				all[s][l].pair = pair{d.paper, d.ink}
			} else {
				all[s][l].reverse = !d.reverse
			}
		}
	}
	return all
}

// style is d for a screen that tcell writes itself.
func (d dress) style() tcell.Style {
	s := tcell.StyleDefault.Bold(d.bold).Reverse(d.reverse)
	if d.coloured {
		s = s.Foreground(d.ink).Background(d.paper)
	}
	return s
}

func paletteFor(colours int) palette {
	switch {
	case colours > 256:
		return trueColours
	case colours == 256:
		return colours256
	case colours >= 16:
		return colours16
	default:
		return colours8
	}
}
