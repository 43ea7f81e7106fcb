package cue

import (
	"slices"
	"strings"

	"github.com/rivo/uniseg"
)

// look is how a cell stands out. None changes the pair of colours, so all have the same contrast.
type look uint8

const (
	plain    look = iota
	strong        // bold
	reversed      // ink and background change places
	striking      // reversed and bold
	looks         // how many there are
)

// bar tells that a row with this look is a strip over the whole width.
func (l look) bar() bool { return l == reversed || l == striking }

// cell is one character of the screen; r is 0 where the character to the left reaches over.
type cell struct {
	r    rune
	look look
	pane uint8 // whose of the grounds it stands on
}

// frame is all that is on the screen, without its colours.
type frame struct {
	w, h  int
	cells []cell
}

func newFrame(w, h int) frame {
	f := frame{w: max(w, 0), h: max(h, 0)}
	f.cells = slices.Repeat([]cell{{r: ' '}}, f.w*f.h)
	return f
}

func (f frame) same(o frame) bool { return f.w == o.w && f.h == o.h && slices.Equal(f.cells, o.cells) }

func (f frame) set(x, y int, c cell) {
	if x >= 0 && y >= 0 && x < f.w && y < f.h {
		f.cells[y*f.w+x] = c
	}
}

// text writes s from x on, no more than width columns.
func (f frame) text(x, y, width int, s string, l look) {
	for _, r := range cut(clean(s), width) {
		f.set(x, y, cell{r: r, look: l})
		x++
		if wide(r) {
			f.set(x, y, cell{look: l})
			x++
		}
	}
}

// bar is text on a strip of its own, which is width columns long.
func (f frame) bar(x, y, width int, s string, l look) {
	for i := range width {
		f.set(x+i, y, cell{r: ' ', look: l})
	}
	f.text(x, y, width, s, l)
}

// stamp draws d with its top left at x, y. Two dots share a cell, as half blocks; where coarse is set they are filled by
// reverse video, which needs no letters beyond ASCII.
func (f frame) stamp(d dots, x, y int, coarse bool) {
	for row := range d.rows() {
		for i := range d.w {
			upper, lower := d.at(i, 2*row), d.at(i, 2*row+1)
			switch {
			case !upper && !lower:
			case coarse:
				f.set(x+i, y+row, cell{r: ' ', look: reversed})
			case upper && lower:
				f.set(x+i, y+row, cell{r: '█'})
			case upper:
				f.set(x+i, y+row, cell{r: '▀'})
			default:
				f.set(x+i, y+row, cell{r: '▄'})
			}
		}
	}
}

// tint puts an area on the background of a set of points, 1 or 2.
func (f frame) tint(a area, set int) {
	for y := max(a.y, 0); y < min(a.y+a.h, f.h); y++ {
		for x := max(a.x, 0); x < min(a.x+a.w, f.w); x++ {
			f.cells[y*f.w+x].pane = uint8(set)
		}
	}
}

// String is the text of the frame, row by row; it serves tests and captures.
func (f frame) String() string {
	var b strings.Builder
	for y := range f.h {
		var row strings.Builder
		for _, c := range f.cells[y*f.w : (y+1)*f.w] {
			if c.r != 0 {
				row.WriteRune(c.r)
			}
		}
		b.WriteString(strings.TrimRight(row.String(), " ") + "\n")
	}
	return b.String()
}

// clean leaves what takes room on the screen: ends of lines and tabs become blanks, other control characters and marks that
// go on top of letters are dropped.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' {
			return ' '
		}
		if r < ' ' || r > '~' && uniseg.StringWidth(string(r)) == 0 {
			return -1
		}
		return r
	}, s)
}

func wide(r rune) bool { return r > 0x7f && uniseg.StringWidth(string(r)) > 1 }

// columns is how many columns a clean text takes.
func columns(s string) (n int) {
	for _, r := range s {
		n++
		if wide(r) {
			n++
		}
	}
	return n
}

// cut shortens a clean text to width columns and says so by dots at its end.
func cut(s string, width int) string {
	if columns(s) <= width {
		return s
	}
	return s[:fitted(s, max(width-2, 0))] + ".."[:max(min(width, 2), 0)]
}

// wrap breaks a clean text at its blanks into rows of up to width columns, and a word longer than a row where the row ends.
func wrap(s string, width int) []string { return wrapParts(strings.Fields(s), " ", width) }

// wrapParts sets parts with gap between them into rows of up to width columns.
func wrapParts(parts []string, gap string, width int) []string {
	var rows []string
	for _, part := range parts {
		if n := len(rows); n > 0 && columns(rows[n-1])+len(gap)+columns(part) <= width {
			rows[n-1] += gap + part
			continue
		}
		for columns(part) > max(width, 2) {
			at := fitted(part, max(width, 2))
			rows, part = append(rows, part[:at]), part[at:]
		}
		rows = append(rows, part)
	}
	return rows
}

// fitted is how many bytes of a clean text fit into width columns.
func fitted(s string, width int) int {
	for i, r := range s {
		if width -= columns(string(r)); width < 0 {
			return i
		}
	}
	return len(s)
}
