package leads

import (
	"errors"
	"fmt"
	"math"

	"breakcue/audio/circuit"
)

const (
	sourceL     = 6e-3    // [H] a source coil has less
	sourceR     = 0.8     // [ohm] and less resistance
	contactGood = 1.0     // [ohm]
	contactSure = 0.35    // relative uncertainty at which a resistance is named
	condSure    = 0.25    // and a capacitance
	leakBad     = 20e3    // [ohm] across open points, below which they are dirty or the condenser leaks
	misfitMost  = 30.0    // above, something is connected that no model has
	condNone    = 0.01e-6 // [F] that a condenser has at least
	condLow     = 0.1e-6  // [F]
	condHigh    = 0.4e-6
	guessed     = 0.03 // relative standard uncertainty of the resistors of a cable that nobody described: 5 %, evenly likely
	// Resistance of an output [ohm]: line outputs have 100 to 600, headphone jacks from next to nothing on (common practice).
	outputUsual = 100.0
	outputLeast = 0.0
	outputMost  = 600.0
)

// assumed returns the cable that stands in for the resistor, and how well it is known, but for the output: see outputs.
func (k *conclusion) assumed() (c circuit.Circuit, rel float64) {
	c, rel = circuit.Circuit{Wiring: circuit.Series, Series: 100, Load: 47}, guessed
	switch {
	case k.opt.Cable != nil:
		c, rel = *k.opt.Cable, k.opt.CableTolerance
	case k.r.Wiring == Across:
		c = circuit.Circuit{Wiring: circuit.Shunt, Series: 100, Input: 10e3}
	}
	if c.Source == 0 {
		c.Source = outputUsual
	}
	return c, rel
}

// outputs returns by how much impedances would be smaller and larger than they were worked out, were the output's resistance that of a
// headphone jack or of the highest line output: 1 and 1 where nothing rests on it.
func (k *conclusion) outputs() (least, most float64) {
	if k.has(Known) || k.opt.Cable != nil && k.opt.Cable.Source > 0 {
		return 1, 1
	}
	c, _ := k.assumed()
	usual := scale(c)
	c.Source = outputLeast
	least = scale(c) / usual
	c.Source = outputMost
	return least, scale(c) / usual
}

// scale returns the resistance with which impedances between the clips are compared [ohm]: source and load one after the other in line,
// side by side across.
func scale(c circuit.Circuit) float64 {
	load := 1 / (reciprocal(c.Load) + reciprocal(c.Input))
	drive := c.Source + c.Series + c.Lead
	if c.Wiring == circuit.Shunt {
		return 1 / (1/drive + 1/load)
	}
	return drive + load
}

// reciprocal returns 1/r, and 0 for an r of 0, which stands for none.
func reciprocal(r float64) float64 {
	if r == 0 {
		return 0
	}
	return 1 / r
}

// measured is the level of a tone in a step for the circuit.
func (k *conclusion) measured(s Step, tone int) circuit.Measured {
	t := k.m[s].Tones[tone]
	return circuit.Measured{Level: t.Level.Value(), Noise: t.U}
}

// fixture returns the calibration of the cable at a tone.
func (k *conclusion) fixture(tone int) (circuit.Fixture, error) {
	if k.has(Known) {
		return circuit.NewFixture(k.measured(Apart, tone), k.measured(Together, tone), k.measured(Known, tone), k.opt.Resistor, k.opt.Tolerance)
	}
	c, rel := k.assumed()
	return circuit.AssumeFixture(k.hz[tone], k.measured(Apart, tone), k.measured(Together, tone), c, rel)
}

