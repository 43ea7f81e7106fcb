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
	Source float64 // resistance of the output [ohm], 0 or more
	Series float64 // resistor of the cable between the output and the points [ohm], 0 or more
	Load   float64 // resistor of the cable across the input [ohm], more than 0, or 0 when there is none (Input is then needed)
	// Input is the resistance of the input itself [ohm], more than 0, or 0 when it takes nothing (infinite).
	Input float64
	// Block is a capacitor in the lead to the input [F], 0 when there is none.
	Block float64
	// Lead is the resistance of the leads that the tone and the input do not share [ohm]; Common that of those they do: of a
	// lead used for both, or of the way back. 0 or more.
	Lead, Common float64
	// LeadC is the capacitance between the leads that go to the two points [F], 0 or more.
	LeadC float64
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
	// Plates tells that the losses are those of plates, which keep the flux out of themselves the more the higher the tone: jwL*tanh(x)/x,
	// x^2 = 3jwL/Eddy, stands for L in parallel with Eddy, which it is at low tones (the linear diffusion of flux into a plate,
	// from memory of the textbooks). Without, the losses are those of a closed ring around the core.
	Plates bool
	// Far is the resistance of what the coil's far end goes to [ohm], back to the engine: 0 for none of note (a battery, a
	// source coil earthed inside), +Inf where it goes nowhere.
	Far float64
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
	case !notNegative(c.Series):
		return bad("series resistance [ohm]", c.Series, "0 or more")
	case c.Load != 0 && !positive(c.Load):
		return bad("load resistance [ohm]", c.Load, "more than 0")
	case !notNegative(c.Input):
		return bad("input resistance [ohm]", c.Input, "0 (infinite) or more")
	case c.Load == 0 && c.Input == 0:
		return bad("load resistance [ohm]", c.Load, "more than 0 where no input resistance is given")
	case !notNegative(c.Block):
		return bad("blocking capacitor [F]", c.Block, "0 (none) or more")
	case !notNegative(c.Lead):
		return bad("lead resistance [ohm]", c.Lead, "0 or more")
	case !notNegative(c.Common):
		return bad("common lead resistance [ohm]", c.Common, "0 or more")
	case !notNegative(c.LeadC):
		return bad("lead capacitance [F]", c.LeadC, "0 or more")
	case !notNegative(c.Condenser):
		return bad("condenser [F]", c.Condenser, "0 or more")
	case !notNegative(c.Contact):
		return bad("contact resistance [ohm]", c.Contact, "0 or more")
	case !notNegative(c.Leak):
		return bad("leak [ohm]", c.Leak, "0 (none) or more")
	case c.Wiring == Shunt && c.drive() == 0:
		return bad("source resistance [ohm]", c.drive(), "more than 0 in shunt wiring (closed points would short the source)")
	case c.Coil == nil:
		return nil
	case !notNegative(c.Coil.R):
		return bad("coil resistance [ohm]", c.Coil.R, "0 or more")
	case !positive(c.Coil.L):
		return bad("coil inductance [H]", c.Coil.L, "more than 0")
	case !notNegative(c.Coil.Eddy):
		return bad("eddy loss resistance [ohm]", c.Coil.Eddy, "0 (none) or more")
	case !(c.Coil.Far >= 0):
		return bad("resistance at the coil's far end [ohm]", c.Coil.Far, "0 or more")
	}
	return nil
}

// At returns the two levels at frequency f [Hz], more than 0. It fails where Validate does.
func (c Circuit) At(f float64) (Levels, error) {
	if err := c.check(f); err != nil {
		return Levels{}, err
	}
	return Levels{
		Closed: c.level(f, c.across(f, complex(c.Contact, 0))),
		Open:   c.level(f, c.across(f, c.leak())),
	}, nil
}

// With returns the level at frequency f [Hz], more than 0, with the impedance z [ohm] between the clips and nothing else: cmplx.Inf()
// for clips held apart, 0 for clips held together, a resistor. It fails where Validate does.
func (c Circuit) With(f float64, z complex128) (complex128, error) {
	if err := c.check(f); err != nil {
		return 0, err
	}
	return c.level(f, z), nil
}

// Between returns what lies between the clips on the points at frequency f [Hz], more than 0: contacts, condenser and coil in parallel
// [ohm], with the points closed and open. It fails where Validate does.
func (c Circuit) Between(f float64) (closed, open complex128, err error) {
	if err := c.check(f); err != nil {
		return 0, 0, err
	}
	return c.across(f, complex(c.Contact, 0)), c.across(f, c.leak()), nil
}

// check is Validate, and looks at the frequency.
func (c Circuit) check(f float64) error {
	if err := c.Validate(); err != nil {
		return err
	}
	if !(f > 0) || math.IsInf(f, 1) {
		return fmt.Errorf("circuit: frequency [Hz], got %v, want more than 0", f)
	}
	return nil
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

// drive returns Rs: all that lies between the source and the points, but for what the input shares.
func (c Circuit) drive() float64 { return c.Source + c.Series + c.Lead }

// level returns the level at the input at f with an impedance zp between the clips.
func (c Circuit) level(f float64, zp complex128) complex128 {
	rs, rl := complex(c.drive(), 0), complex(c.load(), 0)
	if !cmplx.IsInf(zp) {
		zp += complex(c.Common, 0)
	}
	if c.LeadC > 0 {
		zp = parallel(zp, complex(0, -Reactance(c.LeadC, f)))
	}
	input := rl
	if c.Block > 0 {
		input += complex(0, -Reactance(c.Block, f))
	}
	if c.Wiring == Shunt {
		zq := parallel(input, zp)
		return zq / (rs + zq) * rl / input
	}
	if cmplx.IsInf(zp) {
		return 0
	}
	return rl / (rs + zp + input)
}

// load returns RL: the resistor across the input and the input itself in parallel.
func (c Circuit) load() float64 {
	switch {
	case c.Input == 0:
		return c.Load
	case c.Load == 0:
		return c.Input
	}
	return c.Load * c.Input / (c.Load + c.Input)
}

// Impedance returns Zc = R + (jwL in parallel with Eddy, or as Plates says) + Far [ohm] at f [Hz], infinite where Far is.
func (c Coil) Impedance(f float64) complex128 {
	if math.IsInf(c.Far, 1) {
		return cmplx.Inf()
	}
	z := complex(0, 2*math.Pi*f*c.L)
	switch {
	case c.Eddy > 0 && c.Plates:
		share, _ := plates(3 * z / complex(c.Eddy, 0))
		z *= share
	case c.Eddy > 0:
		z = parallel(z, complex(c.Eddy, 0))
	}
	return complex(c.R+c.Far, 0) + z
}

// plates returns tanh(x)/x, and its derivative by x^2, for square = x^2: the share of a coil's inductance that plates leave.
func plates(square complex128) (share, slope complex128) {
	if cmplx.Abs(square) < 1e-6 {
		return 1 - square/3, -1. / 3 // the next terms are below rounding, and 1e-6
	}
	x := cmplx.Sqrt(square)
	t := cmplx.Tanh(x)
	share = t / x
	return share, (1 - t*t - share) / (2 * square)
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
