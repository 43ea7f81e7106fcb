package session

import (
	"fmt"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Cautions of each step in which the dial is in and the crank is turned.
const (
	noFullTurn = "never a full turn of the crank with the dial in: rock it within the dial's range"
	looseNut   = "turned back, the nut on the crank may come loose: turn forward by it, backward by the wheel or the belt"
)

// tdc finds top dead centre for one cylinder.
func (p *planner) tdc(i int, phase logbook.Phase) {
	cylinder, hole := p.Engine.Cylinders[i], "the plug hole"
	if len(p.Engine.Cylinders) > 1 {
		hole = "the plug hole of cylinder " + cylinder
	}
	var do []string
	if p.dialIn != "" && p.dialIn != cylinder {
		do = append(do, "take the dial out of the plug hole of cylinder "+p.dialIn+" before the crank goes further")
	}
	do = append(do, p.stroke(hole)...)
	do = append(do,
		"bring the piston near the top",
		fmt.Sprintf("put the dial in %s, firmly, pressed in by %s or more at TDC", hole, p.onDial(p.stations[0].Movement)),
		"rock the crank over the top both ways: where the pointer turns round is TDC")
	do = append(do, p.zero()...)
	if p.Engine.Timing.Value.Unit == timing.Degree {
		do = append(do, "or put a degree wheel on, set by equal heights: 'breakcue tdc' tells how")
	}
	title := fmt.Sprintf("TDC of cylinder %s, %s", cylinder, phase.Words())
	if phase == logbook.AsLeft {
		title = fmt.Sprintf("TDC of cylinder %s anew", cylinder)
	}
	st := p.add(tdcPrefix+cylinder+"/"+string(phase), title, do, noFullTurn, looseNut)
	st.Place = logbook.Place{Cylinder: cylinder, Phase: phase}
	st.Refit = []string{"dial out, plug hole clear", "spanner off the crank"}
	if p.Engine.Timing.Value.Unit == timing.Degree {
		st.Refit = append(st.Refit, "degree wheel and its pointer off, if they were on")
	}
	st.still = []check{
		{aboutDial, fmt.Sprintf("is the dial in %s untouched, and does it show %s at TDC?", hole, p.station(timing.AtTDC).Face)},
		{aboutZero, "in doubt of the dial, find TDC anew before anything is measured"},
	}
	p.dialIn = cylinder
}

// stroke tells which top dead centre is wanted: with a half-speed cam there are two. A lobe serves each cylinder of a set, a
// turn of the cam is two of the crank: so with an even number of evenly spaced lobes another one opens the points at the other TDC.
func (p *planner) stroke(hole string) []string {
	if p.Engine.Breaker.CamRatio != 0.5 {
		return nil
	}
	find := []string{"find the compression stroke: a thumb on " + hole + ", turn forward: air presses out"}
	if !p.SilentTDC() {
		return append(find, "both valves are closed then; at the other TDC the points may open too, for another cylinder")
	}
	return append(find, "both valves are closed then; at the other TDC the points do not open: the cam turns at half speed")
}

// SilentTDC tells whether there is a top dead centre of each cylinder at which its points do not open: with a cam at half speed that
// has an odd number of lobes for each set of points.
func (s Sheets) SilentTDC() bool {
	lobes := len(s.Engine.Cylinders) / s.Engine.Breaker.Sets
	return s.Engine.Breaker.CamRatio != 1 && lobes%2 == 1
}

// zero sets the dial to zero where its sheet says.
func (p *planner) zero() []string {
	top, mark := p.station(timing.AtTDC), p.station(timing.AtMark)
	if p.Setup.Dial.Zero == timing.ZeroMark {
		return []string{
			"the pointer hangs still about there: 'breakcue tdc' works TDC out from both ways of turning",
			"note what the dial shows at TDC",
			fmt.Sprintf("turn back by more than %[1]s from there, and come forward to just %[1]s: the mark", p.onDial(mark.Movement)),
			fmt.Sprintf("set the dial to zero there, counter and pointer on %s", mark.Face),
			fmt.Sprintf("over the top it must then show %s", top.Face),
		}
	}
	return []string{
		"the pointer hangs still about there: 'breakcue tdc' works TDC out from both ways of turning",
		fmt.Sprintf("set the dial to zero at TDC, counter and pointer on %s", top.Face),
		fmt.Sprintf("over the top once more, coming forward: it must show %s there again", top.Face),
		fmt.Sprintf("at the mark it must then show %s", mark.Face),
	}
}

// clip brings the cable to the set of points that is measured next, where there are several. The dial is in by then, and at
// the start of an approach the points are closed.
func (p *planner) clip(i int, phase logbook.Phase) {
	set := p.setOf(i)
	if set == p.cableOn || p.AtOnce {
		return
	}
	p.cableOn = set
	cylinder := p.Engine.Cylinders[i]
	st := p.add(clipPrefix+cylinder+"/"+string(phase), "the cable to the points of cylinder "+cylinder, []string{
		"clip the cable on " + p.points(set),
		fmt.Sprintf("turn back to %s: the screen must say points closed", p.station(timing.Start).Face),
		"open these points by hand, for a second: the screen must say points open",
		"let them close: points closed again; the levels may have changed a little, one opening teaches them",
	}, noFullTurn)
	st.Work, st.Place = ByWatch, logbook.Place{Cylinder: cylinder, Phase: phase}
	st.still = []check{{aboutCable, "is the cable still on " + p.points(set) + ", both clips fast?"}}
}

// measure makes the passes of one cylinder.
func (p *planner) measure(i int, phase logbook.Phase) {
	e, cylinder := p.Engine, p.Engine.Cylinders[i]
	from, early, late := p.station(timing.Start), p.station(timing.EarlyEnd), p.station(timing.LateEnd)
	var do []string
	if p.AtOnce {
		do = append(do, "what counts are "+p.points(p.setOf(i))+"; the screen shows the others too")
	} else if e.Breaker.Sets > 1 {
		do = append(do, "see that the cable is on "+p.points(p.setOf(i)))
	} else if i > 0 {
		do = append(do, "leave the cable where it is: the same points serve cylinder "+cylinder)
	}
	do = append(do, fmt.Sprintf("turn back to %s or further from TDC: that takes up all play", from.Face))
	do = append(do, p.settle(phase)...)
	do = append(do,
		fmt.Sprintf("come forward slowly, in small steps: the running direction, %s from the plate's side", e.Rotation),
		"gone too far? all the way back, and forward again: never back by a little",
		"type the last reading with the points closed and the first with them open, as "+p.example(),
		fmt.Sprintf("in tolerance they open between %s and %s", early.Face, late.Face),
		"three passes at least, each from the start")
	if p.SilentTDC() {
		do = append(do, "no opening at all? the other TDC: dial out, one turn of the crank by hand, dial in, TDC anew")
	}
	title := fmt.Sprintf("measure cylinder %s as found, before anything is cleaned or moved", cylinder)
	if phase == logbook.AsLeft {
		title = fmt.Sprintf("measure cylinder %s as left: tightening may have moved it", cylinder)
		do = append(do, "out of tolerance? go back: loosen, set, tighten, and measure as left again")
		if len(e.Cylinders) > 1 && i == len(e.Cylinders)-1 {
			do = append(do, p.apart())
		}
	}
	st := p.add(measurePrefix+cylinder+"/"+string(phase), title, do, noFullTurn)
	st.Work, st.Place = ByRead, logbook.Place{Cylinder: cylinder, Phase: phase}
}

// example is a reading as it may be typed, near the mark: the last with the points closed and the first with them open.
func (p *planner) example() string {
	d, mark := p.Setup.Dial, p.station(timing.AtMark).Reading
	return fmt.Sprintf("%s/%s", d.Face(mark+3*d.Graduation), d.Face(mark-2*d.Graduation))
}

// onDial is a movement of the plunger in the unit of the dial.
func (p *planner) onDial(l timing.Length) string {
	if p.Setup.Dial.Unit == timing.Inch {
		return fmt.Sprintf("%.3f in", l.Thou()/1000)
	}
	return fmt.Sprintf("%.2f mm", l)
}

// settle brings the cam to the same place before each pass and before it is set, where an advance lets it move; it is empty where none does.
func (p *planner) settle(phase logbook.Phase) []string {
	same := ""
	if phase == logbook.AsLeft {
		same = ", the same way as before"
	}
	switch p.Engine.Timing.Advance {
	case timing.AdvanceAtRest:
		if p.Engine.Hold != "" {
			return []string{"see that the weights are still held at rest" + same}
		}
		return []string{"turn the cam against its springs and let it go: it settles at rest" + same}
	case timing.AdvanceFull:
		return []string{"see that the weights are still held at full travel" + same}
	}
	return nil
}

// apart looks at the difference between cylinders.
func (p *planner) apart() string {
	if s := p.Engine.Timing.Spread; s != (timing.Quantity{}) {
		return fmt.Sprintf("look at the difference between the cylinders: %s at most", s)
	}
	return "look at the difference between the cylinders: the smaller, the smoother it runs"
}
