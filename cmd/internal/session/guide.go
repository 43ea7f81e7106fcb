package session

import (
	"slices"

	"breakcue/timing/logbook"
)

// Guide leads through the steps of a job. Each move is in the journal before it is made, so that the work can be gone on with
// after any interruption:
//
//	at an item    Next ticks it, Undo goes back to the one before and takes its tick off
//	after the last item of a step    the next step begins; a step that is measured (ByRead) goes on until it is finished
//	anywhere      Finish, Skip, Back, Again, GoTo
//	after what must be ticked (ByTick)    nothing, neither a step nor the end, until all of it is: that step begins instead
//
// A step that is begun again keeps its ticks, unless it was finished or skipped before: then it is to be done anew. Ticks of what is
// put back are gone once an earlier step is begun.
type Guide struct {
	// Prepare, when not nil, is called with a copy of each step that begins, to add what is known only now.
	Prepare func(*Step)

	journal Journal
	plan    []Step // as they were given
	steps   []Step // with what Prepare has added
	at      int    // of steps; all of them: over
	aside   *Step  // before the step at hand, and none of the job: nil but where a session is gone on with
	item    int    // of Items; all of them: only what the work is
	ledger
}

// Item is one line of a step.
type Item struct {
	Text   string
	Care   bool // a danger: to be read
	Ticked bool
}

// NewGuide returns a Guide that stands before the first step. Start begins it.
func NewGuide(j Journal, steps []Step) *Guide {
	return &Guide{journal: j, plan: slices.Clone(steps), steps: slices.Clone(steps), ledger: newLedger(steps)}
}

// goOn is the ID of the step that comes first when a session is gone on with.
const goOn = "go_on"

// Resume takes over where the entries of a journal stand. What must still hold comes first, as a step of its own. guided is
// false where there are no steps in the journal: it was kept without a guide.
func (g *Guide) Resume(entries []logbook.Entry) (guided bool) {
	for _, e := range entries {
		switch d := e.Data.(type) {
		case logbook.Step:
			g.took(d)
			if at := g.index(d.Step); at >= 0 {
				g.at, guided = at, true
				if d.State != logbook.StepBegun {
					g.at++
				}
			}
		case logbook.Tick:
			g.tick(d)
		}
	}
	if st := GoOn(g.steps, g.at); guided && !g.Over() && len(st.Do) > 0 {
		g.aside = &st
		delete(g.ticked, goOn)
	}
	return guided
}

// Number returns the number of a step, from 1, 0 when there is none of that ID.
func (g *Guide) Number(id string) int { return g.index(id) + 1 }

func (g *Guide) index(id string) int {
	return slices.IndexFunc(g.steps, func(s Step) bool { return s.ID == id })
}

// Start begins the step at which the Guide stands, or what comes before it.
func (g *Guide) Start() error {
	if g.aside == nil {
		return g.begin(g.at)
	}
	return g.write(logbook.Step{Step: g.aside.ID, State: logbook.StepBegun})
}

// begin writes that a step begins, and stands before its first item that is not ticked, its cautions before all. Where what must be
// ticked before it is not, that begins instead: no engine is started with a cable on it.
func (g *Guide) begin(at int) error {
	if open := g.unfinished(); open >= 0 && at > open {
		at = open
	}
	if at >= len(g.steps) {
		g.at, g.aside, g.item = len(g.steps), nil, 0
		return nil
	}
	if err := g.write(logbook.Step{Step: g.plan[at].ID, State: logbook.StepBegun}); err != nil {
		return err
	}
	st := g.plan[at]
	st.Do = slices.Clone(st.Do)
	if g.Prepare != nil {
		g.Prepare(&st)
	}
	g.steps[at] = st
	g.at, g.aside, g.item = at, nil, 0
	g.pass()
	return nil
}

// unfinished returns the index of a step that must be finished before those after it, -1 when there is none.
func (g *Guide) unfinished() int {
	return slices.IndexFunc(g.steps, func(s Step) bool { return s.Work == ByTick && g.state[s.ID] != logbook.StepDone })
}

// pass goes to the first item from the present one on that is not ticked.
func (g *Guide) pass() {
	items := g.Items()
	for g.item < len(items) && items[g.item].Ticked {
		g.item++
	}
}

func (g *Guide) write(d logbook.Step) error {
	if _, err := g.journal.Append(d); err != nil {
		return err
	}
	g.took(d)
	return nil
}

// Over tells that all steps are behind.
func (g *Guide) Over() bool { return g.at >= len(g.steps) }

// Step returns the step at hand, its number from 1 and how many there are; 0 is the number of one that is none of the job. Once
// all are over it is the zero Step.
func (g *Guide) Step() (s Step, n, of int) {
	switch {
	case g.Over():
		return Step{}, len(g.steps), len(g.steps)
	case g.aside != nil:
		return *g.aside, 0, len(g.steps)
	}
	return g.steps[g.at], g.at + 1, len(g.steps)
}

// Following returns the step that comes after the one at hand; ok is false where there is none.
func (g *Guide) Following() (s Step, n int, ok bool) {
	at := g.at
	if g.aside == nil {
		at++
	}
	if at >= len(g.steps) {
		return Step{}, 0, false
	}
	return g.steps[at], at + 1, true
}

