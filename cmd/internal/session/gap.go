package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Ask is a question that a step has: the gap of a set of points, to be typed.
type Ask struct {
	Set      int           `json:"set"` // of points, from 1
	Phase    logbook.Phase `json:"phase"`
	Question string        `json:"question"` // "Gap of set 1, as found, in mm"
}

// asks are the questions for the gap of each set of points.
func (p *planner) asks(phase logbook.Phase) []Ask {
	var out []Ask
	for set := 1; set <= p.Engine.Breaker.Sets; set++ {
		which := "the points"
		if p.Engine.Breaker.Sets > 1 {
			which = fmt.Sprintf("set %d, %s", set, p.served(set-1))
		}
		out = append(out, Ask{set, phase, fmt.Sprintf("Gap of %s, %s, in %s", which, phase.Words(), p.Engine.GapUnit)})
	}
	return out
}

// mostGap is the largest gap that is taken, as in an engine sheet [mm].
const mostGap timing.Length = 2

// ParseGap reads the gap of a set of points as it was typed: "0.42", "0,42", "16.5thou", "0.017in". A number without a unit is in
// the unit that the engine sheet gives the gap in. It is an error when it is no length from 0 to 2 mm.
func (s Sheets) ParseGap(text string) (timing.Length, error) {
	q, err := timing.ParseQuantity(text)
	if err != nil {
		return 0, err
	}
	l, err := q.Length(s.Engine.GapUnit)
	if err != nil {
		return 0, err
	}
	if q.Unit == timing.NoUnit {
		q.Unit = s.Engine.GapUnit
	}
	if !(l >= 0 && l <= mostGap) {
		return 0, fmt.Errorf("gap, got %s, want 0..%g mm, or a number with thou or in after it", q, mostGap)
	}
	return l, nil
}

// Gap makes an entry of what was typed when one of some questions was asked, the at-th; one with a number, "2*0.42", is that of the set
// of this number.
func (s Sheets) Gap(asks []Ask, at int, text string) logbook.Gap {
	text = strings.TrimSpace(strings.ToValidUTF8(text, "\ufffd"))
	d := logbook.Gap{Text: text, Set: asks[at].Set, Phase: asks[at].Phase}
	if number, rest, numbered := strings.Cut(text, string(numberSign)); numbered {
		set, err := strconv.Atoi(strings.TrimSpace(number))
		i := slices.IndexFunc(asks, func(a Ask) bool { return a.Set == set })
		if err != nil || i < 0 {
			d.Unusable = fmt.Sprintf("set of points, got %q, want 1..%d", number, s.Engine.Breaker.Sets)
			return d
		}
		d.Set, d.Phase, d.Text = set, asks[i].Phase, strings.TrimSpace(rest)
	}
	if _, err := s.ParseGap(d.Text); err != nil {
		d.Unusable = reason(err)
	}
	return d
}

// length is a gap in the unit of the engine sheet, without a sign.
func (s Sheets) length(l timing.Length) string {
	size := math.Abs(float64(l))
	switch s.Engine.GapUnit {
	case timing.Thou:
		return fmt.Sprintf("%.1f thou", timing.Length(size).Thou())
	case timing.Inch:
		return fmt.Sprintf("%.4f in", timing.Length(size).Inches())
	}
	return fmt.Sprintf("%.2f mm", size)
}

// sameGap tells that two gaps are one for hands.
func sameGap(a, b timing.Length) bool { return math.Abs(float64(a-b)) < 0.005 }

// AgainstSpecified says in words what a gap is beside the specified one: "0.42 mm: 0.07 mm wider than specified".
func (s Sheets) AgainstSpecified(gap timing.Length) string {
	specified := s.Engine.Breaker.Gap
	switch {
	case sameGap(gap, specified):
		return s.length(gap) + ": as specified"
	case gap > specified:
		return fmt.Sprintf("%s: %s wider than specified", s.length(gap), s.length(gap-specified))
	}
	return fmt.Sprintf("%s: %s narrower than specified", s.length(gap), s.length(gap-specified))
}

// SpecifiedGap is the gap that the engine sheet asks for, in its unit.
func (s Sheets) SpecifiedGap() string { return s.length(s.Engine.Breaker.Gap) }

// gapFits refuses what a correction of a field must not make of a gap.
func (c *Corrector) gapFits(d logbook.Gap, field string) error {
	sets := c.b.sheets.Engine.Breaker.Sets
	switch {
	case field == "text":
		if _, err := c.b.sheets.ParseGap(d.Text); err != nil {
			return fmt.Errorf("%s; --field unusable --to \"why\" takes it out", reason(err))
		}
	case field == "set" && (d.Set < 1 || d.Set > sets):
		return fmt.Errorf("set of points, got %d, want 1..%d", d.Set, sets)
	case field == "phase" && d.Phase != logbook.AsFound && d.Phase != logbook.AsLeft:
		return fmt.Errorf("phase, got %q, want %s or %s", d.Phase, logbook.AsFound, logbook.AsLeft)
	}
	return nil
}
