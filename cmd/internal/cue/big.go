package cue

import "strconv"

// big draws what is to be seen across the shop: the word, the picture of the contacts and the number of the newest
// opening; with prompt also what is asked and what was typed up to now.
func (f frame) big(v View, p at, a area, prompt bool) {
	sides, thick := 1, 0
	if a.w >= 60 && a.h >= 15 {
		thick = max(1, a.h/14)
		sides = thick + 1
	}
	f.edge(p, area{a.x - 1, a.y, a.w + 2, a.h}, sides, thick)
	a = a.inset(sides-1, thick)
	a = f.word(v, p, a)
	if v.Result != "" && prompt {
		a = f.result(v, p, a)
		prompt = false
	}
	if a.h < 2 || a.w < 8 {
		return
	}
	const gap = 2
	left := a.left(a.w * 3 / 8)
	if v.Number == 0 && !prompt {
		left = a
	}
	right := a.right(left.w + gap)
	// Arms look like arms up to about three times as long as they are high.
	f.centre(picture(v.State, min(left.w, 6*left.h), 2*left.h), left, p.coarse)
	if prompt {
		below := right.lower((right.h - 1) / 2)
		asked := fitting(promptRows(v.Prompt, below.w), max(below.h-4, 1))
		for i, r := range asked {
			f.text(below.x, below.y+i, below.w, r.text, strong)
		}
		f.typed(v.Typed, p, below.lower(len(asked)))
		right = right.upper(right.h - below.h)
	}
	f.number(v, p, right)
}

// word draws the words of the state and returns the area below them.
func (f frame) word(v View, p at, a area) area {
	small, big := v.State.words()
	caption := 1
	var title dots
	if a.h >= 24 {
		d, _ := spell(small)
		var ok bool
		if title, ok = d.fit(a.w/2, a.h/5, p.coarse); ok {
			caption = title.rows() + 1
		}
	}
	letters, _ := spell(big)
	d, ok := letters.fit(a.w, max((a.h-caption)*11/20, 4), p.coarse)
	least := 8
	if v.Result != "" {
		least = caption + 4 // nothing is below it on a small screen but texts
	}
	if !ok || a.h < least {
		f.bar(a.x, a.y, a.w, " "+small+" "+big, reversed)
		return a.lower(1)
	}
	if title.h > 0 {
		f.centre(title, a.upper(caption-1), p.coarse)
	} else {
		f.text(a.x+(a.w-2*len(small)+1)/2, a.y, a.w, spaced(small), strong)
	}
	a = a.lower(caption)
	f.centre(d, a.upper(d.rows()), p.coarse)
	spare := 0
	if a.h-d.rows() > 7 && v.Result == "" {
		spare = 1
	}
	return a.lower(d.rows() + spare)
}

// promptRows are the rows that a prompt takes.
func promptRows(prompt string, width int) (rows []row) {
	for i, part := range wrap(clean(prompt), width) {
		rows = append(rows, row{text: part, more: i > 0})
	}
	return rows
}

// number draws the number of the newest opening: as big as there is room until the points have closed again, then small,
// as the count.
func (f frame) number(v View, p at, a area) {
	if v.Number == 0 {
		return
	}
	const label = 12 // columns for the words beside the digits
	digits, _ := spell(strconv.Itoa(v.Number))
	room := a.h
	first, second := "opening", v.age(p.now)
	if !v.kept() {
		room, first, second = min(room, 4), "openings", "so far"
		switch {
		case v.shared:
			first, second = "newest", "opening"
		case v.Number == 1:
			first = "opening"
		}
	}
	d, ok := digits.fit(a.w-label, room, p.coarse)
	labelled := ok
	if !ok {
		if d, ok = digits.fit(a.w, room, p.coarse); !ok {
			return
		}
	}
	y := a.y + (a.h-d.rows())/2
	f.stamp(d, a.x, y, p.coarse)
	if !labelled {
		return
	}
	f.text(a.x+d.w+2, y, label-2, first, strong)
	f.text(a.x+d.w+2, y+1, label-2, second, strong)
}

// typed draws what was typed up to now, with a line where the next letter goes. Where a letter has no big shape, or there
// is no room, all is written small.
func (f frame) typed(text string, p at, a area) {
	if d, ok := spell(text + "_"); ok {
		if d, ok = d.fit(a.w, a.h, p.coarse); ok {
			f.stamp(d, a.x, a.y, p.coarse)
			return
		}
	}
	f.text(a.x, a.y, a.w, text+"_", strong)
}

// edge draws a pattern round a: checks while nothing is known, slanting stripes when the signal is lost. So these two look
// like neither of the others, nor like each other, in any colours or none. It goes with the background.
// sides is how many columns it takes left and right, thick how many rows above and below.
func (f frame) edge(p at, a area, sides, thick int) {
	check := 2 * max(thick, 1) // the width of a check in dots
	var on func(x, y int) bool
	switch p.back[0] {
	case Unknown:
		on = func(x, y int) bool { return (x/check+y/check)%2 == 0 }
	case Lost:
		on = func(x, y int) bool { return (x+y)%(4*check) < 2*check }
	default:
		return
	}
	d := newDots(a.w, 2*a.h)
	for y := range d.h {
		for x := range d.w {
			inside := x >= sides && x < a.w-sides && y >= 2*thick && y < d.h-2*thick
			d.set(x, y, !inside && on(x, y))
		}
	}
	f.stamp(d, a.x, a.y, p.coarse)
}

// spaced sets a blank between the letters of an ASCII word.
func spaced(s string) string {
	out := make([]byte, 0, 2*len(s))
	for i := range len(s) {
		if i > 0 {
			out = append(out, ' ')
		}
		out = append(out, s[i])
	}
	return string(out)
}
