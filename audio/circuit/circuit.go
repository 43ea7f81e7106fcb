package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Wiring says how the tone and the contacts are connected.
type Wiring uint8

// The wirings.
const (
	Series Wiring = iota // in line: the tone passes through the contacts, points closed = tone
	Shunt                // across: the contacts short the tone, points open = tone
)

// String returns "series" or "shunt".
func (w Wiring) String() string {
	if w == Shunt {
		return "shunt"
	}
	return "series"
}

// Circuit is a cable with what it is connected to.
type Circuit struct {
	Wiring Wiring
	Source float64 // Rs [ohm], 0 or more
	Load   float64 // RL [ohm], more than 0
	// Condenser is C [F], 0 when there is none.
	Condenser float64
	// Contact is Rc [ohm], 0 or more: a few hundredths when clean, ohms under an oxide film.
	Contact float64
	// Leak is Rk [ohm], more than 0, or 0 when there is none (an open contact is then infinite).
	Leak float64
	// Coil is what is still connected across the points, nil for none.
	Coil *Coil
}

// Coil is a winding across the points: an ignition coil's primary or a magneto's source coil.
type Coil struct {
	R float64 // resistance of the wire [ohm], 0 or more
	L float64 // inductance [H], more than 0
	// Eddy is the resistance in parallel with L that stands for eddy losses in the core [ohm], more than 0, or 0 when
	// there are none. At one frequency it is wL/tan(delta), with delta the loss angle.
	Eddy float64
}

// Validate returns an error that names the first value out of its range.
func (c Circuit) Validate() error {
	positive := func(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
	notNegative := func(x float64) bool { return x >= 0 && !math.IsInf(x, 1) }
	bad := func(what string, got float64, want string) error {
		return fmt.Errorf("circuit: %s, got %v, want %s", what, got, want)
	}
	switch {
	case c.Wiring > Shunt:
		return bad("wiring", float64(c.Wiring), "Series or Shunt")
	case !notNegative(c.Source):
		return bad("source resistance [ohm]", c.Source, "0 or more")
	case !positive(c.Load):
		return bad("load resistance [ohm]", c.Load, "more than 0")
	case !notNegative(c.Condenser):
		return bad("condenser [F]", c.Condenser, "0 or more")
	case !notNegative(c.Contact):
		return bad("contact resistance [ohm]", c.Contact, "0 or more")
	case !notNegative(c.Leak):
		return bad("leak [ohm]", c.Leak, "0 (none) or more")
	case c.Wiring == Shunt && c.Source == 0:
		return bad("source resistance [ohm]", c.Source, "more than 0 in shunt wiring (closed points would short the source)")
	case c.Coil == nil:
		return nil
	case !notNegative(c.Coil.R):
		return bad("coil resistance [ohm]", c.Coil.R, "0 or more")
	case !positive(c.Coil.L):
		return bad("coil inductance [H]", c.Coil.L, "more than 0")
	case !notNegative(c.Coil.Eddy):
		return bad("eddy loss resistance [ohm]", c.Coil.Eddy, "0 (none) or more")
	}
	return nil
}

// At returns the two levels at frequency f [Hz], more than 0. It fails where Validate does.
func (c Circuit) At(f float64) (Levels, error) {
	if err := c.Validate(); err != nil {
		return Levels{}, err
	}
	if !(f > 0) || math.IsInf(f, 1) {
		return Levels{}, fmt.Errorf("circuit: frequency [Hz], got %v, want more than 0", f)
	}
	return Levels{
		Closed: c.level(c.across(f, complex(c.Contact, 0))),
		Open:   c.level(c.across(f, c.leak())),
	}, nil
}

// leak returns the impedance of the open contacts alone.
func (c Circuit) leak() complex128 {
	if c.Leak == 0 {
		return cmplx.Inf()
	}
	return complex(c.Leak, 0)
}

// across returns Zp at f for contacts of impedance contact.
func (c Circuit) across(f float64, contact complex128) complex128 {
	z := contact
	if c.Condenser > 0 {
		z = parallel(z, complex(0, -Reactance(c.Condenser, f)))
	}
	if c.Coil != nil {
		z = parallel(z, c.Coil.Impedance(f))
	}
	return z
}

// level returns the level at the input for an impedance zp across the points.
func (c Circuit) level(zp complex128) complex128 {
	rs, rl := complex(c.Source, 0), complex(c.Load, 0)
	if c.Wiring == Shunt {
		zq := parallel(rl, zp)
		return zq / (rs + zq)
	}
	if cmplx.IsInf(zp) {
		return 0
	}
	return rl / (rs + zp + rl)
}

// Impedance returns Zc = R + (jwL in parallel with Eddy) [ohm] at f [Hz].
func (c Coil) Impedance(f float64) complex128 {
	z := complex(0, 2*math.Pi*f*c.L)
	if c.Eddy > 0 {
		z = parallel(z, complex(c.Eddy, 0))
	}
	return complex(c.R, 0) + z
}

// Reactance returns the magnitude of a condenser's impedance, 1/(2*pi*f*C) [ohm], for C [F] and f [Hz] above 0.
func Reactance(condenser, f float64) float64 { return 1 / (2 * math.Pi * f * condenser) }

// Resonance returns the frequency 1/(2*pi*sqrt(L*C)) [Hz] at which a coil [H] and a condenser [F], both above 0,
// resonate; eddy losses are left out.
func Resonance(coil, condenser float64) float64 {
	return 1 / (2 * math.Pi * math.Sqrt(coil*condenser))
}

// parallel returns a*b/(a+b), with an infinite a or b left out and a zero one winning.
func parallel(a, b complex128) complex128 {
	switch {
	case cmplx.IsInf(a):
		return b
	case cmplx.IsInf(b):
		return a
	case a == 0 || b == 0:
		return 0
	}
	return 1 / (1/a + 1/b)
}
