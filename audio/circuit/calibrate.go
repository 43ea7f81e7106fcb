package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Measured is a level as it was heard at one frequency, in whatever unit and with whatever phase reference, the same for all
// levels that are taken together.
type Measured struct {
	Level complex128
	// Noise is the standard deviation of the real part, and of the imaginary part, of Level, 0 or more.
	Noise float64
}

// Reference is one of the three things of known impedance that a cable is calibrated on.
type Reference uint8

// The references.
const (
	Apart    Reference = iota // the clips held apart
	Together                  // the clips held together
	Resistor                  // the clips on a resistor that is known
)

// String returns the reference in words.
func (r Reference) String() string {
	return [...]string{"clips apart", "clips together", "clips on the resistor"}[min(r, Resistor)]
}

// AlikeError says that two references sound so much alike that no impedance can be had from them.
type AlikeError struct {
	A, B Reference
	// Distance is that between the two levels, Noise the standard deviation of either part of their difference, in the unit of
	// the levels.
	Distance, Noise float64
}

// Error names the two and how far apart they are.
func (e *AlikeError) Error() string {
	return fmt.Sprintf("circuit: levels of %s and %s, got %.3g apart with noise %.3g, want more than %d times the noise apart",
		e.A, e.B, e.Distance, e.Noise, alikeLimit)
}

// BeyondError says that an impedance is too large to be told from that of clips held apart.
type BeyondError struct {
	AtLeast float64 // what its magnitude is at least [ohm], at two standard deviations
}

// Error says how large the impedance is at least.
func (e *BeyondError) Error() string {
	return fmt.Sprintf("circuit: level, got that of clips held apart, want one of %.3g ohm or less", e.AtLeast)
}

// alikeLimit is how many standard deviations two references must be apart: at 10 each of them adds a tenth to an impedance.
const alikeLimit = 10

// Fixture is a cable, with the output and the input at its ends, at one frequency: it turns a level into the impedance between the
// clips, and back. It holds for either wiring and for any source, load, leads, gain and leak from output to input, as long as they are
// linear and stay what they were. The zero value is not valid.
//
// The level is a bilinear function of the impedance, so three known impedances determine it (open, short, load: common practice with
// network analysers):
//
//	Z = R (a-as)(ao-aR) / ((ao-a)(aR-as))
//
// with as, ao, aR the levels of clips together, apart and on the resistor R.
type Fixture struct {
	apart, together, on Measured
	ohm                 float64
	q                   complex128 // (aR-as)/(ao-aR)
	rel                 float64
	assumed             bool
}

// NewFixture returns the fixture of three levels at one frequency, the third of them on a resistor of ohm [ohm], more than 0, known with
// the relative standard uncertainty rel, 0 or more and below 1. Where two of the levels are too much alike the error is an *AlikeError.
func NewFixture(apart, together, on Measured, ohm, rel float64) (Fixture, error) {
	if !(ohm > 0) || math.IsInf(ohm, 1) {
		return Fixture{}, fmt.Errorf("circuit: known resistor [ohm], got %v, want more than 0", ohm)
	}
	if err := checkReferences(rel, apart, together, on); err != nil {
		return Fixture{}, err
	}
	q := (on.Level - together.Level) / (apart.Level - on.Level)
	if q == 0 || !finite(q) {
		return Fixture{}, fmt.Errorf("circuit: levels of the references, got %v, %v and %v, want them of one size",
			apart.Level, together.Level, on.Level)
	}
	return Fixture{apart: apart, together: together, on: on, ohm: ohm, q: q, rel: rel}, nil
}

// AssumeFixture returns a fixture of two levels at frequency f [Hz], more than 0, for who has no resistor: source, load and the rest of
// the cable are taken to be those of c, whatever the gain and the leak from output to input. Every impedance is then in
// proportion to the resistances of c; rel says how well they are known, as in NewFixture. What c is connected to does not matter.
// It fails where c.Validate does, and with an *AlikeError.
func AssumeFixture(f float64, apart, together Measured, c Circuit, rel float64) (Fixture, error) {
	if err := c.check(f); err != nil {
		return Fixture{}, err
	}
	if err := checkReferences(rel, apart, together); err != nil {
		return Fixture{}, err
	}
	ohm := c.drive() + c.load()
	// Gain and leak turn the predicted levels into the heard ones by one factor and one sum, which leave ratios of distances as they are.
	on, a, t := c.level(f, complex(ohm, 0)), c.level(f, cmplx.Inf()), c.level(f, 0)
	q := (on - t) / (a - on)
	if q == 0 || !finite(q) {
		return Fixture{}, fmt.Errorf("circuit: assumed cable, got levels of clips apart %.3g and together %.3g, want them to differ", a, t)
	}
	return Fixture{apart: apart, together: together, ohm: ohm, q: q, rel: rel, assumed: true}, nil
}

