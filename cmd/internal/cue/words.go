package cue

import (
	"fmt"
	"time"
)

// words gives the small and the big word of a state. Read one after the other they are the sentence.
func (s State) words() (small, big string) {
	switch s {
	case Closed:
		return "POINTS", "CLOSED"
	case Open:
		return "POINTS", "OPEN"
	case Lost:
		return "SIGNAL", "LOST"
	}
	return "POINTS", "UNKNOWN"
}

// String is the state in words, as it stands in a sentence.
func (s State) String() string {
	switch s {
	case Closed:
		return "points closed"
	case Open:
		return "points open"
	case Lost:
		return "signal lost: what is heard fits neither points open nor points closed"
	}
	return "not known yet whether the points are open or closed"
}

// kept tells whether the newest opening is still shown: until the points have closed again.
func (v View) kept() bool { return v.Number > 0 && !v.OpenedAt.IsZero() && v.State != Closed }

// sentence says in one row what became of the openings.
func (v View) sentence(now time.Time) string {
	if v.kept() {
		s := fmt.Sprintf("Opening %d was %s.", v.Number, v.age(now))
		if v.Provisional {
			s += " It counts when the points close again."
		}
		return s + v.thrown()
	}
	switch v.Number {
	case 0:
		return "No opening yet." + v.thrown()
	case 1:
		return "1 opening so far." + v.thrown()
	}
	return fmt.Sprintf("%d openings so far.", v.Number) + v.thrown()
}

func (v View) thrown() string {
	if v.Thrown == 0 {
		return ""
	}
	return fmt.Sprintf(" %d thrown away.", v.Thrown)
}

// age is how long ago the newest opening was, in whole seconds, rounded down, and in whole minutes from one minute on.
func (v View) age(now time.Time) string {
	switch age := now.Sub(v.OpenedAt); {
	case age < time.Second:
		return "just now"
	case age < time.Minute:
		return fmt.Sprintf("%d s ago", age/time.Second)
	default:
		return fmt.Sprintf("%d min ago", age/time.Minute)
	}
}

// ages tells how long it takes until age says something new; 0: it does not.
func (v View) ages(now time.Time) time.Duration {
	if !v.kept() {
		return 0
	}
	age := max(now.Sub(v.OpenedAt), 0)
	step := time.Second
	if age >= time.Minute {
		step = time.Minute
	}
	return step - age%step
}
