package cue

import (
	"slices"
	"strings"
	"time"
)

// How big the letters are. A letter can be read from 200 times its height away (common practice for signs; people with
// full sight need half of that), so 4 m take 20 mm. A terminal of 24 rows that fills a small laptop's screen (190 mm
// high) has rows of 8 mm, one in an ordinary window of about 5 mm. The big word is 7 rows high at 80x24: 35 to 55 mm.
// What is typed is read at arm's length: its letters are 3 to 4 rows high, and even one row would do.

// at is where and in which way something is painted.
type at struct {
	now    time.Time
	back   State // whose background it goes on; that follows the state of the points more slowly when they chatter
	coarse bool  // the terminal has no half blocks
}

// paint draws v on a frame of w columns and h rows.
func paint(v View, p at, w, h int) frame {
	f := newFrame(w, h)
	asked := v.Prompt != ""
	need := bigRows(h, asked)
	bigPrompt := asked && need >= 17 && w >= 60
	below := v.rows(p.now, w-2, bigPrompt)
	top := 0
	if h >= 16 {
		top = 1
		f.text(1, 0, w-2, v.Heading, plain)
		if room := w - 4 - columns(clean(v.Heading)); v.Record != "" && columns(clean(v.Record)) <= room {
			f.text(w-1-columns(clean(v.Record)), 0, room, v.Record, plain)
		} else {
			below = append(below, row{text: v.Record, rank: 13})
		}
	} else {
		below = append(below, row{text: v.Heading, rank: 14}, row{text: v.Record, rank: 13})
	}
	below = fitting(below, h-top-need)
	y := h - len(below)
	// Always the same rows, so that nothing big moves when a text comes or goes.
	f.big(v, p, area{1, top, w - 2, min(need, y-top)}, bigPrompt)
	for _, r := range below {
		if r.look == reversed {
			f.bar(0, y, w, " "+r.text, reversed)
		} else {
			f.text(1, y, w-2, r.text, r.look)
		}
		y++
	}
	return f
}

// bigRows is how many of h rows are kept for the big word, the picture and the number.
func bigRows(h int, asked bool) int {
	switch {
	case h >= 36:
		return h - 9
	case h >= 22 && asked:
		return h - 4
	case h >= 22:
		return h - 6
	case h >= 12:
		return h - 3
	default:
		return (h + 1) / 2
	}
}

// row is one row of text. When there are too many, those of the highest rank go first.
type row struct {
	text string
	look look
	rank int
	more bool // it goes on with the row before it
}

// rows are the rows of text below the big ones, from top to bottom.
func (v View) rows(now time.Time, width int, promptIsBig bool) []row {
	var rows []row
	add := func(text string, l look, rank, rankOfMore int) {
		for i, part := range wrap(clean(text), width) {
			rows = append(rows, row{part, l, rank, i > 0})
			rank = rankOfMore
		}
	}
	if v.Warning != "" {
		add("! WARNING: "+v.Warning, reversed, 1, 4)
	}
	if v.Prompt != "" && !promptIsBig {
		add(v.Prompt, strong, 1, 4)
		rows = append(rows, row{"> " + clean(v.Typed) + "_", strong, 0, false})
	}
	add(v.sentence(now), strong, 2, 3)
	add(v.Advice, plain, 5, 9)
	add(v.Note, plain, 6, 10) // what has just happened goes before the keys, which are there again with the next opening
	add(v.Health, plain, 8, 12)
	add(v.Keys, plain, 7, 11)
	return rows
}

// fitting leaves up to n rows. A text that has lost its end says so.
func fitting(rows []row, n int) []row {
	rows = slices.DeleteFunc(rows, func(r row) bool { return r.text == "" })
	for len(rows) > max(n, 0) {
		last := 0
		for i, r := range rows {
			if r.rank >= rows[last].rank {
				last = i
			}
		}
		if rows[last].more {
			rows[last-1].text = strings.TrimRight(rows[last-1].text, ".") + " .."
		}
		rows = slices.Delete(rows, last, last+1)
	}
	return rows
}

// area is a part of the frame.
type area struct{ x, y, w, h int }

// inset leaves dx columns at each side and dy rows above and below.
func (a area) inset(dx, dy int) area {
	return area{a.x + dx, a.y + dy, max(a.w-2*dx, 0), max(a.h-2*dy, 0)}
}

// upper and lower cut a below its first n rows.
func (a area) upper(n int) area { return area{a.x, a.y, a.w, min(n, a.h)} }
func (a area) lower(n int) area { return area{a.x, a.y + n, a.w, max(a.h-n, 0)} }

// left and right cut a after its first n columns.
func (a area) left(n int) area  { return area{a.x, a.y, min(n, a.w), a.h} }
func (a area) right(n int) area { return area{a.x + n, a.y, max(a.w-n, 0), a.h} }

// centre puts d in the middle of a.
func (f frame) centre(d dots, a area, coarse bool) {
	f.stamp(d, a.x+max((a.w-d.w)/2, 0), a.y+max((a.h-d.rows())/2, 0), coarse)
}
