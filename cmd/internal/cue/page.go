package cue

import (
	"fmt"
	"strings"
	"time"
)

// pointer stands at the left of the current item, which is told from the others by it where reverse video is not seen.
const pointer = "> "

// paintPage draws a view that has a page: the state of the points as a bar, the page, and the texts at the bottom.
func paintPage(v View, p at, w, h int) frame {
	f := newFrame(w, h)
	top, room, below, b := f.layPage(v, p)
	rows := b.within(room)
	for i, r := range rows {
		if r.look.bar() {
			f.bar(0, top+i, w, r.text, r.look)
		} else {
			f.text(0, top+i, w, r.text, r.look)
		}
	}
	f.texts(fitting(below, h-top-len(rows)))
	return f
}

// layPage draws what is above a page, and returns where it begins, how many rows it has, its items and the texts below it.
func (f frame) layPage(v View, p at) (top, room int, below []row, b blocks) {
	w, h := f.w, f.h
	top, below = f.heading(v, v.pageTexts(w-2))
	top += f.stateBars(v, p, top)
	musts := 0
	for _, r := range below {
		if r.rank <= 1 && r.text != "" {
			musts++
		}
	}
	b = v.Page.blocks(w)
	// The room for the page depends on little, so that nothing moves when a text comes or goes.
	most := max(h-top-musts, 1)
	return top, min(max(h-top-textRows(h), b.least()), most), below, b
}

// nextItem is the index of the first item of v's page that has no room below the others on a screen of w columns and h rows; 0: none.
func (v View) nextItem(w, h int) int {
	_, room, _, b := newFrame(w, h).layPage(v, at{})
	return b.next(room)
}

// stateBars says in a row what is known of the points, in two where both sets have no room in one. It returns how many rows it took.
func (f frame) stateBars(v View, p at, y int) int {
	if v.Bar != "" {
		f.bar(0, y, f.w, " "+gauged(clean(v.Bar), f.w-2), striking)
		return 1
	}
	if !v.both() {
		f.bar(0, y, f.w, " "+v.stateBar(p.now, f.w-2), striking)
		return 1
	}
	panes, _ := besides(area{0, y, f.w, 2})
	for i, a := range panes {
		a.h = 1
		f.stateRow(v, p, a, i)
	}
	return panes[1].y + 1 - y
}

// textRows is how many of h rows are kept for the texts below a page.
func textRows(h int) int {
	switch {
	case h >= 36:
		return 7
	case h >= 22:
		return 5
	case h >= 12:
		return 2
	default:
		return 1
	}
}

// pageTexts are the rows of text below a page. What the keys do matters more there: the page is done with keys.
func (v View) pageTexts(width int) []row {
	t := texts{width: width}
	t.warning(v.Warning)
	t.task(v.Task)
	if v.Prompt != "" || v.Result != "" || v.Typed != "" {
		t.prompt(v)
	}
	t.add(v.Advice, plain, 5, 9)
	t.add(v.Note, plain, 6, 10)
	t.add(v.Health, plain, 8, 12)
	t.keys(v.Keys, 3, 7)
	return t.rows
}

// stateBar says in one row what is known of the points, and of the openings as far as there is room.
func (v View) stateBar(now time.Time, width int) string {
	small, big := v.State.words()
	return v.withOpenings(small+" "+big, now, width)
}

// withOpenings adds to a text what is known of the openings, as far as there is room.
func (v View) withOpenings(state string, now time.Time, width int) string {
	for _, more := range []string{v.sentence(now), v.openings(now)} {
		if room := width - len(state) - 2 - len(more); room >= 0 {
			return state + strings.Repeat(" ", room+2) + more
		}
	}
	return state
}

// openings is the short form of sentence.
func (v View) openings(now time.Time) string {
	switch {
	case v.kept():
		return fmt.Sprintf("opening %d %s", v.Number, v.age(now))
	case v.Number == 0:
		return "no opening yet"
	case v.shared:
		return fmt.Sprintf("newest: opening %d", v.Number)
	case v.Number == 1:
		return "1 opening"
	}
	return fmt.Sprintf("%d openings", v.Number)
}

// heading says with its number which step a page is.
func (g Page) heading() string {
	title := clean(g.Title)
	switch {
	case g.At > 0 && g.Of > 0:
		return fmt.Sprintf("step %d of %d: %s", g.At, g.Of, title)
	case g.At > 0:
		return fmt.Sprintf("step %d: %s", g.At, title)
	}
	return title
}
