package timing

import "fmt"

// Advance says in which state of the automatic advance or retard a timing value holds.
type Advance uint8

// The states.
const (
	NoAdvance     Advance = iota // there is no automatic advance or retard
	AdvanceAtRest                // weights at rest
	AdvanceFull                  // weights held at full travel
)

// String returns "none", "at rest" or "full travel".
func (a Advance) String() string {
	switch a {
	case AdvanceAtRest:
		return "at rest"
	case AdvanceFull:
		return "full travel"
	}
	return "none"
}

// Spec is a timing as a manual gives it: where before top dead centre the points must open, plus or minus a tolerance that
// has its own unit. A tolerance of 0.1 mm and one of 1° are not the same.
type Spec struct {
	Value     Quantity // mm, in, thou or degrees, more than 0
	Tolerance Quantity // mm, in, thou or degrees, more than 0 and less than Value
	// Spread is how far the earliest and the latest cylinder may lie apart: mm, in, thou or degrees, more than 0 and less than
	// Value. The zero Quantity means that nothing is specified.
	Spread  Quantity
	Advance Advance
}

// Target is a Spec worked out for a crank.
type Target struct {
	Travel Length
	Angle  Angle // of no meaning unless HasAngle
	// HasAngle tells that the crank was known.
	HasAngle bool
	// Low and High are the ends of the tolerance as errors of travel: Low is below 0 (late), High above (early).
	Low, High Length
	// Spread is the full difference of travel that the earliest and the latest cylinder may have, at the mark; 0 when none is
	// specified.
	Spread Length
}

// maxSpecAngle is the largest timing taken: no ignition is set earlier.
const maxSpecAngle Angle = 90

// maxSpecTravel is the largest timing taken when no crank says what is possible.
const maxSpecTravel Length = 200

// Target works the specification out. A value, tolerance or spread in degrees needs a known crank; without one, lengths still
// do. A spread in degrees becomes the travel between its ends when its middle stands at the mark. Errors are *FieldErrors of
// the fields "timing", "tolerance" and "spread".
func (s Spec) Target(c Crank) (Target, error) {
	t := Target{HasAngle: c.Known()}
	var err error
	if t.Travel, err = s.travel("timing", s.Value, c); err != nil {
		return Target{}, err
	}
	if !(t.Travel > 0) {
		return Target{}, wrong("timing", s.Value.String(), "more than 0 before top dead centre")
	}
	most := maxSpecTravel
	if t.HasAngle {
		most, _ = c.Travel(maxSpecAngle)
	}
	if t.Travel > most {
		return Target{}, wrong("timing", s.Value.String(), "at most %.2f mm of travel before top dead centre", most)
	}
	if t.HasAngle {
		if t.Angle, err = c.Angle(t.Travel, BTDC); err != nil {
			return Target{}, err
		}
	}
	low, high, err := s.ends("tolerance", s.Tolerance, 1, t, c)
	if err != nil {
		return Target{}, err
	}
	t.Low, t.High = low-t.Travel, high-t.Travel
	if s.Spread == (Quantity{}) {
		return t, nil
	}
	if low, high, err = s.ends("spread", s.Spread, 0.5, t, c); err != nil {
		return Target{}, err
	}
	t.Spread = high - low
	return t, nil
}

// travel returns q as piston travel before top dead centre.
func (s Spec) travel(what string, q Quantity, c Crank) (Length, error) {
	if q.Unit == NoUnit {
		return 0, wrong(what, q.String(), "a unit: mm, in, thou or deg")
	}
	if !finite(q.Value) {
		return 0, wrong(what, q.String(), "a finite number")
	}
	if q.Unit != Degree {
		return q.Length(NoUnit)
	}
	if !c.Known() {
		return 0, wrong(what, q.String()+" without a crank", "stroke and rod length, or a length")
	}
	if q.Value > float64(maxSpecAngle) || q.Value < 0 {
		return 0, wrong(what, q.String(), "more than 0, at most %g°", maxSpecAngle)
	}
	return c.Travel(Angle(q.Value))
}

// ends returns the travels that lie the given part of q before and after the mark. q itself must be more than 0 and less than
// the timing.
func (s Spec) ends(what string, q Quantity, part float64, t Target, c Crank) (low, high Length, err error) {
	if _, err := s.travel(what, q, c); err != nil {
		return 0, 0, err
	}
	if !(q.Value > 0) {
		return 0, 0, wrong(what, q.String(), "more than 0")
	}
	timing := s.Value.String() // in the kind of unit of q
	switch degrees := q.Unit == Degree; {
	case degrees == (s.Value.Unit == Degree):
	case degrees:
		timing = fmt.Sprintf("%.2f°", t.Angle)
	default:
		timing = fmt.Sprintf("%.3f mm", t.Travel)
	}
	wide := wrong(what, q.String(), "less than the timing itself, %s", timing)
	if q.Unit == Degree {
		whole := Angle(q.Value)
		if whole >= t.Angle {
			return 0, 0, wide
		}
		if low, err = c.Travel(t.Angle - whole*Angle(part)); err != nil {
			return 0, 0, err
		}
		high, err = c.Travel(t.Angle + whole*Angle(part))
		return low, high, err
	}
	whole, err := q.Length(NoUnit)
	if err != nil {
		return 0, 0, err
	}
	if whole >= t.Travel {
		return 0, 0, wide
	}
	return t.Travel - whole*Length(part), t.Travel + whole*Length(part), nil
}
