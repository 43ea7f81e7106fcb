package cue

import "strings"

// result draws the newest result, or what was typed since, over the whole width below the prompt, and returns the area that
// is left above it.
func (f frame) result(v View, p at, a area) area {
	least := (letterRows + 1) / 2
	if p.coarse {
		least = letterRows
	}
	asked := fitting(promptRows(v.Prompt, a.w), max(min(2, a.h-least), 1))
	const aside = 4 // rows for the picture and the number
	above := max(min(a.h-len(asked)-least, max(a.h/3, aside)), 0)
	y := a.y + above
	for i, r := range asked {
		f.text(a.x, y+i, a.w, r.text, strong)
	}
	room := a.lower(above + len(asked))
	if v.Typed != "" {
		f.typed(v.Typed, p, room)
	} else {
		f.figures(v.Result, p, room)
	}
	return a.upper(above)
}

// figures draws a result in big letters, in one row or in two, broken at a blank; else small.
func (f frame) figures(text string, p at, a area) {
	if f.spelt(text, p, a) {
		return
	}
	for i := range text {
		upper, lower := a.upper(a.h/2), a.lower(a.h/2)
		if text[i] == ' ' && fits(text[:i], p, upper) && fits(text[i+1:], p, lower) {
			f.spelt(text[:i], p, upper)
			f.spelt(text[i+1:], p, lower)
			return
		}
	}
	f.text(a.x, a.y, a.w, strings.TrimSpace(text), strong)
}

func fits(text string, p at, a area) bool {
	d, ok := spell(text)
	if ok {
		_, ok = d.fit(a.w, a.h, p.coarse)
	}
	return ok
}

// spelt draws text in big letters; ok is false where it has no such shape or there is no room.
func (f frame) spelt(text string, p at, a area) bool {
	d, ok := spell(text)
	if ok {
		d, ok = d.fit(a.w, a.h, p.coarse)
	}
	if ok {
		f.stamp(d, a.x, a.y, p.coarse)
	}
	return ok
}
