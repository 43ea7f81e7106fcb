package session

import (
	"slices"

	"breakcue/timing/logbook"
)

// ledger is what has become of the steps of a job and of the things in them, entry by entry.
//
// The newest state of a step holds: one that is begun again is not done until it is done again, and then all of it is to be ticked
// anew. What was ticked as put back (ByTick) no longer holds once an earlier step is begun: that may have taken it off again.
type ledger struct {
	place  map[string]int // of the steps in the job, by ID
	back   string         // ID of the step in which all is put back
	state  map[string]logbook.StepState
	ticked map[string]map[string]bool // by ID and text
}

func newLedger(steps []Step) ledger {
	l := ledger{place: map[string]int{}, state: map[string]logbook.StepState{}, ticked: map[string]map[string]bool{}}
	for i, st := range steps {
		l.place[st.ID] = i
		if st.Work == ByTick {
			l.back = st.ID
		}
	}
	return l
}

// took notes what became of a step.
func (l ledger) took(d logbook.Step) {
	was := l.state[d.Step]
	l.state[d.Step] = d.State
	if d.State != logbook.StepBegun {
		return
	}
	if was == logbook.StepDone || was == logbook.StepSkipped {
		delete(l.ticked, d.Step)
	}
	if at, known := l.place[d.Step]; known && at < l.place[l.back] {
		delete(l.ticked, l.back)
		if l.state[l.back] != "" {
			l.state[l.back] = logbook.StepBegun
		}
	}
}

// tick notes what was ticked, or ticked by mistake.
func (l ledger) tick(d logbook.Tick) {
	if l.ticked[d.Step] == nil {
		l.ticked[d.Step] = map[string]bool{}
	}
	l.ticked[d.Step][d.Item] = !d.Undone
}

// awaited tells that a thing on the list of what is put back (ByTick) is not ticked, though a step that may have taken it off was
// begun, or skipped as done before, or lies before one that was: who measures has the cable on, though nobody was led to clip it on.
// Once the list itself is begun all of it is awaited.
func (l ledger) awaited(steps []Step, item string) bool {
	if l.ticked[l.back][item] {
		return false
	}
	reached := 0
	for i, st := range steps {
		if l.state[st.ID] != "" {
			reached = i + 1
		}
	}
	return l.state[l.back] != "" || slices.ContainsFunc(steps[:reached], func(st Step) bool { return slices.Contains(st.Refit, item) })
}
