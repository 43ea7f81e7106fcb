package cue

import "strings"

// Two sets of points share the screen: each has a pane on a background of its own. What is read and typed is below, on one that stays.

// sideBySide is how many columns two panes take beside each other; with fewer one is above the other.
const sideBySide = 80

// rule is how many columns stand between two panes that are beside each other.
const rule = 2

// besides are two panes in a, and what stands between them.
func besides(a area) (panes [2]area, between area) {
	if a.w < sideBySide {
		return [2]area{a.upper(a.h / 2), a.lower(a.h / 2)}, area{}
	}
	n := (a.w - rule) / 2
	return [2]area{a.left(n), a.right(a.w - n)}, area{a.x + n, a.y, a.w - 2*n, a.h}
}

// paintBoth draws a view of two sets of points.
func paintBoth(v View, p at, w, h int) frame {
	f := newFrame(w, h)
	need := max(bigRows(h, v.asks(), v.Result != "", v.Task != ""), min(h, 2))
	if h >= 16 && h < 22 && !v.asks() {
		need-- // what is to be done takes more rows on a narrow screen
	}
	if w < 60 && h < 22 {
		need = max(need, min(10, h-5)) // two words one above the other
	}
	band := 0
	if v.asks() && w >= 60 {
		band = bandRows(need)
	}
	top, below := f.heading(v, v.texts(p.now, w-2, band > 0))
	below = fitting(below, h-top-need)
	need = min(need, h-len(below)-top)
	f.panes(v, p, area{0, top, w, need - band})
	f.band(v, p, area{1, top + need - band, w - 2, band})
	f.texts(below)
	return f
}

// bandRows is how many of the rows kept for what is big are for what is asked and typed, or for the result; 0: it is written small.
func bandRows(need int) int {
	switch {
	case need >= 26:
		return 9
	case need >= 13:
		return 5
	}
	return 0
}

// band draws what is asked, and what was typed or else the newest result.
func (f frame) band(v View, p at, a area) {
	if a.h < 2 {
		return
	}
	f.text(a.x, a.y, a.w, v.Prompt, strong)
	if v.Typed == "" && v.Result != "" {
		f.figures(v.Result, p, a.lower(1))
	} else {
		f.typed(v.Typed, p, a.lower(1))
	}
}

// panes draws both sets of points.
func (f frame) panes(v View, p at, a area) {
	panes, between := besides(a)
	for y := range between.h {
		f.bar(between.x, between.y+y, between.w, "", reversed)
	}
	for i, a := range panes {
		f.pane(v, p, a, i)
	}
}

// pane draws one set of points, 0 or 1: its name, the word, the picture and the number of its newest opening, as far as there is room.
func (f frame) pane(v View, p at, a area, i int) {
	defer f.tint(a, i+1)
	one := v.of(i)
	mine := at{p.now, grounds{p.back[i+1]}, p.coarse}
	f.edge(mine, a, 1, 0)
	in := a.inset(1, 0)
	if name, ok := spell(strings.ToUpper(clean(v.Sets[i].Name))); ok && a.h >= roomy {
		if name, ok = name.fit(in.w, 4, p.coarse); ok {
			f.centre(name, in.upper(name.rows()), p.coarse)
			f.upright(one, mine, in.lower(name.rows()), v.Hand == i+1)
			return
		}
	}
	word, _ := spell(one.bigWord())
	width := in.w
	if width > widest+beside {
		width -= beside // for the picture
	}
	word, ok := word.fit(width, min(max(a.h-1, 4), letterRows), p.coarse)
	switch rows := a.h - 1; {
	case ok && rows < word.rows() && a.h >= word.rows() && width < in.w:
		f.stamp(word, in.x, in.y, p.coarse)
		small, _ := one.State.words()
		f.nameRow(v, p, in.upper(1).right(width), i, ": "+small)
		f.contacts(one, mine, in.lower(1).right(width+1))
	case !ok || rows < word.rows():
		f.stateRow(v, p, a.lower(max(a.h-1, 0)/2), i)
	case rows >= tall && a.w >= 20:
		f.nameRow(v, p, a, i, "")
		f.upright(one, mine, in.lower(1), false)
	default:
		small, _ := one.State.words()
		f.nameRow(v, p, a, i, ": "+small)
		f.stamp(word, in.x, in.y+1+(rows-word.rows())/2, p.coarse)
		if width < in.w {
			f.contacts(one, mine, in.lower(1).right(width+1))
		}
	}
}

const (
	roomy = 16 // rows of a pane, from which on its name is in big letters
	tall  = 9  // rows below its name, from which on the picture is below the word

	widest = 37 // dots of the widest word, UNKNOWN
	beside = 14 // columns for the picture at its right
)

func (v View) bigWord() string {
	_, big := v.State.words()
	return big
}

// nameRow names a set of points on a strip of its own, with what is known of the openings.
func (f frame) nameRow(v View, p at, a area, i int, more string) {
	mark := " "
	if v.Hand == i+1 {
		mark = pointer
	}
	f.bar(a.x, a.y, a.w, mark+v.of(i).withOpenings(clean(v.Sets[i].Name)+more, p.now, a.w-len(mark)-1), striking)
}

// stateRow says in one row all that is known of a set of points.
func (f frame) stateRow(v View, p at, a area, i int) {
	if a.h < 1 {
		return
	}
	small, big := v.of(i).State.words()
	name := clean(v.Sets[i].Name)
	text := name + ": " + small + " " + big
	if over := columns(text) - (a.w - 2); over > 0 { // the state before all
		text = cut(name, max(columns(name)-over+1, 2)) + " " + small + " " + big
		if columns(text) > a.w-2 {
			text = small + " " + big
		}
	}
	f.tint(a, i+1)
	f.bar(a.x, a.y, a.w, " "+v.of(i).withOpenings(text, p.now, a.w-2), strong)
}

// upright draws the word, and below it the picture and the number.
func (f frame) upright(v View, p at, a area, hand bool) {
	small, big := v.State.words()
	small = spaced(small)
	if hand {
		small = pointer + small + " <"
	}
	f.text(a.x+(a.w-len(small)+1)/2, a.y, a.w, small, strong)
	a = a.lower(1)
	d, _ := spell(big)
	d, ok := d.fit(a.w, max(a.h*11/20, min(letterRows, a.h-4)), p.coarse)
	if !ok {
		f.text(a.x, a.y, a.w, big, strong)
		return
	}
	f.centre(d, a.upper(d.rows()), p.coarse)
	a = a.lower(d.rows())
	if a.h > 5 {
		a = a.lower(1)
	}
	f.contacts(v, p, a)
}

// contacts draws the picture of the points, and at its right the number of the newest opening.
func (f frame) contacts(v View, p at, a area) {
	if a.h < 3 || a.w < 8 {
		return
	}
	left := a.left(a.w * 3 / 8)
	if v.Number == 0 || a.w < 24 {
		left = a
	} else {
		f.number(v, p, a.right(left.w+2))
	}
	f.centre(picture(v.State, min(left.w, 6*left.h), 2*left.h), left, p.coarse)
}