// checkReferences looks at levels in the order of the references.
func checkReferences(rel float64, levels ...Measured) error {
	if !(rel >= 0 && rel < 1) {
		return fmt.Errorf("circuit: relative uncertainty of the resistance, got %v, want 0 or more and below 1", rel)
	}
	for i, m := range levels {
		if err := m.check(Reference(i).String()); err != nil {
			return err
		}
	}
	for i, a := range levels {
		for j, b := range levels[:i] {
			d, noise := cmplx.Abs(a.Level-b.Level), math.Hypot(a.Noise, b.Noise)
			if !(d > alikeLimit*noise) {
				return &AlikeError{A: Reference(j), B: Reference(i), Distance: d, Noise: noise}
			}
		}
	}
	return nil
}

func (m Measured) check(what string) error {
	if !finite(m.Level) {
		return fmt.Errorf("circuit: level of %s, got %v, want a finite one", what, m.Level)
	}
	if !(m.Noise >= 0) || math.IsInf(m.Noise, 1) {
		return fmt.Errorf("circuit: noise of the level of %s, got %v, want 0 or more", what, m.Noise)
	}
	return nil
}

// Assumed tells whether source and load were assumed rather than measured.
func (f Fixture) Assumed() bool { return f.assumed }

// Impedance is an impedance that was measured.
type Impedance struct {
	Z complex128 // [ohm]
	// U is the standard uncertainty of the real part, and of the imaginary part, of Z [ohm], from the noise of all levels.
	U float64
	// Rel is the relative standard uncertainty from the resistor or the assumed cable, common to all impedances of one cable.
	Rel float64
}

// Impedance returns what lies between the clips when the level is m. The uncertainty is first order in the noise. A level that
// cannot be told from that of clips held apart gives a *BeyondError.
func (f Fixture) Impedance(m Measured) (Impedance, error) {
	if f.q == 0 {
		return Impedance{}, fmt.Errorf("circuit: fixture, got none, want one made by NewFixture or AssumeFixture")
	}
	if err := m.check("what is measured"); err != nil {
		return Impedance{}, err
	}
	t := f.place(m.Level)
	s, span := 1-t, f.apart.Level-f.together.Level
	noise := m.Noise
	for i, p := range f.partials(t) {
		noise = math.Hypot(noise, cmplx.Abs(p)*f.noise(Reference(i)))
	}
	scale := complex(f.ohm, 0) / f.q
	if away := cmplx.Abs(s * span); away <= 2*noise || away == 0 {
		// With no noise at all the level is that of clips apart to the last digit.
		least := math.Max(away+2*noise, 1e-15*cmplx.Abs(span))
		return Impedance{}, &BeyondError{AtLeast: cmplx.Abs(scale) * cmplx.Abs(t*span) / least}
	}
	z := Impedance{Z: scale * t / s, U: cmplx.Abs(scale/(s*s*span)) * noise, Rel: f.rel}
	if !finite(z.Z) || !finite(complex(z.U, 0)) {
		return Impedance{}, fmt.Errorf("circuit: level of what is measured, got %v, want one of the size of the references", m.Level)
	}
	return z, nil
}

// Level returns the level with the impedance z between the clips [ohm], infinite for clips apart: Impedance backwards.
func (f Fixture) Level(z complex128) complex128 {
	if cmplx.IsInf(z) {
		return f.apart.Level
	}
	return f.level(z, 1)
}

// level returns the level with n/d ohm between the clips: d = 0 is clips apart.
func (f Fixture) level(n, d complex128) complex128 {
	v, w := f.q*n, complex(f.ohm, 0)*d
	return (w*f.together.Level + v*f.apart.Level) / (w + v)
}

// slope returns what level changes by when n/d does: by the product of it and d*dn-n*dd.
func (f Fixture) slope(n, d complex128) complex128 {
	w := complex(f.ohm, 0)*d + f.q*n
	return (f.apart.Level - f.together.Level) * f.q * complex(f.ohm, 0) / (w * w)
}

// place returns where a level lies on the way from clips together (0) to clips apart (1).
func (f Fixture) place(a complex128) complex128 {
	return (a - f.together.Level) / (f.apart.Level - f.together.Level)
}

// partials returns what the level of one impedance changes by with each reference, where it lies at the place t.
func (f Fixture) partials(t complex128) [3]complex128 {
	s, q := 1-t, f.q
	if f.assumed {
		return [3]complex128{Apart: t, Together: s}
	}
	return [3]complex128{
		Apart:    t - s*t*(1+q),
		Together: s - s*t*(1+q)/q,
		Resistor: s * t * (1 + q) * (1 + q) / q,
	}
}

func (f Fixture) noise(r Reference) float64 {
	return [...]Measured{Apart: f.apart, Together: f.together, Resistor: f.on}[r].Noise
}

func finite(z complex128) bool { return !cmplx.IsNaN(z) && !cmplx.IsInf(z) }
