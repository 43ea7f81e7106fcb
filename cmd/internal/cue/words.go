package cue

import (
	"fmt"
	"strings"
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
	switch {
	case v.Number == 0:
		return "No opening yet." + v.thrown()
	case v.shared:
		return fmt.Sprintf("Its newest opening is number %d.", v.Number) + v.thrown()
	case v.Number == 1:
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

// sentences is sentence; of two sets of points it is what their panes do not say.
func (v View) sentences(now time.Time) string {
	if !v.both() {
		return v.sentence(now)
	}
	var all []string
	for i, s := range v.Sets {
		one, name := v.of(i), clean(s.Name)
		if one.kept() && one.Provisional {
			all = append(all, fmt.Sprintf("Opening %d counts when the points close again (%s).", s.Number, name))
		}
		if s.Thrown > 0 {
			all = append(all, fmt.Sprintf("%d thrown away (%s).", s.Thrown, name))
		}
	}
	return strings.Join(all, " ")
}

// ages tells how long it takes until age says something new; 0: it does not.
func (v View) ages(now time.Time) time.Duration {
	if v.both() {
		one, other := v.of(0).ages(now), v.of(1).ages(now)
		if one == 0 || other > 0 && other < one {
			return other
		}
		return one
	}
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
