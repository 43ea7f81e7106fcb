package cli

import (
	"slices"

	"breakcue/audio/bench"
	"breakcue/timing"
	"breakcue/timing/handturn"
	"breakcue/timing/logbook"
)

const (
	handSettles = 0.4  // [s] that the hand takes to do something else
	handWaits   = 20.0 // [s] after a pass until it is made again, when nobody has taken the reading
	handLooks   = 0.1  // [s] between looks whether somebody has
	handTries   = 20   // passes, until there is one that can be read
)

const (
	outBy      timing.Angle = 2.5 // how far the points open out of the mark as found, in tolerances
	leastOut   timing.Angle = 0.8 // [crank degrees]
	mostOut    timing.Angle = 6
	leastOpens timing.Angle = 1 // [crank degrees before top dead centre]; what opens later is hard to read
)

// found returns how much before the mark cylinder i opens as found.
func (h *benchHand) found(i int) timing.Angle {
	target := h.sheets.Engine.Target
	tolerance := leastOut
	if early, err := h.sheets.Engine.Crank.Angle(target.Travel+target.High, timing.BTDC); err == nil {
		tolerance = early - target.Angle
	}
	off := max(leastOut, min(mostOut, outBy*tolerance)) * timing.Angle(0.9+0.2*h.rng.Float64())
	if i%2 == 1 && target.Angle-off >= leastOpens {
		return -off
	}
	return off
}

// tighten draws how much before the mark a cylinder opens as left, once its plate is held.
func (h *benchHand) tighten(cylinder string) {
	off := timing.Angle(0.01 + 0.04*h.rng.Float64())
	if h.rng.IntN(2) == 0 {
		off = -off
	}
	h.off[logbook.Place{Cylinder: cylinder, Phase: logbook.AsLeft}] = off
}

func (h *benchHand) stage(at logbook.Place) handturn.Stage {
	mark := h.sheets.Engine.Target.Angle
	return handturn.Stage{
		Cylinder: slices.Index(h.sheets.Engine.Cylinders, at.Cylinder) + 1, Phase: string(at.Phase),
		Opens: max(0, min(90, mark+h.off[at])), Mark: mark, Passes: 1,
	}
}

// stop ends what the hand does, and closes the points. The dial is left as told.
func (h *benchHand) stop(dial string) {
	h.ahead, h.until, h.then = nil, h.now+handSettles, nil
	h.turns, h.pass, h.dial = false, nil, dial
	for set, closed := range h.closed {
		if !closed {
			h.plan(set, bench.Change{At: h.until, Closed: true})
		}
	}
	if len(h.ahead) > 0 {
		h.until += handSettles
	}
}

// plan lets changes of a set of points come after those that are planned already.
func (h *benchHand) plan(set int, changes ...bench.Change) {
	for _, c := range changes {
		h.ahead = append(h.ahead, handChange{c, set})
	}
}

// shown is what the dial shows.
func (h *benchHand) shown() string {
	switch p := h.pass; {
	case p == nil || h.now < p.First.At+h.shift:
		return h.dial
	case h.now < p.ReadAt+h.shift:
		return ""
	default:
		return p.Reading
	}
}

// approach makes the next pass.
func (h *benchHand) approach() {
	if h.pass != nil {
		h.dial = h.pass.Reading
	}
	h.pass, h.next = nil, false
	if st := h.stage(h.at); st != h.turned {
		if h.turning.Go(st) != nil {
			return // all stages that there are were tried before
		}
		h.turned = st
	}
	p, changes, err := h.turning.Pass()
	for range handTries {
		if err != nil || h.readable(p) {
			break
		}
		p, changes, err = h.turning.Pass()
	}
	if err != nil {
		return
	}
	if !h.readable(p) {
		p.Reading = timing.NoReading
	}
	h.shift = h.until + handSettles - p.From
	h.until = p.To + h.shift
	over := h.until
	if h.astray {
		h.then = h.approach
		return
	}
	h.pass = &p
	for _, c := range changes {
		h.plan(h.setAt(h.at), bench.Change{At: c.At + h.shift, Closed: c.Closed})
	}
	h.then = func() { h.wait(over) }
}

// readable tells that the reading can be typed: not where a pointer stands past the zero that it was set to at top dead centre.
func (h *benchHand) readable(p handturn.Pass) bool {
	_, err := h.sheets.Setup.ParseReading(p.Reading)
	return err == nil
}

// wait waits until the reading of a pass was taken, but not for ever.
func (h *benchHand) wait(over float64) {
	if h.next || h.until >= over+handWaits {
		h.approach()
		return
	}
	h.until += handLooks
	h.then = func() { h.wait(over) }
}

// openAndClose opens and closes the points three times by hand; of two sets the first, then the second.
func (h *benchHand) openAndClose() {
	h.openSet(0)
	if h.sheets.AtOnce {
		h.openSet(1)
	}
	h.then = h.openAndClose
}

func (h *benchHand) openSet(set int) {
	var changes []bench.Change
	at := h.until
	for range 3 {
		at += h.between(0.7, 1.1)
		changes = append(changes, bench.Change{At: at})
		at += h.between(0.9, 1.4)
		changes = append(changes, bench.Change{At: at, Closed: true})
	}
	slowly := bench.Chatter{Speed: 3, Lift: 0.04, Length: 0.002}
	if chatter, err := bench.AddChatter(changes, slowly, h.rng.Uint64()); err == nil {
		changes = chatter
	}
	h.plan(set, changes...)
	h.until = at + h.between(1.5, 2)
}

// movePlate moves the plate with the crank at the mark, until the points are just open.
func (h *benchHand) movePlate(set int, early bool) {
	at := h.until
	if early {
		at = h.flutter(set, at+h.between(0.3, 0.6), false)
		at = h.flutter(set, at+h.between(1.5, 2.5), true)
	}
	h.until = h.flutter(set, at+h.between(1, 2), false)
}

// early tells that the points of a cylinder opened too early as found.
func (h *benchHand) early(cylinder string) bool {
	return h.off[logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound}] > 0
}

// moveBoth moves the base plate with the first cylinder at the mark, then the plate of the second set with its cylinder there, and comes back
// to the first: it opens where it did.
func (h *benchHand) moveBoth() {
	for set := range h.closed {
		h.movePlate(set, h.early(h.sheets.Engine.Cylinders[set]))
		at := h.until + h.between(2.5, 3.5) // the crank goes on to the other mark
		h.plan(set, bench.Change{At: at, Closed: true})
		h.until = at + h.between(1.5, 2)
	}
	h.until = h.flutter(0, h.until, false)
}

// flutter lets the points of a set take a state from an instant on, after some returns to the one before. It returns when they stay.
func (h *benchHand) flutter(set int, at float64, closed bool) float64 {
	h.plan(set, bench.Change{At: at, Closed: closed})
	for range 2 + h.rng.IntN(4) {
		at += h.between(0.02, 0.12)
		h.plan(set, bench.Change{At: at, Closed: !closed})
		at += h.between(0.04, 0.2)
		h.plan(set, bench.Change{At: at, Closed: closed})
	}
	return at
}

// between draws a time [s].
func (h *benchHand) between(lo, hi float64) float64 { return lo + (hi-lo)*h.rng.Float64() }
