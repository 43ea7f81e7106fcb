package leads

import (
	"errors"
	"fmt"

	"breakcue/audio/circuit"
)

const (
	sourceL     = 6e-3   // [H] a source coil has less
	sourceR     = 1.0    // [ohm] and less resistance
	contactGood = 1.0    // [ohm]
	contactSure = 0.35   // relative uncertainty at which a resistance is named
	condSure    = 0.25   // and a capacitance
	leakBad     = 20e3   // [ohm] across open points, below which they are dirty or the condenser leaks
	misfitMost  = 30.0   // above, something is connected that no model has
	condLow     = 0.1e-6 // [F]
	condHigh    = 0.4e-6
	guessed     = 0.2 // relative uncertainty of a cable that nobody described
)

// assumed returns the cable that stands in for the resistor, and how well it is known.
func (k *conclusion) assumed() (c circuit.Circuit, rel float64) {
	if k.opt.Cable != nil {
		return *k.opt.Cable, k.opt.CableTolerance
	}
	if k.r.Wiring == Across {
		return circuit.Circuit{Wiring: circuit.Shunt, Series: 100, Input: 10e3}, guessed
	}
	return circuit.Circuit{Wiring: circuit.Series, Series: 100, Load: 47}, guessed
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

// findConnected works out what lies at the points, and says it.
func (k *conclusion) findConnected() {
	if k.unsure != "" {
		k.say("connected_unknown", Note, "cannot tell what is connected at the points: "+k.unsure, "")
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
	if k.has(Known) && len(tones) < circuit.MinTones {
		k.say("resistor_unlike", Warn, "the resistor sounds like the clips apart or together, or is not there",
			fmt.Sprintf("clip the cable on the resistor of %s ohm and make that step again, or leave it out", figure(k.opt.Resistor)))
	}
	found, err := circuit.Identify(tones)
	if err != nil {
		k.say("connected_unknown", Note, "cannot tell what is connected at the points: too few tones are loud enough", "")
		return
	}
	if found.Misfit > misfitMost {
		k.say("connected_unknown", Note, fmt.Sprintf("cannot tell what is connected at the points: the levels are %s times their noise off what coil, condenser "+
			"and contact would make", figure(found.Misfit)), "hold everything still and make the steps again")
		return
	}
	k.keep(found)
	k.findCoil(found)
	k.findCondenser(found)
	k.findContact(found)
	if found.Leak.Had() && found.Leak.Value < leakBad && within(found.Leak, contactSure) {
		k.say("points_leak", Warn, fmt.Sprintf("about %s kohm lie across the open points", figure(found.Leak.Value/1000)),
			"clean the points and what insulates them; disconnect the condenser to see whether it is the one that leaks")
	}
}

// keep keeps what was found.
func (k *conclusion) keep(found circuit.Connected) {
	c := &Connected{Kind: found.Kind.String(), Misfit: found.Misfit, Assumed: found.Assumed}
	c.Condenser, c.Contact, c.Leak = quantity(found.Condenser), quantity(found.Contact), quantity(found.Leak)
	if l := quantity(found.CoilL); l != nil {
		c.Coil = &Coil{L: *l, R: quantity(found.CoilR), Source: source(found)}
	}
	k.r.Connected = c
}

// quantity returns a value that was had, nil for others.
func quantity(e circuit.Estimate) *Quantity {
	if !e.Had() {
		return nil
	}
	return &Quantity{Value: e.Value, U: e.Sd}
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

// given says where figures come from when the resistor was left out.
func (k *conclusion) given() string {
	switch {
	case k.has(Known):
		return ""
	case k.opt.Cable != nil:
		return ", by the cable's nominal values"
	case k.r.Wiring == Across:
		return ", if the cable has 100 ohm; clip it on a known resistor to be sure"
	}
	return ", if the cable has 100 + 47 ohm; clip it on a known resistor to be sure"
}

func (k *conclusion) findCoil(found circuit.Connected) {
	if !found.CoilL.Had() {
		return
	}
	size := fmt.Sprintf("about %s mH (+- %s)%s", figure(1000*found.CoilL.Value), figure(1000*found.CoilL.Sd), k.given())
	switch {
	case source(found) && k.r.Wiring == InLine:
		k.say("source_coil", Warn, "a source coil lies across the points: "+size, fmt.Sprintf("take its lead off the points, or where that cannot be done "+
			"use the cable across, at %.0f Hz", k.across(found)))
	case source(found):
		k.say("source_coil", OK, "a source coil lies across the points: "+size+"; the cable across hears past it", "")
	default:
		k.say("coil", Warn, "a coil is still connected: "+size, "take its lead off the points")
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
		text := fmt.Sprintf("condenser of about %s uF (+- %s) in circuit%s", figure(1e6*c.Value), figure(1e6*c.Sd), k.given())
		switch {
		case c.Value < condLow-2*c.Sd:
			k.say("condenser_small", Warn, text+": most are of 0.15 to 0.30 uF", "look whether it is the right one, and how it is connected")
		case c.Value > condHigh+2*c.Sd:
			k.say("condenser_large", Warn, text+": most are of 0.15 to 0.30 uF", "look whether it is the right one; two in parallel add up")
		case k.contrast.Value >= apartGood:
			k.say("condenser", OK, text+": fine with this cable", "")
		default:
			k.say("condenser", Note, text+": with this cable points closed and open sound much alike", k.remedy())
		}
	case c.Had():
		k.say("condenser_unknown", Note, "a condenser lies across the points; how large it is cannot be told", "")
	case c.Reason == circuit.TooSmall && c.Bound < condLow/2:
		k.say("no_condenser", Note, fmt.Sprintf("no condenser in circuit: less than %s uF", figure(1e6*c.Bound)),
			"nothing for the timing; the engine needs one, see that it is connected again")
	default:
		k.say("condenser_unknown", Note, "cannot tell whether a condenser is in circuit", "")
	}
}

func (k *conclusion) findContact(found circuit.Connected) {
	switch r := found.Contact; {
	case within(r, contactSure) && r.Value-2.5*r.Sd > contactGood:
		k.say("contact", Warn, fmt.Sprintf("contact resistance about %s ohm (+- %s)%s", figure(r.Value), figure(r.Sd), k.given()),
			"clean the points, and see that the clips bite on bare metal")
	case r.Had() && r.Value+2*r.Sd < 2*contactGood:
		k.say("contact", OK, fmt.Sprintf("contact resistance %s ohm (+- %s)%s: clean", figure(r.Value), figure(r.Sd), k.given()), "")
	case r.Reason == circuit.TooSmall && r.Bound < 2*contactGood:
		k.say("contact", OK, fmt.Sprintf("contact resistance below %s ohm%s: clean", figure(r.Bound), k.given()), "")
	default:
		k.say("contact_unknown", Note, "cannot tell the contact resistance: the noise hides it", "turn the output up, or make the check in a quieter place")
	}
}
