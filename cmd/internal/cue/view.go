package cue

import "time"

// State is what is known of the points.
type State uint8

// The states. Unknown and Lost look like neither of the others.
const (
	Unknown State = iota // not enough has been heard yet
	Closed
	Open
	Lost // what is heard fits neither
)

// View is everything the screen shows, as plain values. Texts hold no control characters.
type View struct {
	State  State
	Number int // of the newest opening, from 1; 0: none yet
	// OpenedAt is when the newest opening was heard; the zero time: there is none to show. It is shown, as how long ago it
	// was, until the points have closed again.
	OpenedAt time.Time
	// Provisional tells that the newest opening counts only once the points have closed again at the level they had.
	Provisional bool
	Thrown      int // openings thrown away

	// Sets, where the first of them has a name, are two sets of points that are followed at once; each takes half of the screen, and State
	// to Thrown are not shown. Hand is the one, 1 or 2, whose readings are typed; 0: none is.
	Sets [2]Points
	Hand int

	Heading string // what runs: "in line, tone 1010 Hz, device cable"
	Health  string // the signal: "tone -14.1 dBFS, 52 dB above the noise"
	Warning string // what is wrong with the signal and what to do; empty: nothing
	Advice  string // what to do next
	Note    string // the newest event: "opening 3 thrown away"
	Record  string // "recording take.wav 0:12"
	Keys    string // what the keys do

	// Page, where its Title is not empty, takes the place of the big words, the picture and the number: there is something to be
	// read. What is known of the points shrinks to a row.
	Page Page
	// Bar, where it is not empty, is what stands above a page in place of what is known of the points. A gauge in it, "[##..]", is shortened
	// where there is no room for all.
	Bar string
	// Task is the one thing to do now while the big words are shown; empty: nothing.
	Task string
	// Result is the newest result in a few big letters, "0.28 EARLY". It is shown where the reading is typed, until one is.
	Result string

	// Prompt is what a reading is asked with; empty: nothing is asked. Typed is what was typed up to now.
	Prompt, Typed string

	shared bool // the openings of another set have numbers between these
}

// Points is what is known of one of two sets of points, by what it is called: "left", "set 2".
type Points struct {
	Name        string
	State       State
	Number      int // of its newest opening; those of the other set count too
	OpenedAt    time.Time
	Provisional bool
	Thrown      int
}

// both tells that two sets of points are shown.
func (v View) both() bool { return v.Sets[0].Name != "" }

// of returns what of a view belongs to one set, 0 or 1, alone, as if there were no other.
func (v View) of(set int) View {
	s := v.Sets[set]
	return View{State: s.State, Number: s.Number, OpenedAt: s.OpenedAt, Provisional: s.Provisional, Thrown: s.Thrown, shared: true}
}

// Page is a page to read: a step of the job with its items, or a choice.
type Page struct {
	Title  string
	At, Of int // it is the At-th of so many, counted from 1; 0: it is none of them
	// Items are what is on it, one a line: "! " begins a caution, "[ ] ", "[x] " and "[-] " what is to be done, what is done and
	// what was skipped, "- " a sentence, a digit and a blank a choice.
	Items string
	// Current is the index, from 0, of the item that is dealt with now: it stands out and is always on the screen, whole where there
	// is room. Out of range: none.
	Current int
	// From is the index, from 0, of the first item shown where none is dealt with and not all have room; Screen.Next tells the one to go on
	// with.
	From int
}
