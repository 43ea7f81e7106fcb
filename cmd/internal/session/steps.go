package session

import (
	"fmt"
	"io"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Step is one step of the whole job.
type Step struct {
	ID    string   `json:"id"` // the same in every version: "make_safe", "tdc/left/as_found"
	Title string   `json:"title"`
	Do    []string `json:"do"`   // in order
	Care  []string `json:"care"` // the dangers that belong here
	// Refit names what this step takes off or puts in, in its order, and what must become of it before the engine runs.
	Refit []string `json:"refit"`
	// Asks are the questions whose answers are typed while the step is at hand: the gap of each set of points.
	Asks []Ask `json:"asks"`
	// Work is how the step is done.
	Work Work `json:"work"`
	// Place is the cylinder and phase that it deals with; empty where it is about the whole engine.
	Place logbook.Place `json:"-"`
	// still is what must go on holding once the step is done: see GoOn.
	still []check
}

// Work is how a step is done, beyond reading what there is to do.
type Work string

// The kinds of work.
const (
	ByList  Work = "list"    // one thing after the other
	ByWatch Work = "watch"   // with the eyes on whether the points are open
	ByRead  Work = "measure" // dial readings are typed: here alone an opening counts as a pass
	ByTick  Work = "tick"    // as by list, but each thing must be ticked by itself before the session closes
)

// Steps returns the whole job for an engine and a dial, from first to last. Before a plate is moved every cylinder is
// measured as found, because the base plate moves all sets of points; the gap comes before the timing, because it moves it.
// To set the gap the crank goes to full lift, so the dial comes out, and TDC is found anew before the timing is set.
// What there is nothing to do for on this engine does not appear. It is an error when the dial cannot follow the piston
// through an approach.
func Steps(s Sheets) ([]Step, error) {
	p := planner{Sheets: s}
	plan, err := s.Setup.DialPlan()
	if err != nil {
		return nil, err
	}
	p.stations = plan
	p.specification()
	p.safe()
	p.plugs()
	p.weights()
	p.cable()
	for i := range s.Engine.Cylinders {
		p.tdc(i, logbook.AsFound)
		p.clip(i, logbook.AsFound)
		p.measure(i, logbook.AsFound)
	}
	p.gapFound()
	p.gap()
	p.tdc(0, logbook.AsLeft)
	p.clip(0, logbook.AsLeft)
	p.set()
	p.measure(0, logbook.AsLeft)
	for i := 1; i < len(s.Engine.Cylinders); i++ {
		p.tdc(i, logbook.AsLeft)
		p.clip(i, logbook.AsLeft)
		p.measure(i, logbook.AsLeft)
	}
	p.together()
	p.start()
	return p.steps, nil
}

// planner collects the steps.
type planner struct {
	Sheets
	stations []timing.Station // from the start of an approach to top dead centre
	steps    []Step
	// dialIn is the cylinder in whose plug hole the dial is, empty when it is in none; cableOn is the set of points, counted from
	// 0, that the cable is on.
	dialIn  string
	cableOn int
}

func (p *planner) add(id, title string, do []string, care ...string) *Step {
	if care == nil {
		care = []string{}
	}
	p.steps = append(p.steps, Step{ID: id, Title: title, Do: do, Care: care, Refit: []string{}, Asks: []Ask{}, Work: ByList})
	return &p.steps[len(p.steps)-1]
}

// station returns where the dial stands at a place.
func (p *planner) station(place timing.Place) timing.Station {
	for _, st := range p.stations {
		if st.Place == place {
			return st
		}
	}
	return timing.Station{}
}

// setOf returns the set of points of the i-th cylinder, both counted from 0.
func (p *planner) setOf(i int) int { return i % p.Engine.Breaker.Sets }

// shared tells whether a set of points serves several cylinders.
func (p *planner) shared() bool { return len(p.Engine.Cylinders) > p.Engine.Breaker.Sets }

// served names the cylinders of a set: "cylinder front", "cylinders 1, 4".
func (p *planner) served(set int) string {
	return cylindersOf(p.of(set))
}

// points names a set so that it can be told from the others at the engine: by its cylinders, its plate and its coil.
func (p *planner) points(set int) string {
	if p.Engine.Breaker.Sets == 1 {
		return "the points"
	}
	return fmt.Sprintf("the points of %s (%s)", p.served(set), p.marks(set))
}

// marks are what a set is known by: "set 2, own plate; lower coil, green lead".
func (p *planner) marks(set int) string {
	out := fmt.Sprintf("set %d, own plate", set+1)
	if set == 0 {
		out = "set 1, base plate"
	}
	if set < len(p.Engine.Coils) {
		out += "; " + p.Engine.Coils[set]
	}
	return out
}

// lengthOf is a length for people, with its inches.
func lengthOf(l timing.Length) string { return fmt.Sprintf("%.2f mm (%.1f thou)", l, l.Thou()) }

// PrintSteps writes the steps for people, as a list to tick.
func PrintSteps(w io.Writer, s Sheets, steps []Step) error {
	p := &printer{w: w}
	p.line("%s: the whole job, step by step", s.Engine.Name)
	for i, st := range steps {
		p.line("")
		p.sentence("", "%d. %s", i+1, st.Title)
		for _, one := range st.Care {
			p.sentence("   ", "! %s", one)
		}
		for _, one := range st.Do {
			p.sentence("   ", "[ ] %s", one)
		}
	}
	return p.err
}
