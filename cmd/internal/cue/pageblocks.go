package cue

import (
	"fmt"
	"strings"
)

// blocks is a page broken into rows.
type blocks struct {
	title    []row
	items    [][]row
	cautions []bool // by item
	current  int    // index of the item that is always on the screen; where none is dealt with, the one that Page.From names
	marked   bool   // there is an item that is dealt with
}

// blocks breaks g into rows for a screen of w columns.
func (g Page) blocks(w int) (b blocks) {
	width := max(w-1-len(pointer), 1)
	for _, part := range wrap(g.heading(), max(w-2, 1)) {
		b.title = append(b.title, row{text: " " + part, look: strong})
	}
	for i, it := range g.items() {
		l, left := plain, strings.Repeat(" ", len(pointer))
		if it.caution() {
			l = strong
		}
		current := i == g.Current
		if current {
			l = reversed
			if it.caution() {
				l = striking
			}
			b.current, b.marked = i, true
		}
		var rows []row
		parts := it.rows(width)
		if len(parts) == 0 {
			parts = []string{""}
		}
		for j, part := range parts {
			if j == 0 && current {
				part = pointer + part
			} else {
				part = left + part
			}
			rows = append(rows, row{text: part, look: l, more: j > 0})
		}
		b.items = append(b.items, rows)
		b.cautions = append(b.cautions, it.caution())
	}
	if !b.marked {
		b.current = min(max(g.From, 0), max(len(b.items)-1, 0))
	}
	return b
}

// least is how many rows the page needs for the current item with one row of the title and one that tells of the others.
func (b blocks) least() int {
	n := min(len(b.title), 1)
	if len(b.items) > 0 {
		n += len(b.items[b.current]) + min(len(b.items)-1, 1)
	}
	return n
}

// within lays the page out in up to room rows, with blank rows where all fits.
func (b blocks) within(room int) []row {
	n := len(b.title)
	for _, it := range b.items {
		n += len(it)
	}
	switch {
	case n+len(b.items)+2 <= room:
		return b.spaced()
	case n+3 <= room:
		return append(b.all([]row{{}}, row{}), row{})
	case n+1 <= room:
		return b.all(nil, row{})
	case n <= room:
		return b.all(nil)
	}
	return b.part(room)
}

// all is the title and all items.
func (b blocks) all(above []row, between ...row) []row {
	rows := append(above, b.title...)
	rows = append(rows, between...)
	for _, it := range b.items {
		rows = append(rows, it...)
	}
	return rows
}

// spaced has a blank row before and after the title and each item. Those around a current caution belong to its bar.
func (b blocks) spaced() []row {
	rows := append([]row{{}}, b.title...)
	fill := row{}
	for i, it := range b.items {
		around := row{}
		if b.marked && i == b.current && b.cautions[i] {
			around.look = striking
		}
		if around.look == striking {
			fill = around
		}
		rows = append(append(rows, fill), it...)
		fill = around
	}
	return append(rows, fill)
}

// part is what of the page has room: the current item before all, then a row that tells of the items that are not shown, then
// the title, then the items next to the current one.
func (b blocks) part(room int) []row {
	if len(b.items) == 0 {
		return shortened(b.title, room)
	}
	title := b.titleIn(room)
	if room -= len(title); len(b.items[b.current])+min(len(b.items)-1, 1) > room {
		return append(title, shortened(b.items[b.current], room)...)
	}
	return append(title, b.window(room)...)
}

// titleIn is what of the title has room, where there is an item and not all have room.
func (b blocks) titleIn(room int) []row {
	size := len(b.items[b.current])
	told := min(len(b.items)-1, 1)
	title := b.title
	for len(title) > 1 && len(title)+size+2*told > room {
		title = shortened(title, len(title)-1)
	}
	if len(title)+size+told > room {
		return nil
	}
	return title
}

// next is the index of the first item below those that within shows; 0 where there is none.
func (b blocks) next(room int) int {
	n := len(b.title)
	for _, it := range b.items {
		n += len(it)
	}
	if n <= room || len(b.items) == 0 {
		return 0
	}
	_, to := b.span(room - len(b.titleIn(room)))
	return to % len(b.items)
}

// window shows the current item, and as many of those next to it as there is room for, the following ones first.
func (b blocks) window(room int) []row {
	from, to := b.span(room)
	var rows []row
	both := b.height(from, to) > room // there is but one row to tell of those above and below
	if from > 0 && !both {
		rows = append(rows, row{text: b.hidden(0, from, "above")})
	}
	for _, it := range b.items[from:to] {
		rows = append(rows, it...)
	}
	switch {
	case both:
		rows = append(rows, row{text: fmt.Sprintf("  %d above, %d below", from, len(b.items)-to)})
	case to < len(b.items):
		rows = append(rows, row{text: b.hidden(to, len(b.items), "below")})
	}
	return rows
}

// span is which items window shows: those from from on, before to.
func (b blocks) span(room int) (from, to int) {
	from, to = b.current, b.current+1
	for grown := true; grown; {
		grown = false
		if to < len(b.items) && b.height(from, to+1) <= room {
			to, grown = to+1, true
		}
		if from > 0 && b.height(from-1, to) <= room {
			from, grown = from-1, true
		}
	}
	return from, to
}

// height is how many rows the items from from to before to take, with the rows that tell of the others.
func (b blocks) height(from, to int) (n int) {
	for _, it := range b.items[from:to] {
		n += len(it)
	}
	return n + min(from, 1) + min(len(b.items)-to, 1)
}

// hidden tells of items that are not shown.
func (b blocks) hidden(from, to int, where string) string {
	text, cautions := fmt.Sprintf("  %d more %s", to-from, where), 0
	for _, is := range b.cautions[from:to] {
		if is {
			cautions++
		}
	}
	switch {
	case cautions == 1:
		text += ", 1 caution"
	case cautions > 1:
		text += fmt.Sprintf(", %d cautions", cautions)
	}
	return text
}

// shortened is rows without what is beyond n rows; the last one says so.
func shortened(rows []row, n int) []row {
	n = max(n, 0)
	if len(rows) <= n {
		return rows
	}
	if n == 0 {
		return nil
	}
	out := append([]row(nil), rows[:n]...)
	out[n-1].text += " .."
	return out
}