// identify works out what lies at the points, or says why it cannot.
func (k *conclusion) identify() {
	if k.unsure != "" {
		k.say("connected_unknown", Note, "cannot tell what is connected at the points: "+k.unsure, "")
		return
	}
	if !k.has(Known) && (k.other || k.opt.Cable != nil && (k.opt.Cable.Wiring == circuit.Shunt) != (k.r.Wiring == Across)) {
		k.say("connected_unknown", Note, "cannot tell what is connected at the points: the cable is another than was given, and its resistors are not known",
			"check again with the wiring it has")
		return
	}
	var tones []circuit.Tone
	for i, f := range k.hz {
		fix, err := k.fixture(i)
		var alike *circuit.AlikeError
		if errors.As(err, &alike) || err != nil {
			continue
		}
		tones = append(tones, circuit.Tone{F: f, Fixture: fix, Closed: k.measured(Closed, i), Open: k.measured(Open, i)})
	}
	if k.has(Known) && len(tones) < circuit.MinTones && k.resistorUnlike() {
		k.say("resistor_unlike", Warn, "the resistor sounds like the clips apart or together, or is not there",
			fmt.Sprintf("clip the cable on the resistor of %s Ω and make that step again, or leave it out", figure(k.opt.Resistor)))
	}
	found, err := circuit.Identify(tones)
	if err != nil {
		k.say("connected_unknown", Note, "cannot tell what is connected at the points: too few tones stand out of the noise", "")
		return
	}
	if found.Misfit > misfitMost {
		k.say("connected_unknown", Note, "cannot tell what is connected at the points: no condenser, coil and contact together sound like that",
			"look whether anything else is connected to them, hold everything still and make the steps again")
		return
	}
	k.found = &found
	k.keep(found)
}

// resistorUnlike tells that the clips were not on a resistor when they should have been, as far as the noise shows it.
func (k *conclusion) resistorUnlike() bool {
	span := k.distance(Apart, Together)
	near := func(s Step) bool {
		d := k.distance(Known, s)
		return d.Value+2*d.U < nearPart*span.Value
	}
	return near(Apart) || near(Together)
}

// findConnected says what was found at the points.
func (k *conclusion) findConnected() {
	if k.found == nil {
		return
	}
	found := *k.found
	k.findCoil(found)
	k.findCondenser(found)
	k.findContact(found)
	if found.Leak.Had() && found.Leak.Value < leakBad && within(found.Leak, contactSure) {
		k.say("points_leak", Warn, fmt.Sprintf("about %s kΩ lie across the open points", figure(found.Leak.Value/1000)),
			"clean the points and what insulates them; disconnect the condenser to see whether it is the one that leaks")
	}
}

// keep keeps what was found.
func (k *conclusion) keep(found circuit.Connected) {
	c := &Connected{Kind: found.Kind.String(), Misfit: found.Misfit, Assumed: found.Assumed}
	c.Condenser, c.Contact, c.Leak = k.quantity(found.Condenser, true), k.quantity(found.Contact, false), k.quantity(found.Leak, false)
	if l := k.quantity(found.CoilL, false); l != nil {
		c.Coil = &Coil{L: *l, R: k.quantity(found.CoilR, false), Source: source(found)}
	}
	k.r.Connected = c
}

// quantity returns a value that was had, nil for others. What the output may have counts as evenly likely as far
// as the farther end on both sides.
func (k *conclusion) quantity(e circuit.Estimate, inverse bool) *Quantity {
	if !e.Had() {
		return nil
	}
	lo, hi := k.span(e, inverse)
	return &Quantity{Value: e.Value, U: math.Hypot(e.Sd, max(hi-e.Value, e.Value-lo)/math.Sqrt(3))}
}

// within tells whether an estimate is known to so large a part.
func within(e circuit.Estimate, part float64) bool { return e.Had() && e.Sd <= part*e.Value }

// source tells whether a coil is small enough for a magneto's source coil.
func source(found circuit.Connected) bool {
	r := found.CoilR.Value
	if !found.CoilR.Had() {
		r = found.CoilR.Bound
	}
	return found.CoilL.Value < sourceL && r < sourceR
}

// about writes a value of an estimate in parts of unit, with twice its standard uncertainty, which holds in 95 of 100, and what it
// rests on. inverse tells that it is the smaller the larger resistances are.
func (k *conclusion) about(e circuit.Estimate, unit float64, name string, inverse bool) string {
	text := fmt.Sprintf("%s %s (± %s)", figure(e.Value/unit), name, figure(2*e.Sd/unit))
	lo, hi := k.span(e, inverse)
	switch {
	case k.has(Known):
		return text
	case lo == hi:
		return text + " by the cable's nominal values"
	}
	return fmt.Sprintf("%s %s (%s to %s: the output may have up to 600 Ω; a known resistor settles it)", figure(e.Value/unit), name, figure(lo/unit), figure(hi/unit))
}

