package cue

import (
	"regexp"
	"slices"
	"strings"

	"github.com/gdamore/tcell/v2/terminfo"
)

// pen turns frames into what a terminal is sent. tcell could, but it takes ten times as long over a new background, for
// every cell, as all the rest between the sound card and the glass.
type pen struct {
	ti    *terminfo.Terminfo
	dress [4][looks]string // what turns each dress on
	ascii bool             // the terminal shows nothing beyond ASCII
	begin string           // holds the picture until end, so that no half of a frame is seen
	end   string
}

// padding is a pause after a command, which terminals with motors and slow chips needed.
var padding = regexp.MustCompile(`\$<[^>]*>`)

// adapted is a copy of ti for the needs of this screen.
func adapted(ti *terminfo.Terminfo, noColour bool) *terminfo.Terminfo {
	t := *ti
	for _, s := range []*string{&t.SetCursor, &t.Clear, &t.AttrOff, &t.Bold, &t.Reverse} {
		*s = padding.ReplaceAllString(*s, "")
	}
	// In the keypad's application mode its keys send codes of their own, which tcell does not know.
	t.EnterKeypad = ""
	// Without this the last cell of the screen cannot be written. All terminals of the ANSI family know it, though many
	// descriptions leave it out.
	if t.DisableAutoMargin == "" && strings.HasPrefix(t.SetCursor, "\x1b[") {
		t.DisableAutoMargin, t.EnableAutoMargin = "\x1b[?7l", "\x1b[?7h"
	}
	if noColour {
		t.ResetFgBg = ""
	}
	return &t
}

func newPen(ti *terminfo.Terminfo, all [4]dresses, ascii bool) *pen {
	p := &pen{ti: ti, ascii: ascii}
	for s, ds := range all {
		for l, d := range ds {
			p.dress[s][l] = p.on(d)
		}
	}
	if strings.HasPrefix(ti.Name, "xterm") {
		p.begin, p.end = "\x1b[?2026h", "\x1b[?2026l" // synchronised output; terminals without it take no notice
	}
	return p
}

// on is what turns d on.
func (p *pen) on(d dress) string {
	ti := p.ti
	text := ti.AttrOff
	if d.coloured {
		text += p.colours(d.pair)
	}
	if d.bold {
		text += ti.Bold
	}
	if d.reverse {
		text += ti.Reverse
	}
	return text
}

func (p *pen) colours(c pair) string {
	ti := p.ti
	if !c.ink.IsRGB() {
		ink, paper := int(c.ink&0xff), int(c.paper&0xff)
		if ti.SetFgBg != "" {
			return ti.TParm(ti.SetFgBg, ink, paper)
		}
		return ti.TParm(ti.SetFg, ink) + ti.TParm(ti.SetBg, paper)
	}
	r1, g1, b1 := c.ink.RGB()
	r2, g2, b2 := c.paper.RGB()
	if ti.SetFgBgRGB != "" {
		return ti.TParm(ti.SetFgBgRGB, int(r1), int(g1), int(b1), int(r2), int(g2), int(b2))
	}
	return ti.TParm(ti.SetFgRGB, int(r1), int(g1), int(b1)) + ti.TParm(ti.SetBgRGB, int(r2), int(g2), int(b2))
}

// write appends what makes a screen that shows last show f: of each row that is new, all from the first new cell to the
// last.
func (p *pen) write(dst []byte, f, last picturedFrame) []byte {
	all := !last.valid || last.back != f.back || last.w != f.w || last.h != f.h
	start := len(dst)
	dst = append(dst, p.begin...)
	empty := len(dst)
	on, style := Unknown, looks // none
	dressed := func(c cell) {
		if s := f.back[c.pane]; c.look != style || s != on {
			on, style = s, c.look
			dst = append(dst, p.dress[s][c.look]...)
		}
	}
	if !last.valid {
		dressed(cell{})
		dst = append(dst, p.ti.Clear...)
	}
	for y := range f.h {
		row := f.cells[y*f.w : (y+1)*f.w]
		from, to := 0, f.w
		if !all {
			from, to = changed(row, last.cells[y*f.w:(y+1)*f.w])
		}
		if y == f.h-1 && to == f.w && p.ti.AutoMargin && p.ti.DisableAutoMargin == "" {
			to-- // the last cell of all would make the screen scroll
		}
		if from >= to {
			continue
		}
		dst = append(dst, p.ti.TGoto(from, y)...)
		for _, c := range row[from:to] {
			if c.r == 0 {
				continue
			}
			dressed(c)
			dst = p.letter(dst, c.r)
		}
	}
	if len(dst) == empty {
		return dst[:start]
	}
	return append(dst, p.end...)
}

func (p *pen) letter(dst []byte, r rune) []byte {
	switch {
	case r < 0x80:
		return append(dst, byte(r))
	case p.ascii && wide(r):
		return append(dst, "??"...)
	case p.ascii:
		return append(dst, '?')
	}
	return append(dst, string(r)...)
}

// changed returns the first cell that differs and the one after the last. The first is never the right half of a letter: that
// differs only where the left half does.
func changed(row, was []cell) (from, to int) {
	if slices.Equal(row, was) {
		return 0, 0
	}
	for row[from] == was[from] {
		from++
	}
	for to = len(row); row[to-1] == was[to-1]; {
		to--
	}
	return from, to
}
