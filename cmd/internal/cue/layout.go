package cue

import "time"

// How big the letters are. A letter can be read from 200 times its height away (common practice for signs; people with
// full sight need half of that), so 4 m take 20 mm. A terminal of 24 rows that fills a small laptop's screen (190 mm
// high) has rows of 8 mm, one in an ordinary window of about 5 mm. The big word is 7 rows high at 80x24: 35 to 55 mm.
// What is typed is read at arm's length: its letters are 3 to 4 rows high, and even one row would do.

// at is where and in which way something is painted.
type at struct {
	now    time.Time
	back   grounds // whose backgrounds it goes on; they follow the states of the points more slowly when they chatter
	coarse bool    // the terminal has no half blocks
}

// paint draws v on a frame of w columns and h rows.
func paint(v View, p at, w, h int) frame {
	if v.Page.Title != "" {
		return paintPage(v, p, w, h)
	}
	if v.both() {
		return paintBoth(v, p, w, h)
	}
	f := newFrame(w, h)
	need := bigRows(h, v.asks(), v.Result != "", v.Task != "")
	bigPrompt := v.asks() && w >= 60 && (need >= 17 || v.Result != "" && need >= 13)
	top, below := f.heading(v, v.texts(p.now, w-2, bigPrompt))
	below = fitting(below, h-top-need)
	// Always the same rows, so that nothing big moves when a text comes or goes.
	f.big(v, p, area{1, top, w - 2, min(need, h-len(below)-top)}, bigPrompt)
	f.texts(below)
	return f
}

// asks tells whether there is a place where a reading is typed.
func (v View) asks() bool { return v.Prompt != "" || v.Result != "" }

// bigRows is how many of h rows are kept for the big word, the picture and the number. A result comes with a verdict, which is
// longer than other texts, and a task must not push away what the keys do.
func bigRows(h int, asked, result, task bool) int {
	switch {
	case h >= 36 && result:
		return h - 8
	case h >= 36:
		return h - 9
	case h >= 22 && (result || asked && task):
		return h - 5
	case h >= 22 && asked:
		return h - 4
	case h >= 22:
		return h - 6
	case result:
		return max(h-7, 1)
	case h >= 12:
		return h - 3
	default:
		return (h + 1) / 2
	}
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
