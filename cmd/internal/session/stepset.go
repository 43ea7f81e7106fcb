package session

import (
	"fmt"

	"breakcue/timing"
	"breakcue/timing/logbook"
	"breakcue/timing/sheet"
)

// gapFound measures the gap as found, after the timing, because the feeler goes between the points; and after all cylinders,
// because full lift lies outside the range of most dials.
func (p *planner) gapFound() {
	do := []string{
		"take the dial out before the crank goes further",
		"turn the crank by hand to full lift, where the points stand widest open",
		"try the feelers without touching a screw: the one that just drags is the gap",
		"try once more, and type it: the digits, then Enter",
	}
	p.eachSet(&do)
	st := p.add(gapFoundStep, "the gap as found", do, p.allRound("wipe the feelers first: oil on the contacts burns and fouls them")...)
	st.Refit = []string{"feelers and card out from between the points"}
	st.Asks = p.asks(logbook.AsFound)
	st.still = []check{{aboutDial, ""}, {aboutZero, ""}} // from here on it is out
	p.dialIn = ""
}

func (p *planner) gap() {
	do := []string{
		"clean the contacts; burnt or deeply pitted ones are for the maker's manual",
		"pull a clean dry card through the closed points: no grit, oil or fluff may stay",
		"turn the crank by hand to full lift, and set the gap to " + lengthOf(p.Engine.Breaker.Gap),
		"tighten, and try the feeler again: tightening moves the gap",
		"turn the crank on to full lift again, try it a second time, and type it",
		"a drop of oil or grease for the felt of the cam, none for the contacts",
	}
	p.eachSet(&do)
	st := p.add(gapStep, "clean the points, set the gap, grease the cam", do,
		p.allRound("the gap moves the timing, a wider one opens earlier: so it comes before the timing",
			"is the dial out? the crank goes all the way round here",
			"cleaning fluid burns: keep it off while the cable is on, and let it dry")...)
	st.Refit = []string{"feelers and card out from between the points", "screws of the points tight"}
	st.Asks = p.asks(logbook.AsLeft)
}

// allRound adds to the cautions of a step what belongs where the crank goes all the way round while the cable is on.
func (p *planner) allRound(care ...string) []string {
	if p.Engine.Ignition != sheet.Battery {
		care = append(care, fastMagneto)
	}
	return care
}

// eachSet says that all this is done for each set of points and each lobe, where there are several.
func (p *planner) eachSet(do *[]string) {
	if p.Engine.Breaker.Sets > 1 {
		*do = append(*do, "the same for each set of points")
	}
	// A wasted spark needs fewer lobes than there are cylinders, so a four-stroke's cam at crank speed tells nothing of them.
	if p.shared() && (p.Engine.Breaker.CamRatio == 0.5 || p.Engine.Cycle == sheet.TwoStroke) {
		*do = append(*do, "the same at each lobe of the cam: they may differ")
	}
}

// set moves the plates. The dial is in the first cylinder and zeroed by then. The plate comes from the side on which the points
// are closed, so that its play is taken up the same way and the screen shows the very break.
func (p *planner) set() {
	b, mark := p.Engine.Breaker, p.station(timing.AtMark).Face
	plate := "the breaker plate"
	if b.Sets > 1 {
		plate = "the base plate"
	}
	later, earlier := b.Cam, b.Cam.Other()
	var do []string
	if b.Sets > 1 {
		do = append(do, "base plate first, for "+p.served(0)+": it moves all sets of points")
	}
	do = append(do, fmt.Sprintf("loosen the screws of %s just so far that it moves stiffly", plate))
	do = append(do, p.settle(logbook.AsLeft)...)
	do = append(do,
		fmt.Sprintf("hold the piston at the mark, coming forward: the dial shows %s", mark),
		fmt.Sprintf("turn %s %s, with the cam, until the screen says points closed: that is later", plate, later),
		fmt.Sprintf("turn it slowly %s, against the cam, until the screen just says points open", earlier),
		"tighten evenly, a little each; the dial and the screen must stay as they were")
	if p.AtOnce {
		do[len(do)-2] += "; both sets are on the screen: this is the side of " + p.served(0)
	}
	for set := 1; set < b.Sets; set++ {
		do = append(do, p.ownPlate(set, mark)...)
	}
	if b.Sets > 1 {
		do = append(do,
			"dial out, to cylinder "+p.Engine.Cylinders[0]+" again"+p.compression()+": TDC anew, zero anew")
		if !p.AtOnce {
			do = append(do, "clip the cable on "+p.points(0)+" again")
		}
		do = append(do, fmt.Sprintf("check the first set again: back, and forward; it must still open at %s", mark))
	} else {
		do = append(do, fmt.Sprintf("turn back, come forward: the points must open at %s", mark))
	}
	if p.shared() {
		do = append(do, "cylinders that share points and lie apart: set the points for the middle between them")
	}
	st := p.add(SetStep, "set the timing", do, noFullTurn, looseNut, "the crank may spring back when it is let go: mind the fingers")
	st.Work = ByWatch
	st.Refit = []string{"screws of every plate tight"}
	p.dialIn, p.cableOn = p.Engine.Cylinders[0], 0
}

// ownPlate sets another set of points on its own plate, at the mark of its own cylinder.
func (p *planner) ownPlate(set int, mark timing.Face) []string {
	cylinder := p.Engine.Cylinders[set]
	do := []string{
		"take the dial out, and bring cylinder " + cylinder + " near its TDC" + p.compression(),
		"put the dial in there: TDC anew, zero anew",
	}
	if !p.AtOnce {
		do = append(do, "clip the cable on "+p.points(set), "open these points by hand, for a second: the screen must say points open")
	}
	do = append(do, "loosen its own plate alone; the base plate stays as it is")
	return append(append(do, p.settle(logbook.AsLeft)...),
		fmt.Sprintf("hold its piston at the mark, coming forward: the dial shows %s", mark),
		"set it the same way: points closed first, then until the screen just says points open",
		"tighten; the dial and the screen must stay as they were")
}

// compression tells at which of its top dead centres a cylinder is set, where there are two.
func (p *planner) compression() string {
	if p.Engine.Breaker.CamRatio == 0.5 {
		return ", compression stroke"
	}
	return ""
}
