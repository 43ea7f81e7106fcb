package cables

import (
	"fmt"
	"strings"
)

// pen collects the lines and the words of a drawing. Coordinates are pixels, from the upper left corner.
type pen struct{ lines, words strings.Builder }

func (p *pen) line(x1, y1, x2, y2 int) {
	fmt.Fprintf(&p.lines, "<path d=\"M%d %dL%d %d\"/>\n", x1, y1, x2, y2)
}

func (p *pen) box(x, y, w, h int) {
	fmt.Fprintf(&p.lines, "<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\"/>\n", x, y, w, h)
}

// dot marks that lines that meet are joined.
func (p *pen) dot(x, y int) {
	fmt.Fprintf(&p.lines, "<circle cx=\"%d\" cy=\"%d\" r=\"3\" fill=\"#000\"/>\n", x, y)
}

func (p *pen) label(x, y int, anchor, text string) {
	fmt.Fprintf(&p.words, "<text x=\"%d\" y=\"%d\" text-anchor=\"%s\">%s</text>\n", x, y, anchor, escaped(text))
}

// plug draws two contacts, the named one at y and its screen below.
func (p *pen) plug(y int, name, contact string) {
	fmt.Fprintf(&p.words, "<text x=\"46\" y=\"%d\" font-weight=\"bold\">%s</text>\n", y-30, name)
	for _, c := range []struct {
		y    int
		text string
	}{{y, contact}, {y + rowApart, "screen"}} {
		fmt.Fprintf(&p.lines, "<circle cx=\"%d\" cy=\"%d\" r=\"4\" fill=\"#fff\"/>\n", colPlug-4, c.y)
		p.label(colPlug-13, c.y-8, "end", c.text)
	}
}

// resistor draws one that lies from x on, 70 wide.
func (p *pen) resistor(x, y int, text string) {
	p.box(x, y-10, 70, 20)
	p.label(x+35, y-18, "middle", text)
}

// diodes draws two, each way round, from y1 down to y2, with their names on the left or on the right.
func (p *pen) diodes(x, y1, y2 int, text string, left bool) {
	p.dot(x, y1)
	p.dot(x, y2)
	mid := (y1 + y2) / 2
	for i, side := range []int{-13, 13} {
		at, tip, foot := x+side, mid+8, mid-8
		if i == 1 {
			tip, foot = foot, tip
		}
		fmt.Fprintf(&p.lines, "<path d=\"M%d %dL%d %dL%d %dZ\" fill=\"#fff\"/>\n", at-9, foot, at+9, foot, at, tip)
		p.line(at-9, tip, at+9, tip)
		p.line(at, y1+12, at, mid-8)
		p.line(at, mid+8, at, y2-12)
	}
	for _, y := range []int{y1, y2} {
		in := 12
		if y == y2 {
			in = -12
		}
		p.line(x-13, y+in, x+13, y+in)
		p.line(x, y, x, y+in)
	}
	if left {
		p.label(x-30, mid+5, "end", text)
	} else {
		p.label(x+32, mid+5, "start", text)
	}
}

// chassis draws the sign of the engine's metal at x, with a wire from x0.
func (p *pen) chassis(x, y, x0 int) {
	if x0 != x {
		p.line(x0, y, x, y)
	}
	p.line(x, y, x, y+12)
	p.line(x-12, y+12, x+12, y+12)
	for d := -12; d <= 12; d += 8 {
		p.line(x+d, y+12, x+d-5, y+20)
	}
}

// points draws a set of points, open, with their condenser, below and right of a clip at x, y.
func (p *pen) points(x, y int, name, clip string) {
	fmt.Fprintf(&p.lines, "<circle cx=\"%d\" cy=\"%d\" r=\"5\" fill=\"#fff\"/>\n", x, y)
	p.label(x, y-14, "middle", clip)
	p.line(x+5, y, x+110, y)
	p.dot(x+50, y)
	p.line(x+50, y, x+50, y+30)
	p.line(x+34, y+32, x+50, y+72) // the arm, lifted
	p.line(x+50, y+72, x+50, y+95)
	p.line(x+110, y, x+110, y+46)
	p.line(x+96, y+46, x+124, y+46)
	p.line(x+96, y+54, x+124, y+54)
	p.line(x+110, y+54, x+110, y+95)
	p.line(x+50, y+95, x+110, y+95)
	p.dot(x+50, y+95)
	p.chassis(x+50, y+95, x+50)
	fmt.Fprintf(&p.words, "<text x=\"%d\" y=\"%d\" font-weight=\"bold\">%s</text>\n", x+60, y-14, escaped(strings.ToUpper(name)))
	p.label(x+75, y+122, "start", "condenser")
}
