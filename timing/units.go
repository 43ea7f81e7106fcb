package timing

import "math"

// Length is a length in millimetres.
type Length float64

// Angle is an angle in degrees, of the crank unless said otherwise.
type Angle float64

// InchLength is one inch, exactly (international yard and pound agreement, 1959).
const InchLength Length = 25.4

// ThouLength is one thousandth of an inch, exactly.
const ThouLength Length = 0.0254

// Inches returns the length in inches.
func (l Length) Inches() float64 { return float64(l / InchLength) }

// Thou returns the length in thousandths of an inch.
func (l Length) Thou() float64 { return float64(l / ThouLength) }

// Radians returns the angle in radians.
func (a Angle) Radians() float64 { return float64(a) * (math.Pi / 180) }

// degrees returns the Angle of an angle in radians.
func degrees(rad float64) Angle { return Angle(rad * (180 / math.Pi)) }

// Unit is a unit that a number may carry. The zero value means that none was given.
type Unit uint8

// The units.
const (
	NoUnit Unit = iota
	Millimetre
	Inch
	Thou
	Degree
)

// String returns "mm", "in", "thou", "deg", or "" for NoUnit.
func (u Unit) String() string {
	switch u {
	case Millimetre:
		return "mm"
	case Inch:
		return "in"
	case Thou:
		return "thou"
	case Degree:
		return "deg"
	}
	return ""
}

// Length returns one unit as a Length, or 0 for NoUnit and Degree, which are no lengths.
func (u Unit) Length() Length {
	switch u {
	case Millimetre:
		return 1
	case Inch:
		return InchLength
	case Thou:
		return ThouLength
	}
	return 0
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
