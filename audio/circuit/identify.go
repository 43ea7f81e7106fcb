package circuit

import (
	"fmt"
	"math"
)

// Tone is one frequency at which the clips on the points were listened to.
type Tone struct {
	F            float64 // [Hz], more than 0
	Fixture      Fixture // of the cable, at F
	Closed, Open Measured
}

// Kind says what lies across the points.
type Kind uint8

// The kinds.
const (
	Nothing       Kind = iota // the leads only
	Leaky                     // a leak only
	WithCondenser             // a condenser, with a leak or without
	WithCoil                  // a coil without a condenser
	WithBoth                  // a coil and a condenser
	Short                     // a short: points closed and open are alike, and of few ohms
)

// String returns the kind in words.
func (k Kind) String() string {
	return [...]string{"nothing", "leak", "condenser", "coil", "coil and condenser", "short"}[min(k, Short)]
}

// Reason says why a value cannot be had. The empty reason is that of a value that was had.
type Reason string

// The reasons.
const (
	Absent    Reason = "there is none"
	TooSmall  Reason = "too small to tell"                           // Bound is what it is at most
	TooLarge  Reason = "too large to tell"                           // Bound is what it is at least
	Hidden    Reason = "hidden by what lies beside it"               // a leak beside a coil
	Unchanged Reason = "points closed and open cannot be told apart" // the contact
)

// Estimate is a value that was worked out, or why it could not be.
type Estimate struct {
	Value, Sd float64 // the value and its standard uncertainty, where Reason is empty; else 0
	Reason    Reason
	Bound     float64 // a limit, at two standard uncertainties, where Reason is TooSmall or TooLarge; else 0
}

// Had tells whether there is a value.
func (e Estimate) Had() bool { return e.Reason == "" }

// Connected is what lies across the points.
type Connected struct {
	Kind      Kind
	Contact   Estimate // resistance of the closed contacts, or with Kind Short of what shorts them, with that of the clips [ohm]
	Leak      Estimate // resistance across the open contacts [ohm]
	Condenser Estimate // [F]
	CoilR     Estimate // resistance of the coil's wire and of what its far end goes to [ohm]
	CoilL     Estimate // inductance [H]
	Eddy      Estimate // resistance in parallel with the inductance for eddy losses [ohm]
	Plates    bool     // the eddy losses are more like those of plates than of a ring: see Coil
	// Unsure tells that the condenser beside a coil may be none: losses in the coil that no law here quite describes look like one.
	Unsure bool
	// Alike tells that closed and open could not be told apart: the points did not move, or nothing shows whether they do.
	Alike bool
	// Assumed tells that source and load were assumed, not measured on a known resistor.
	Assumed bool
	// Misfit is how many times larger than their noise the levels' distances from what the model says are, 1 or more. Uncertainties
	// have been multiplied by it. Well above 1, something is connected that no model here has, or the noise is not what was said.
	Misfit float64
	// Left lists the tones [Hz] that were of no use, or that contradict the others, in the order given.
	Left []float64
}

// MinTones is how many tones Identify needs.
const MinTones = 6

// Identify works out what lies across the points. It fits each of a few circuits to all levels by weighted least squares, which stand
// a few tones gone bad, and takes the simplest that explains them: a part more must lower the sum of squares by partLimit for each of its
// values. Levels are fitted, not impedances: their noise is the same on either side, whereas that of a large impedance is not.
// It fails when fewer than MinTones tones are of use; tones with levels that are not finite are not.
func Identify(tones []Tone) (Connected, error) {
	var c Connected
	var use []weighed
	for _, t := range tones {
		w, err := weigh(t)
		if err != nil {
			c.Left = append(c.Left, t.F)
			continue
		}
		use = append(use, w)
	}
	if len(use) < MinTones {
		return Connected{}, fmt.Errorf("circuit: tones of use, got %d of %d, want %d or more", len(use), len(tones), MinTones)
	}
	var rel float64
	for _, t := range use {
		c.Assumed = c.Assumed || t.fixture.assumed
		rel = math.Max(rel, t.fixture.rel)
	}
	c.Alike = alike(use)
	if c.Alike {
		for i := range use {
			use[i].closedOff()
		}
	}
	best, wider := choose(use, c.Alike)
	c.Misfit = math.Sqrt(best.scale)
	c.Left = append(c.Left, best.left(use)...)
	c.Kind = best.kind(c.Alike)
	c.values(best, wider, rel)
	if best.parts.has(partL) {
		c.doubt(mixed(use, best, wider))
	}
	return c, nil
}

// shortLimit [ohm] is below what points that do not change are taken to be shorted: a closed contact is 30 at worst.
const shortLimit = 100

func (f fit) kind(alike bool) Kind {
	switch p := f.parts; {
	case p.has(partL) && p.has(partC):
		return WithBoth
	case p.has(partL):
		return WithCoil
	case p.has(partC):
		return WithCondenser
	case p.has(partRc) && alike:
		return Short
	case p.has(partG):
		return Leaky
	}
	return Nothing
}