// span returns between which values an estimate lies by what the output may have, its noise left out: its value twice where nothing rests
// on the output.
func (k *conclusion) span(e circuit.Estimate, inverse bool) (lo, hi float64) {
	least, most := k.outputs()
	if inverse {
		least, most = 1/most, 1/least
	}
	return e.Value * least, e.Value * most
}

func (k *conclusion) findCoil(found circuit.Connected) {
	if !found.CoilL.Had() {
		return
	}
	size := "about " + k.about(found.CoilL, 1e-3, "mH", false)
	switch {
	case source(found) && k.r.Wiring == InLine:
		k.say("source_coil", Warn, "a source coil lies across the points: "+size, fmt.Sprintf("take its lead off the points, or where that cannot be done "+
			"use the cable across, at %.0f Hz", k.across(found)))
	case source(found):
		k.say("source_coil", OK, "a source coil lies across the points: "+size+"; the cable across hears past it", "")
	default:
		do := "take its lead off the points and make the steps on the points again"
		switch lo, _ := k.span(found.CoilL, false); {
		case lo >= sourceL:
		case k.r.Wiring == Across:
			do += "; where it is a magneto's source coil, it may stay on"
		default:
			do += "; where it is a magneto's source coil, which stays on, use the cable across"
		}
		k.say("coil", Warn, "a coil is still connected: "+size, do)
	}
}

// across returns the tone of the comb at which what was found would be told best by the cable across [Hz].
func (k *conclusion) across(found circuit.Connected) (hz float64) {
	c := found.Circuit(circuit.Circuit{Wiring: circuit.Shunt, Series: 100, Input: 10e3, Contact: 0.1})
	best := -1.0
	for _, f := range k.hz {
		l, err := c.At(f)
		if err != nil || f < 1500 || f > toneHigh {
			continue
		}
		if d := abs2(l.Closed - l.Open); d > best {
			best, hz = d, f
		}
	}
	return hz
}

func (k *conclusion) findCondenser(found circuit.Connected) {
	switch c := found.Condenser; {
	case within(c, condSure):
		text := fmt.Sprintf("condenser of about %s in circuit", k.about(c, 1e-6, "µF", true))
		lo, hi := k.span(c, true)
		switch {
		case hi < condLow-2*c.Sd:
			k.say("condenser_small", Warn, text+": most are of 0.15 to 0.30 µF", "look whether it is the right one, and how it is connected")
		case lo > condHigh+2*c.Sd:
			k.say("condenser_large", Warn, text+": most are of 0.15 to 0.30 µF", "look whether it is the right one; two in parallel add up")
		case circuit.Judge(k.apart.worst) == circuit.WillDo:
			k.say("condenser", OK, text+": fine with this cable", "")
		default:
			k.say("condenser", OK, text, "")
		}
	case c.Had():
		k.say("condenser_unknown", Note, "a condenser lies across the points; how large it is cannot be told", "")
	case c.Reason == circuit.TooSmall && c.Bound < condLow/2:
		k.say("no_condenser", Note, fmt.Sprintf("no condenser in circuit: less than %s µF", figure(1e6*math.Max(c.Bound, condNone))),
			"nothing for the timing; the engine needs one, see that it is connected again")
	default:
		k.say("condenser_unknown", Note, "cannot tell whether a condenser is in circuit", "")
	}
}

func (k *conclusion) findContact(found circuit.Connected) {
	r := found.Contact
	lo, hi := k.span(r, false)
	_, most := k.outputs()
	switch {
	case within(r, contactSure) && lo-2.5*r.Sd > contactGood:
		k.say("contact", Warn, "contact resistance about "+k.about(r, 1, "Ω", false),
			"clean the points, and see that the clips bite on bare metal")
	case r.Had() && hi+2*r.Sd < 2*contactGood:
		k.say("contact", OK, "contact resistance "+k.about(r, 1, "Ω", false)+": clean", "")
	case r.Reason == circuit.TooSmall && r.Bound*most < 2*contactGood:
		k.say("contact", OK, fmt.Sprintf("contact resistance below %s Ω: clean", figure(r.Bound*most)), "")
	case within(r, contactSure):
		k.say("contact", Note, "contact resistance "+k.about(r, 1, "Ω", false), "clip the cable on a known resistor to be sure whether the points are clean")
	default:
		k.say("contact_unknown", Note, "cannot tell the contact resistance: the noise hides it", louder+", or make the check in a quieter place")
	}
}
