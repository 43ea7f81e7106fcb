package cables

import (
	"fmt"
	"strings"
)

// SVG returns the cable's circuit diagram as a drawing for a page or a browser, with a title and a description. Symbols are those of
// IEC 60617: boxes for resistors, two plates for capacitors, triangles with a bar for diodes.
func (c Cable) SVG() string {
	var p pen
	height := 0
	switch c.Name {
	case "across":
		height = p.across()
	case "in-line":
		height = p.inLine()
	case "two-across":
		height = p.twoAcross()
	case "two-in-line":
		height = p.twoInLine()
	}
	const width = 800
	var out strings.Builder
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="title desc" width="%d" height="%d" viewBox="0 0 %d %d" `+
		`font-family="Liberation Sans, Arial, sans-serif" font-size="15">`+"\n", width, height, width, height)
	fmt.Fprintf(&out, "<title id=\"title\">Cable %s</title>\n<desc id=\"desc\">%s Parts: %s.</desc>\n", escaped(c.Title), escaped(c.Use), escaped(c.partsLine()))
	fmt.Fprintf(&out, "<rect width=\"%d\" height=\"%d\" fill=\"#fff\"/>\n", width, height)
	out.WriteString(`<g fill="none" stroke="#000" stroke-width="1.8" stroke-linecap="round" stroke-linejoin="round">` + "\n")
	out.WriteString(p.lines.String())
	out.WriteString("</g>\n<g fill=\"#000\">\n")
	out.WriteString(p.words.String())
	out.WriteString("</g>\n</svg>\n")
	return out.String()
}

// partsLine names the marked parts in a row.
func (c Cable) partsLine() string {
	var out []string
	for _, p := range c.Parts {
		if p.Mark != "" {
			out = append(out, p.Mark+" "+p.What)
		}
	}
	return strings.Join(out, "; ")
}

// escaped makes text fit for SVG.
func escaped(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(s)
}

// Columns of the drawings [pixels].
const (
	colBus    = 20  // what joins the screens of a cable in line
	colPlug   = 90  // contacts of the plugs
	colDiodes = 180 // node with the diodes
	colR      = 290 // left end of a resistor
	colLoad   = 440 // the load
	colClip   = 610 // the clip on the insulated lead
	rowApart  = 70  // from a contact to its screen
)

// across draws the cable across one set.
func (p *pen) across() int {
	p.output(60, "OUTPUT", "tip", "R1 100 Ω", "D1 D2")
	p.chassis(colDiodes+60, 60+rowApart, colDiodes)
	p.label(470, 50, "middle", "drive")
	p.input(230)
	p.resistor(colR, 230, "R2 1 kΩ")
	p.line(colDiodes, 230, colR, 230)
	p.line(colR+70, 230, colClip, 230)
	p.label(470, 220, "middle", "sense")
	p.line(colClip, 230, colClip, 60)
	p.chassis(colDiodes+60, 230+rowApart, colDiodes)
	p.points(colClip, 60, "points", "red clip")
	p.label(colDiodes+85, 230+rowApart+6, "start", "engine (black clip): both screens")
	return 350
}

// inLine draws the cable in line with one set.
func (p *pen) inLine() int {
	p.bus(60, 260)
	p.output(60, "OUTPUT", "tip", "R1 100 Ω", "D1 D2")
	p.points(colClip, 60, "points", "red clip")
	p.back(260, "47 Ω")
	p.label(colLoad+40, 260+rowApart+6, "start", "screens: not to the engine")
	return 380
}

// twoAcross draws the cable across two sets.
func (p *pen) twoAcross() int {
	p.output(60, "OUTPUT", "tip", "R1 100 Ω", "D1 D2")
	p.chassis(colDiodes+60, 60+rowApart, colDiodes)
	p.label(470, 50, "middle", "drive 1")
	p.points(colClip, 60, "points 1", "clip 1")
	p.input(270)
	p.line(colDiodes, 240, colDiodes, 270)
	p.line(colDiodes+40, 240, colDiodes+40, 300)
	p.line(colDiodes, 240, colR, 240)
	p.dot(colDiodes+40, 240)
	p.line(colDiodes+40, 300, colR, 300)
	p.resistor(colR, 240, "R2 1 kΩ")
	p.resistor(colR, 300, "R5 1 kΩ")
	p.line(colR+70, 240, colClip-30, 240)
	p.line(colClip-30, 240, colClip-30, 60)
	p.dot(colClip-30, 60)
	p.label(470, 230, "middle", "sense 1")
	p.line(colR+70, 300, colClip-30, 300)
	p.line(colClip-30, 300, colClip-30, 430)
	p.dot(colClip-30, 430)
	p.label(470, 290, "middle", "sense 2")
	p.chassis(colDiodes+60, 270+rowApart, colDiodes)
	p.output(430, "SAME PLUG", "ring", "R4 100 Ω", "D5 D6")
	p.chassis(colDiodes+60, 430+rowApart, colDiodes)
	p.label(470, 420, "middle", "drive 2")
	p.points(colClip, 430, "points 2", "clip 2")
	p.label(colDiodes+85, 430+rowApart+6, "start", "engine (black clip): all screens")
	return 590
}

// twoInLine draws the cable in line with two sets.
func (p *pen) twoInLine() int {
	p.bus(60, 250, 450)
	p.output(60, "OUTPUT", "tip", "R1 100 Ω", "D1 D2")
	p.points(colClip, 60, "points 1", "clip 1")
	p.output(250, "SAME PLUG", "ring", "R4 100 Ω", "D5 D6")
	p.points(colClip, 250, "points 2", "clip 2")
	p.back(450, "10 Ω")
	p.label(colLoad+40, 450+rowApart+6, "start", "screens: not to the engine")
	return 570
}

// output draws the output's contact at y, its screen, the diodes between, and the resistor on the way to the clip.
func (p *pen) output(y int, name, contact, resistor, diodes string) {
	p.plug(y, name, contact)
	p.line(colPlug, y, colR, y)
	p.line(colPlug, y+rowApart, colDiodes, y+rowApart)
	p.diodes(colDiodes, y, y+rowApart, diodes, false)
	p.resistor(colR, y, resistor)
	p.line(colR+70, y, colClip, y)
}

// input draws the input's contact at y with its capacitor, its screen and the diodes between.
func (p *pen) input(y int) {
	p.plug(y, "INPUT", "tip")
	p.line(colPlug, y, 124, y)
	p.line(124, y-13, 124, y+13)
	p.line(132, y-13, 132, y+13)
	p.line(132, y, colDiodes, y)
	p.label(128, y-20, "middle", "C1 1 µF")
	p.line(colPlug, y+rowApart, colDiodes, y+rowApart)
	p.diodes(colDiodes, y, y+rowApart, "D3 D4", true)
}

// back draws the way from the engine to the input at y, with a load of so many ohms.
func (p *pen) back(y int, load string) {
	p.input(y)
	p.line(colDiodes, y, colR, y)
	p.resistor(colR, y, "R2 1 kΩ")
	p.line(colR+70, y, colClip+20, y)
	p.dot(colLoad, y)
	p.line(colLoad, y, colLoad, y+12)
	p.box(colLoad-9, y+12, 18, 46)
	p.label(colLoad+16, y+42, "start", "R6 "+load)
	p.line(colLoad, y+58, colLoad, y+rowApart)
	p.line(colDiodes, y+rowApart, colLoad, y+rowApart)
	p.chassis(colClip+20, y, colClip+20)
	p.label(colClip+42, y+6, "start", "engine (black clip)")
}

// bus joins the screens of the plugs at these heights.
func (p *pen) bus(ys ...int) {
	for i, y := range ys {
		p.line(colPlug, y+rowApart, colBus, y+rowApart)
		if i > 0 {
			p.line(colBus, ys[i-1]+rowApart, colBus, y+rowApart)
		}
		if i > 0 && i < len(ys)-1 {
			p.dot(colBus, y+rowApart)
		}
	}
}
