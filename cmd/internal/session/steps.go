package session

import (
	"fmt"
	"io"
	"slices"

	"breakcue/timing"
	"breakcue/timing/logbook"
	"breakcue/timing/sheet"
)

// Step is one step of the whole job.
type Step struct {
	ID    string   `json:"id"` // the same in every version: "make_safe", "tdc/left/as_found"
	Title string   `json:"title"`
	Do    []string `json:"do"`   // in order
	Care  []string `json:"care"` // the dangers that belong here
	// Refit names what this step takes off or puts in, in its order, and what must become of it before the engine runs.
	Refit []string `json:"refit"`
	// Work is how the step is done.
	Work Work `json:"work"`
	// Place is the cylinder and phase that it deals with; empty where it is about the whole engine.
	Place logbook.Place `json:"-"`
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
// It is an error when the dial cannot follow the piston through an approach.
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
	for _, c := range s.Engine.Cylinders {
		p.tdc(c, logbook.AsFound)
		p.measure(c, logbook.AsFound)
	}
	p.gap()
	p.set()
	for _, c := range s.Engine.Cylinders {
		p.tdc(c, logbook.AsLeft)
		p.measure(c, logbook.AsLeft)
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
}

func (p *planner) add(id, title string, do []string, care ...string) *Step {
	if care == nil {
		care = []string{}
	}
	p.steps = append(p.steps, Step{ID: id, Title: title, Do: do, Care: care, Refit: []string{}, Work: ByList})
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

func (p *planner) specification() {
	e := p.Engine
	t := p.Setup.Target
	do := []string{
		fmt.Sprintf("compare with the maker's manual: points open %s before TDC (%.2f mm, %.2f° of crank), tolerance ±%s, gap %s",
			e.Timing.Value, t.Travel, t.Angle, e.Timing.Tolerance, lengthOf(e.Breaker.Gap)),
	}
	switch e.Timing.Advance {
	case timing.AdvanceAtRest:
		do = append(do, "the figure holds with the weights of the automatic advance at rest")
	case timing.AdvanceFull:
		do = append(do, "the figure holds with the weights of the automatic advance or retard held at full travel")
	}
	p.add("specification", "read the specification", do,
		"the maker's manual, local codes and licensed practice come before anything said here")
}

func (p *planner) safe() {
	coil := "take the coil lead off the points"
	if len(p.Engine.Coils) > 0 {
		coil += " (" + list(p.Engine.Coils) + ")"
	}
	battery := []string{"switch the ignition off", "disconnect the battery", coil}
	source := "take the source coil off the points"
	if p.Engine.SourceCoil == sheet.StaysOn {
		source = "the source coil stays on the points: wire the cable across, with a tone of about 3 kHz"
	}
	magneto := []string{"open the stop switch or take its wire off: it earths the points when it says off", source}
	care := []string{"live points switch 4 to 5 A, the coil kicks back with 200 V and more at the points and 20 kV at the plug"}
	refit := []string{"battery connected", "coil lead on the points"}
	switch p.Engine.Ignition {
	case sheet.Battery:
		p.add("make_safe", "make it safe: battery ignition", battery, care...)
	case sheet.Magneto:
		refit = []string{"stop switch and its wire as they were, and tried"}
		if p.Engine.SourceCoil != sheet.StaysOn {
			refit = append(refit, "source coil on the points")
		}
		p.add("make_safe", "make it safe: magneto", magneto, "a magneto that is turned fast makes hundreds of volts")
	default:
		var do []string
		for _, one := range battery {
			do = append(do, "battery ignition: "+one)
		}
		for _, one := range magneto {
			do = append(do, "magneto: "+one)
		}
		refit = append(refit, "stop switch and its wire as they were, and tried")
		p.add("make_safe", "make it safe", do, care...)
	}
	p.steps[len(p.steps)-1].Refit = refit
}

func (p *planner) plugs() {
	st := p.add("plugs_out", "open it up", []string{
		"turn off the fuel, wipe up what was spilt, let air in",
		"take the plugs out and earth them",
		"take the cover off the points",
	}, "fuel vapour burns, and a spark at a clip is enough",
		"keep hands, sleeves and tools off what turns")
	st.Refit = []string{"plugs in, their leads on", "cover on the points"}
}

// weights holds the advance where the figure holds.
func (p *planner) weights() {
	e := p.Engine
	how, where := e.Hold, "at full travel"
	switch {
	case e.Timing.Advance == timing.AdvanceAtRest && how != "":
		where = "at rest"
	case e.Timing.Advance != timing.AdvanceFull:
		return
	case how == "":
		how = "a wedge that cannot fall into the engine"
	}
	st := p.add("hold_weights", "hold the weights "+where, []string{"hold them with: " + how, "see that they do not give when the cam is turned by hand"})
	st.Refit = []string{"taken out again, what holds the weights: " + how}
}

func (p *planner) cable() {
	way := "in line, or across where a source coil stays on the points"
	if p.Engine.SourceCoil == sheet.StaysOn {
		way = "across the points, one lead to the engine"
	}
	st := p.add("cable", "clip the cable on: "+way, []string{
		"switch gain control and noise suppression of the sound card off",
		"open and close the points by hand: the screen must turn each time",
	}, "ignition and battery stay off for as long as the cable is on",
		"take the cable off before the engine is kicked or cranked")
	st.Work = ByWatch
	st.Refit = []string{"cable off, before the engine is kicked or cranked"}
}

// tdc finds top dead centre for one cylinder.
func (p *planner) tdc(cylinder string, phase logbook.Phase) {
	var do []string
	if p.Engine.Breaker.CamRatio == 0.5 {
		do = append(do, "find the compression stroke: both valves closed, air presses out of the plug hole; the points of a half-speed cam do not open at the other TDC")
	}
	top, mark := p.station(timing.AtTDC), p.station(timing.AtMark)
	do = append(do,
		fmt.Sprintf("put the dial in, pressed in by %.2f mm or more at TDC", p.stations[0].Movement),
		"rock the crank over the top both ways; where the pointer turns round is TDC ('breakcue tdc' works it out)")
	if p.Setup.Dial.Zero == timing.ZeroMark {
		do = append(do, fmt.Sprintf("turn back by more than %.2f mm, come forward to it, and set the dial to zero there: the mark; at TDC it then shows %s", mark.Movement, top.Face))
	} else {
		do = append(do, fmt.Sprintf("set the dial to zero at TDC, counter and pointer on %s; at the mark they then show %s", top.Face, mark.Face))
	}
	if p.Engine.Timing.Value.Unit == timing.Degree {
		do = append(do, "or set a degree wheel by equal heights: 'breakcue tdc' tells how")
	}
	st := p.add("tdc/"+cylinder+"/"+string(phase), fmt.Sprintf("TDC of cylinder %s, %s", cylinder, phase.Words()), do,
		"never a full turn of the crank with the dial in: rock it within the dial's range",
		"turned back, the nut on the crank may come loose: turn forward by it, backward by the wheel or the belt")
	st.Place = logbook.Place{Cylinder: cylinder, Phase: phase}
	st.Refit = []string{"dial out, plug hole clear"}
}

// measure makes the passes of one cylinder.
func (p *planner) measure(cylinder string, phase logbook.Phase) {
	from, early, late := p.station(timing.Start), p.station(timing.EarlyEnd), p.station(timing.LateEnd)
	do := []string{
		fmt.Sprintf("turn back to %s or beyond, so that all play is taken up on the way", from.Face),
		"come forward slowly, in the running direction, in small steps",
		"note the last reading with the points closed and the first with them open: type them as 2.03/1.98",
		fmt.Sprintf("in tolerance they open between %s and %s", early.Face, late.Face),
		"three passes at least",
	}
	if p.Engine.Breaker.CamRatio == 0.5 {
		do = append(do, "no opening? then this is the other TDC: take the dial out, turn the crank once more round, and find TDC again")
	}
	title := fmt.Sprintf("measure cylinder %s as found, before anything is cleaned or moved", cylinder)
	if phase == logbook.AsFound {
		do = append(do, "then the gap at full lift, without touching a screw: write it down")
	} else {
		title = fmt.Sprintf("measure cylinder %s as left: tightening may have moved it", cylinder)
	}
	st := p.add("measure/"+cylinder+"/"+string(phase), title, do)
	st.Work, st.Place = ByRead, logbook.Place{Cylinder: cylinder, Phase: phase}
}

func (p *planner) gap() {
	gap := lengthOf(p.Engine.Breaker.Gap)
	p.add("gap", "clean the points, set the gap, grease the cam", []string{
		"clean the contacts, set the gap to " + gap + " at full lift",
		"a drop of oil or grease for the felt of the cam",
		"the gap moves the timing (a wider one opens earlier): so it comes before the timing",
	})
}

func (p *planner) set() {
	b := p.Engine.Breaker
	do := []string{"hold the piston at the mark ('breakcue listen' shows the points across the shop)"}
	if b.Sets > 1 {
		do = append(do,
			"base plate first, for the set of cylinder "+p.Engine.Cylinders[0]+": it moves all sets; turn it until its points just break",
			"then each other set on its own plate, at the mark of its own cylinder",
			"then the first set again")
	} else {
		do = append(do, "turn the breaker plate until the points just break")
	}
	do = append(do, fmt.Sprintf("against the cam's rotation (%s, seen from the plate's side) is earlier, with it is later", b.Cam),
		"tighten the screws, evenly, and look whether the screen stayed as it was")
	p.add("set", "set the timing", do).Work = ByWatch
}

// together is the list of all that must be put back: what was done last is undone first, so that the cable is off before the
// battery is connected.
func (p *planner) together() {
	var do []string
	for _, st := range slices.Backward(p.steps) {
		for _, one := range slices.Backward(st.Refit) {
			if !slices.Contains(do, one) {
				do = append(do, one)
			}
		}
	}
	p.add("put_together", "put it back together, and tick each", do,
		"what holds the weights, a lead or a tool left in wrecks the engine").Work = ByTick
}

func (p *planner) start() {
	p.add("start", "fuel and the first start", []string{
		"turn the crank over by hand once more: nothing binds",
		"fuel on, look for leaks, then start",
		"keep the log: 'breakcue log show', next year 'breakcue log compare'",
	}, "stand clear of all that turns and of the exhaust; what the engine drives must be free to turn, or uncoupled")
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