// values fills in the estimates. Where a part is not in best, its limit comes from the fit in wider that has it too.
func (c *Connected) values(best fit, wider map[parts]fit, rel float64) {
	relative := func(v, sd float64) Estimate {
		if !finite(complex(v, sd)) {
			return Estimate{Reason: Hidden}
		}
		return Estimate{Value: v, Sd: math.Hypot(sd, rel*v)}
	}
	limit := func(why Reason, v float64) Estimate {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return Estimate{Reason: Hidden}
		}
		return Estimate{Reason: why, Bound: v}
	}
	// small is for what may be as small as it likes, large for what is 1/x.
	small := func(f fit, i part) Estimate {
		x, sd := f.x[i], f.sd[i]
		if !f.parts.has(i) || x < 2*sd {
			return limit(TooSmall, (math.Max(x, 0)+2*sd)*(1+2*rel))
		}
		return relative(x, sd)
	}
	large := func(x, sd float64) Estimate {
		if x < 2*sd || x == 0 {
			hi := math.Max(x, 0) + 2*sd
			if math.IsInf(hi, 1) {
				return Estimate{Reason: Hidden}
			}
			return limit(TooLarge, 1/hi/(1+2*rel))
		}
		return relative(1/x, sd/(x*x))
	}
	with := func(more ...part) (fit, bool) {
		p := best.parts
		for _, m := range more {
			p = p.with(m)
		}
		f, ok := wider[p]
		return f, ok
	}
	coil := best.parts.has(partL)

	c.Contact = Estimate{Reason: Unchanged}
	if best.parts.has(partRc) {
		c.Contact = small(best, partRc)
	}
	c.Condenser = Estimate{Reason: Absent}
	if best.parts.has(partC) {
		c.Condenser = relative(best.x[partC], best.sd[partC])
	} else if f, ok := with(partC); ok && !c.Alike {
		c.Condenser = limit(TooSmall, (math.Max(f.x[partC], 0)+2*f.sd[partC])*(1+2*rel))
	}
	c.Leak = Estimate{Reason: Hidden}
	if f, ok := with(partG); ok && !coil {
		c.Leak = large(f.x[partG], f.sd[partG])
	}
	none := Estimate{Reason: Absent}
	c.CoilL, c.CoilR, c.Eddy = none, none, none
	if coil {
		l := math.Exp(best.x[partL])
		c.CoilL = relative(l, l*best.sd[partL])
		c.CoilR = small(best, partR)
		if f, ok := with(partE); ok {
			c.Eddy = large(f.x[partE], f.sd[partE])
			if c.Eddy.Had() {
				c.Eddy = relative(f.eddy())
			} else if c.Eddy.Reason == TooLarge {
				c.Eddy.Bound *= lossAt * l
			}
		}
		c.Plates = best.parts.has(partP)
	}
}

// eddy returns lossAt*L/tan [ohm] and its standard deviation, of first order.
func (f fit) eddy() (ohm, sd float64) {
	tan := f.x[partE]
	ohm = lossAt * math.Exp(f.x[partL]) / tan
	return ohm, ohm * math.Sqrt(f.cov[partL][partL]+f.cov[partE][partE]/(tan*tan)-2*f.cov[partL][partE]/tan)
}

// doubt looks at the condenser beside a coil again. Losses lower the inductance as the tone rises, a condenser raises it, so that a wrong law
// of the losses is taken for a condenser or hides one; nobody knows the law of a core. So the uncertainty is what remains when the
// law may be anything between those of a ring and of plates, and with the distance to what the condenser then is.
func (c *Connected) doubt(without, with fit) {
	x, sd := with.x[partC], with.sd[partC]
	if math.IsInf(sd, 1) {
		return
	}
	switch {
	case c.Condenser.Had():
		c.Condenser.Sd = math.Hypot(c.Condenser.Sd, math.Hypot(sd, x-c.Condenser.Value))
		c.Unsure = without.cost-with.cost < partLimit
	case c.Condenser.Reason == TooSmall:
		c.Condenser.Bound = math.Max(c.Condenser.Bound, math.Max(x, 0)+2*sd)
	}
}

// Circuit returns the cable c connected to what was found. A value that could not be had is left out, but for a contact: that of c stays.
func (k Connected) Circuit(c Circuit) Circuit {
	c.Condenser, c.Leak, c.Coil = k.Condenser.Value, k.Leak.Value, nil
	if k.Contact.Had() {
		c.Contact = k.Contact.Value
	}
	if k.CoilL.Value > 0 {
		c.Coil = &Coil{R: k.CoilR.Value, L: k.CoilL.Value, Eddy: k.Eddy.Value, Plates: k.Plates}
	}
	return c
}