// Steps returns all steps, and what has become of each: nothing, begun, done or skipped.
func (g *Guide) Steps() ([]Step, []logbook.StepState) {
	states := make([]logbook.StepState, len(g.steps))
	for i, s := range g.steps {
		states[i] = g.state[s.ID]
	}
	return g.steps, states
}

// Items returns what the step at hand consists of: its cautions, then what there is to do.
func (g *Guide) Items() []Item {
	st, _, _ := g.Step()
	var out []Item
	for _, text := range st.Care {
		out = append(out, Item{Text: text, Care: true})
	}
	for _, text := range st.Do {
		out = append(out, Item{Text: text, Ticked: g.ticked[st.ID][text]})
	}
	return out
}

// Item returns the index of the item at hand; read is true once there is none any more, and the work itself is left.
func (g *Guide) Item() (at int, read bool) { return g.item, g.item >= len(g.Items()) }

// Next ticks the item at hand and goes on, to the next step after the last one. Of a step that is measured nothing is left to
// tick after its last item: Finish ends it.
func (g *Guide) Next() error {
	items := g.Items()
	st, _, _ := g.Step()
	if g.item >= len(items) {
		if !g.Over() && st.Work != ByRead { // ticked before an interruption
			_, err := g.Finish()
			return err
		}
		return nil
	}
	if it := items[g.item]; !it.Care {
		d := logbook.Tick{Step: st.ID, Item: it.Text}
		if _, err := g.journal.Append(d); err != nil {
			return err
		}
		g.tick(d)
	}
	g.item++
	g.pass()
	if g.item < len(items) || st.Work == ByRead {
		return nil
	}
	_, err := g.Finish()
	return err
}

// Undo goes back by one item and takes its tick off; from the first item on to the step before.
func (g *Guide) Undo() error {
	if g.item == 0 {
		return g.Back()
	}
	it := g.Items()[g.item-1]
	if !it.Care && it.Ticked {
		st, _, _ := g.Step()
		d := logbook.Tick{Step: st.ID, Item: it.Text, Undone: true}
		if _, err := g.journal.Append(d); err != nil {
			return err
		}
		g.tick(d)
	}
	g.item--
	return nil
}

// Finish ends the step at hand as done, and begins the next. Where each item must be ticked and is not, nothing happens and ok
// is false.
func (g *Guide) Finish() (ok bool, err error) {
	if g.Over() {
		return true, nil
	}
	if st, _, _ := g.Step(); st.Work == ByTick && len(g.Open()) > 0 {
		return false, nil
	}
	return true, g.leave(logbook.StepDone)
}

// Read passes over the items of the step at hand; what is left is the work itself.
func (g *Guide) Read() { g.item = len(g.Items()) }

// Skip ends the step at hand undone, and begins the next. Where each item must be ticked nothing happens and ok is false.
func (g *Guide) Skip() (ok bool, err error) {
	if st, _, _ := g.Step(); g.Over() || st.Work == ByTick {
		return false, nil
	}
	return true, g.leave(logbook.StepSkipped)
}

func (g *Guide) leave(as logbook.StepState) error {
	st, n, _ := g.Step()
	if err := g.write(logbook.Step{Step: st.ID, State: as}); err != nil {
		return err
	}
	if n == 0 {
		return g.begin(g.at)
	}
	return g.begin(g.at + 1)
}

// Open returns what of the step that must be ticked item by item is not ticked, of all steps.
func (g *Guide) Open() []string {
	var out []string
	for _, s := range g.steps {
		for _, one := range s.Do {
			if s.Work == ByTick && !g.ticked[s.ID][one] {
				out = append(out, one)
			}
		}
	}
	return out
}

// Off returns what may be off the engine, or in it, and is not ticked as put back.
func (g *Guide) Off() []string {
	var out []string
	for _, s := range g.steps {
		for _, one := range s.Do {
			if s.Work == ByTick && g.awaited(g.steps, one) {
				out = append(out, one)
			}
		}
	}
	return out
}

// Back begins the step before the one at hand once more.
func (g *Guide) Back() error { return g.begin(max(g.at-1, 0)) }

// Again begins the step at hand once more, as if nothing of it had been done.
func (g *Guide) Again() error {
	if g.Over() {
		return nil
	}
	st, n, _ := g.Step()
	for _, it := range g.Items() {
		if it.Ticked {
			d := logbook.Tick{Step: st.ID, Item: it.Text, Undone: true}
			if _, err := g.journal.Append(d); err != nil {
				return err
			}
			g.tick(d)
		}
	}
	if n == 0 {
		g.item = 0
		return nil
	}
	return g.begin(g.at)
}

// GoTo begins the step with a number, from 1, or the one that must be ticked before it; ok is false where there is none.
func (g *Guide) GoTo(n int) (ok bool, err error) {
	if n < 1 || n > len(g.steps) {
		return false, nil
	}
	return true, g.begin(n - 1)
}

// TurnOnce begins anew to look for top dead centre before the measurement at hand, because no opening came: a half-speed cam does
// not open the points at every other one. ok is false where no such step is at hand.
func (g *Guide) TurnOnce() (ok bool, err error) {
	if g.Over() {
		return false, nil
	}
	place := g.steps[g.at].Place
	at := slices.IndexFunc(g.steps, func(s Step) bool { return s.Place == place && s.Place != (logbook.Place{}) })
	if at < 0 {
		return false, nil
	}
	return true, g.begin(at)
}
