package cue

import (
	"slices"
	"strings"
	"time"
)

// row is one row of text. When there are too many, those of the highest rank go first.
type row struct {
	text string
	look look
	rank int
	more bool // it goes on with the row before it
}

// texts collects rows of up to width columns.
type texts struct {
	width int
	rows  []row
}

// add breaks a text into rows. rank is that of the first, rankOfMore that of the others.
func (t *texts) add(text string, l look, rank, rankOfMore int) {
	t.put(wrap(clean(text), t.width), l, rank, rankOfMore)
}

func (t *texts) put(parts []string, l look, rank, rankOfMore int) {
	for i, part := range parts {
		t.rows = append(t.rows, row{part, l, rank, i > 0})
		rank = rankOfMore
	}
}

func (t *texts) warning(text string) {
	if text != "" {
		t.add("! WARNING: "+text, reversed, 1, 4)
	}
}

// task adds what is to be done now. A caution looks like one of a page.
func (t *texts) task(text string) {
	if it := itemOf(clean(text)); it.caution() {
		t.put(it.rows(t.width), striking, 2, 3)
	} else {
		t.add(text, strong, 2, 3)
	}
}

// keys adds what the keys do. Two blanks stand between two keys, and no row ends within one, as long as that takes no more rows.
func (t *texts) keys(text string, rank, rankOfMore int) {
	var parts []string
	for _, part := range strings.Split(clean(text), "  ") {
		if part = strings.TrimSpace(part); columns(part) > t.width {
			parts = append(parts, wrap(part, t.width)...)
		} else if part != "" {
			parts = append(parts, part)
		}
	}
	rows := wrapParts(parts, "  ", t.width)
	if tight := wrap(clean(text), t.width); len(tight) < len(rows) {
		rows = tight
	}
	t.put(rows, plain, rank, rankOfMore)
}

// verdict adds an advice that came with a result: its verdict stands behind what is to be moved.
func (t *texts) verdict(text string) {
	for i, part := range wrap(clean(text), t.width) {
		rank := 2
		if i >= 3 {
			rank = 3
		}
		t.rows = append(t.rows, row{part, plain, rank, i > 0})
	}
}

// prompt adds what is asked, and what was typed or else the newest result.
func (t *texts) prompt(v View) {
	t.add(v.Prompt, strong, 1, 4)
	if v.Typed == "" && v.Result != "" {
		t.rows = append(t.rows, row{"= " + clean(v.Result), strong, 0, false})
	} else {
		t.rows = append(t.rows, row{"> " + clean(v.Typed) + "_", strong, 0, false})
	}
}

// texts are the rows of text below the big ones, from top to bottom.
func (v View) texts(now time.Time, width int, promptIsBig bool) []row {
	t := texts{width: width}
	t.warning(v.Warning)
	t.task(v.Task)
	if v.asks() && !promptIsBig {
		t.prompt(v)
	}
	if v.Result == "" {
		rank := 2
		if v.both() && !v.Sets[0].Provisional && !v.Sets[1].Provisional {
			rank = 8 // the panes say the rest
		}
		t.add(v.sentences(now), strong, rank, rank+1)
		t.add(v.Advice, plain, 5, 9)
	} else { // the advice has the verdict then
		rank := 8
		if v.Provisional || v.Sets[0].Provisional || v.Sets[1].Provisional { // else the number says the same
			rank = 6
		}
		t.add(v.sentences(now), strong, rank, rank)
		t.verdict(v.Advice)
	}
	t.add(v.Note, plain, 6, 10) // what has just happened goes before the keys, which are there again with the next opening
	t.add(v.Health, plain, 8, 12)
	t.keys(v.Keys, 7, 11)
	return t.rows
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

// heading draws what runs and what is recorded into the first row. Where there is none for it, it adds them to the texts; top is the
// first row that is free.
func (f frame) heading(v View, below []row) (top int, more []row) {
	if f.h < 16 {
		return 0, append(below, row{text: leading(v.Heading, f.w-2), rank: 14}, row{text: v.Record, rank: 13})
	}
	f.text(1, 0, f.w-2, leading(v.Heading, f.w-2), plain)
	record := columns(clean(v.Record))
	if room := f.w - 4 - columns(clean(v.Heading)); v.Record != "" && record <= room {
		f.text(f.w-1-record, 0, room, v.Record, plain)
		return 1, below
	}
	return 1, append(below, row{text: v.Record, rank: 13})
}

// leading is as many of the parts of a text, between commas, as have room in width columns; the first one in any case.
func leading(text string, width int) string {
	for columns(clean(text)) > width {
		i := strings.LastIndex(text, ", ")
		if i < 0 {
			break
		}
		text = text[:i]
	}
	return text
}

// texts draws rows at the bottom.
func (f frame) texts(rows []row) {
	y := f.h - len(rows)
	for _, r := range rows {
		if r.look.bar() {
			f.bar(0, y, f.w, " "+r.text, r.look)
		} else {
			f.text(1, y, f.w-2, r.text, r.look)
		}
		y++
	}
}
