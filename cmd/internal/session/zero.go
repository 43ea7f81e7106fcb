package session

import (
	"slices"
	"strings"

	"breakcue/timing/logbook"
)

// dialCount counts, by the steps of a guided session, how often the dial was taken out or set to zero anew. Readings at which it stood
// the same have one zero. A step that is begun counts, and no longer when it is skipped with nothing of it ticked. A session without
// steps stays at 0.
type dialCount struct {
	sets  int    // of points
	n     int    // up to now
	fresh string // ID of the step that counted last, as long as nothing of it is ticked
}

// moves tells whether a step takes the dial out, or sets it to zero.
func (c *dialCount) moves(step string) bool {
	return strings.HasPrefix(step, tdcPrefix) || step == gapFoundStep || step == gapStep || step == SetStep && c.sets > 1
}

func (c *dialCount) took(d logbook.Data) {
	switch d := d.(type) {
	case logbook.Tick:
		if d.Step == c.fresh {
			c.fresh = ""
		}
	case logbook.Step:
		switch {
		case d.Step == goOn: // a break: whether the dial stands as it did is asked, and if not it is set anew in a step of its own
		case d.State == logbook.StepBegun && d.Step == c.fresh: // after a break
		case d.State == logbook.StepBegun:
			c.fresh = ""
			if c.moves(d.Step) {
				c.n++
				c.fresh = d.Step
			}
		case d.Step == c.fresh && d.State == logbook.StepSkipped:
			c.n--
			c.fresh = ""
		}
	}
}

// zeroedBetween tells that the passes of a cylinder as found and as left do not all have the same zero of the dial.
func (b *builder) zeroedBetween(cylinder string) bool {
	if b.visitedBetween(cylinder) {
		return true
	}
	var zeros []int
	for _, s := range b.series {
		if s.place.Cylinder == cylinder {
			zeros = append(zeros, s.zeros...)
		}
	}
	slices.Sort(zeros)
	return len(slices.Compact(zeros)) > 1
}

// worked tells of each entry whether it says that the points were worked on. A tick that was taken off again was a mistake, and does not
// say so; taken off because the whole step is done once more it does.
func worked(entries []logbook.Entry) []bool {
	out := make([]bool, len(entries))
	ticks := map[logbook.Tick]int{}
	for i, e := range entries {
		d, tick := e.Data.(logbook.Tick)
		if !tick || !d.Undone {
			out[i] = works(e.Data)
			ticks[d] = i
			continue
		}
		d.Undone = false
		if at, known := ticks[d]; known && !beginsAgain(entries[i:], d.Step) {
			out[at] = false
		}
	}
	return out
}

// beginsAgain tells that the next that is said of any step is that this one begins.
func beginsAgain(entries []logbook.Entry, step string) bool {
	for _, e := range entries {
		if d, ok := e.Data.(logbook.Step); ok {
			return d.Step == step && d.State == logbook.StepBegun
		}
	}
	return false
}

// works tells whether an entry says that the points were worked on: the gap, or the plates. A step that was only begun does not say so,
// nor who ticks that there is nothing to do.
func works(d logbook.Data) bool {
	on := func(step string) bool { return step == gapStep || step == SetStep }
	switch d := d.(type) {
	case logbook.Step:
		return on(d.Step) && d.State == logbook.StepDone
	case logbook.Tick:
		return on(d.Step) && !d.Undone && !strings.HasSuffix(d.Item, nothingToMove)
	}
	return false
}

// workedAfter is why a pass as left is not used that was made before the points were worked on once more: they stand elsewhere now.
const workedAfter = "the points were worked on after it"

// undone tells that the points were worked on after an opening that was measured as left.
func (b *builder) undone(phase logbook.Phase, key openingKey) bool {
	return phase == logbook.AsLeft && b.workedAt[key] < b.works
}
