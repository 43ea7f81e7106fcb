package cue

import (
	"regexp"
	"strings"
)

// leastGauge is how few cells of a gauge still show something.
const leastGauge = 4

var gauge = regexp.MustCompile(`  \[(#*)(\.*)\]`)

// gauged shortens the gauge in a text, "  [##....]", so that all of the text has room in width columns; where too little of it would be
// left it goes.
func gauged(text string, width int) string {
	m := gauge.FindStringSubmatchIndex(text)
	over := columns(text) - width
	if m == nil || over <= 0 {
		return text
	}
	full, cells := m[3]-m[2], m[5]-m[2]
	left := cells - over
	if left < leastGauge {
		return text[:m[0]] + text[m[1]:]
	}
	full = (full*left + cells/2) / cells
	return text[:m[2]] + strings.Repeat("#", full) + strings.Repeat(".", left-full) + text[m[5]:]
}
