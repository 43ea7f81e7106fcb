package report

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// number is x with so many places, without a minus in front of nothing.
func number(x float64, places int) string {
	s := fmt.Sprintf("%.*f", places, x)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// measure is a length or an angle with two words, of which one stands for what is below 0: never a bare sign.
type measure struct {
	unit         string // with the space before it, where it has one
	places       int
	below, above string
}

var (
	errorMM  = measure{" mm", 2, "too late", "too early"}
	errorDeg = measure{"°", 2, "too late", "too early"}
	changeMM = measure{" mm", 2, "later", "earlier"}
)

// size is x without its sign.
func (m measure) size(x float64) string { return number(math.Abs(x), m.places) + m.unit }

// word tells on which side x lies, as it is rounded; it is empty at 0.
func (m measure) word(x float64) string {
	switch rounded := number(x, m.places); {
	case strings.Trim(rounded, "-0.") == "":
		return ""
	case x < 0:
		return m.below
	}
	return m.above
}

// words says where x lies: "0.29 mm too early", "0.00 mm".
func (m measure) words(x float64) string { return strings.TrimSpace(m.size(x) + " " + m.word(x)) }

// span says from where to where something lies: "0.10 to 0.25 mm too early", "0.03 mm too late to 0.08 mm too early".
func (m measure) span(ends [2]float64) string {
	a, b := m.word(ends[0]), m.word(ends[1])
	if a == b {
		lo, hi := math.Abs(ends[0]), math.Abs(ends[1])
		return strings.TrimSpace(number(min(lo, hi), m.places) + " to " + number(max(lo, hi), m.places) + m.unit + " " + a)
	}
	return m.words(ends[0]) + " to " + m.words(ends[1])
}

// to is m with so many places.
func (m measure) to(places int) measure {
	m.places = places
	return m
}

// less takes the smaller from the larger, so that no sign is needed: "2.2850 mm − 2.0000 mm = 0.2850 mm too early".
func (m measure) less(a, b float64) string {
	return m.size(max(a, b)) + " − " + m.size(min(a, b)) + " = " + m.words(a-b)
}

// difference says how much earlier one opens than another, with the interval: "0.28 mm later (95 % interval: 0.19 to 0.37 mm
// later)".
func difference(d session.Difference) string {
	said := changeMM.words(d.MM)
	if changeMM.word(d.MM) == "" {
		said = "at the same place, to 0.01 mm"
	}
	return fmt.Sprintf("%s (%.0f %% interval: %s)", said, 100*d.Coverage, changeMM.span(d.IntervalMM))
}

// count is n with its word: "1 pass", "3 passes".
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// short cuts text to so many characters.
func short(text string, most int) string {
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	return string([]rune(text)[:most-1]) + "…"
}

// at is a place for people.
func at(cylinder string, phase logbook.Phase) place { return place{cylinder, phase.Words()} }
