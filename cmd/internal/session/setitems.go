package session

import (
	"fmt"
	"slices"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// nothingToMove ends the item that is read where no plate has to be moved.
const nothingToMove = "nothing has to be moved, unless you want it nearer"

// SetItems says what to move which way before the timing is set, plate by plate in the order of work, from what a report knows
// of each cylinder; one item alone when nothing has to be moved. It is empty when nothing was measured.
func SetItems(r Report) []string {
	a := r.Advice
	if a == nil {
		return nil
	}
	when := "as found"
	if slices.ContainsFunc(r.Cylinders, func(c Cylinder) bool {
		return slices.ContainsFunc(c.Phases, func(p Phase) bool { return p.Phase.Words() != when && p.N > 0 })
	}) {
		when = "when last measured"
	}
	is := func(action timing.Action) func(timing.Move) bool {
		return func(m timing.Move) bool { return m.Action == action }
	}
	if !slices.ContainsFunc(a.Moves, func(m timing.Move) bool { return m.Action != timing.LeavePlate }) {
		if len(r.Cylinders) == 1 {
			return []string{fmt.Sprintf("in tolerance %s: %s", when, nothingToMove)}
		}
		return []string{fmt.Sprintf("all cylinders in tolerance %s: %s", when, nothingToMove)}
	}
	var out []string
	if said := r.gapItem(); said != "" && slices.ContainsFunc(a.Moves, is(timing.MovePlate)) {
		out = append(out, said)
	}
	for _, m := range a.Moves {
		out = append(out, a.item(m, when))
	}
	if slices.ContainsFunc(a.Caveats, func(c timing.Caveat) bool { return c.Code == "large_move" }) {
		out = append(out, "that is further than most plates go: look first at gap, cylinder, TDC and the sheet")
	}
	return out
}

// gapItem says what the gap has done to the figures since the points were last measured, or asks where that is not known. It is empty
// where the gap is what it was.
func (r Report) gapItem() string {
	last := int64(0) // entry of the last pass as left
	for _, c := range r.Cylinders {
		for _, p := range c.Phases {
			for _, pass := range p.Passes {
				if p.Phase == logbook.AsLeft && pass.Unused == "" {
					last = max(last, pass.Entry)
				}
			}
		}
	}
	known := len(r.Gaps) > 0
	for _, g := range r.Gaps {
		if g.AsLeft != nil && g.AsLeft.Entry > last && (last > 0 || g.changed()) {
			return "the gap was changed, and that moved the timing: go by the screen, not by these figures"
		}
		known = known && g.AsFound != nil && g.AsLeft != nil
	}
	if known && len(r.Gaps) == len(r.Advice.Moves) || r.Steps != nil && slices.Contains(r.Steps.Skipped, gapStep) {
		return ""
	}
	return "was the gap changed? that moved the timing: then go by the screen, not by these figures"
}

// item says what to do with one plate, in a line.
func (a Advice) item(m timing.Move, when string) string {
	who := cylindersOf(m.Cylinders)
	switch m.Action {
	case timing.LeavePlate:
		return fmt.Sprintf("%s: in tolerance %s, leave it alone", who, when)
	case timing.MeasureAgain:
		return who + ": whether too early or too late cannot be told; leave it, or measure again first"
	case timing.NotMeasured:
		return who + ": not measured, leave it alone"
	}
	out := fmt.Sprintf("%s: %s", who, m.Brief())
	if m.Rim != nil {
		out += fmt.Sprintf(", %.2f mm of arc", max(*m.Rim, -*m.Rim))
	}
	if m.Unproven {
		out += "; or leave it, it may be in tolerance"
	}
	return out
}
