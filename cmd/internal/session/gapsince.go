package session

import (
	"fmt"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// GapDrift is how the gap of a set of points has changed from one session to a later one. Where it was not typed in one of them
// there is none.
type GapDrift struct {
	Set       int              `json:"set"`
	Cylinders []string         `json:"cylinders"`
	Then      GapStanding      `json:"then"`
	Now       GapStanding      `json:"now"`
	Shift     *timing.GapShift `json:"shift"` // what it does to the timing; null where that cannot be had
	// Changed is wider or narrower where the change is more than feelers leave uncertain, else cannot_tell.
	Changed string `json:"changed"`

	by string // how much, without a sign, in the unit of the engine sheet
}

// GapStanding is a gap that was typed, and when.
type GapStanding struct {
	Phase logbook.Phase `json:"phase"`
	MM    float64       `json:"gap_mm"`

	size string // in the unit of the engine sheet
}

// The words of GapDrift.Changed, besides MovedUnknown.
const (
	GapWider    = "wider"
	GapNarrower = "narrower"
)

// lastGap returns the gap of a set as it is known last: as left; or as found, when the points were not worked on after that.
func (b *builder) lastGap(set int) (g GapStanding, ok bool) {
	read, phase := b.report.Gaps.Of(set, logbook.AsLeft), logbook.AsLeft
	if read == nil && !b.touched {
		read, phase = b.report.Gaps.Of(set, logbook.AsFound), logbook.AsFound
	}
	if read == nil {
		return GapStanding{}, false
	}
	return GapStanding{phase, read.MM, read.size}, true
}

// addGaps compares the gaps of the points.
func (s *Since) addGaps(was, is *builder) {
	breaker := is.sheets.Engine.Breaker
	for _, g := range is.report.Gaps {
		then, known := was.lastGap(g.Set)
		if !known || g.AsFound == nil {
			continue
		}
		d := GapDrift{Set: g.Set, Cylinders: g.Cylinders, Then: then, Changed: MovedUnknown}
		d.Now = GapStanding{logbook.AsFound, g.AsFound.MM, g.AsFound.size}
		d.by = is.sheets.length(timing.Length(d.Now.MM - d.Then.MM))
		if shift, err := breaker.GapShift(is.sheets.Setup.Crank, is.sheets.Setup.Target.Angle, timing.Length(then.MM), timing.Length(g.AsFound.MM)); err == nil {
			d.Shift = &shift
		}
		switch change := d.Now.MM - d.Then.MM; {
		case change > float64(timing.FeelersApart()):
			d.Changed = GapWider
		case change < -float64(timing.FeelersApart()):
			d.Changed = GapNarrower
		}
		s.Gaps = append(s.Gaps, d)
	}
}

// gapCauses are what may be behind a gap that has changed (common practice).
func (s Since) gapCauses() []string {
	var out []string
	for _, d := range s.Gaps {
		which := fmt.Sprintf("the gap of set %d has become %s", d.Set, d.Changed)
		switch d.Changed {
		case GapNarrower:
			out = append(out, which+", as it does when the heel wears; that makes the points open later")
		case GapWider:
			out = append(out, which+", as it does when the contacts burn away, or the screw of the fixed contact slips; that makes the points open earlier")
		}
	}
	return out
}

// gapsSince says how the gaps have changed.
func (p *printer) gapsSince(gaps []GapDrift) {
	p.line("gap of the points at full lift")
	for _, d := range gaps {
		change := "no change that feelers could tell"
		if d.Changed != MovedUnknown {
			change = d.by + " " + d.Changed
			if d.Shift != nil {
				change += ", which " + d.Shift.Words()
			}
		}
		p.sentence("  ", "set %d (%s): %s then, %s; %s now, %s: %s",
			d.Set, cylindersOf(d.Cylinders), d.Then.size, d.Then.Phase.Words(), d.Now.size, d.Now.Phase.Words(), change)
	}
}
