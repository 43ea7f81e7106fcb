package timing

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// Quantity is a number with the unit it was typed with.
type Quantity struct {
	Value float64 // finite
	Unit  Unit
}

// allowed tells what ParseQuantity takes.
const allowed = "one number such as 1.98 or 1,98, then mm, in, thou or deg"

// unitNames are the spellings of units, lower case.
var unitNames = map[string]Unit{
	"": NoUnit, "mm": Millimetre,
	"in": Inch, "inch": Inch, "inches": Inch, `"`: Inch, "″": Inch,
	"thou": Thou,
	"deg":  Degree, "degree": Degree, "degrees": Degree, "°": Degree,
}

// ParseQuantity reads one number as people type it, with or without a unit: "1.98", "1,98", "1.98 mm", "0.078in",
// "78.5 thou", "20deg", "20°". Point and comma both mark decimals (22nd CGPM, 2003, resolution 10), so a number has at
// most one of them; marks between thousands, exponents, hexadecimal numbers, fractions and words are refused.
func ParseQuantity(text string) (Quantity, error) {
	refuse := func(why string) (Quantity, error) {
		return Quantity{}, fmt.Errorf("timing: number, got %q (%s), want %s", text, why, allowed)
	}
	s := strings.TrimSpace(text)
	if s == "" {
		return refuse("empty")
	}
	sign, s := cutSign(s)
	end := strings.IndexFunc(s, func(r rune) bool { return r != '.' && r != ',' && (r < '0' || r > '9') })
	if end < 0 {
		end = len(s)
	}
	digits, rest := s[:end], strings.TrimSpace(s[end:])
	marks := strings.Count(digits, ".") + strings.Count(digits, ",")
	switch {
	case len(digits) == marks:
		return refuse("no digits where the number should be")
	case marks > 1:
		return refuse("more than one decimal mark")
	case strings.HasSuffix(digits, ".") || strings.HasSuffix(digits, ","):
		return refuse("no digits after the decimal mark")
	}
	unit, known := unitNames[strings.ToLower(rest)]
	if !known {
		if strings.ContainsFunc(rest, unicode.IsDigit) {
			return refuse("more than one number")
		}
		return refuse(fmt.Sprintf("unit %q is not known", rest))
	}
	v, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	if err != nil || math.IsInf(v, 0) {
		return refuse("too large")
	}
	return Quantity{Value: sign * v, Unit: unit}, nil
}

// cutSign takes a leading plus or minus (hyphen or the minus sign U+2212) off s.
func cutSign(s string) (sign float64, rest string) {
	for _, minus := range []string{"-", "−"} {
		if after, ok := strings.CutPrefix(s, minus); ok {
			return -1, strings.TrimLeftFunc(after, unicode.IsSpace)
		}
	}
	return 1, strings.TrimPrefix(s, "+")
}

// Length returns the quantity as a length; a number without a unit is taken in the unit bare. It is an error when the
// quantity is an angle, or when neither it nor bare names a unit of length.
func (q Quantity) Length(bare Unit) (Length, error) {
	u := q.Unit
	if u == NoUnit {
		u = bare
	}
	if u.Length() == 0 {
		return 0, fmt.Errorf("timing: length, got %s, want a number with mm, in or thou", q)
	}
	return Length(q.Value) * u.Length(), nil
}

// Angle returns the quantity as an angle; a number without a unit is taken in the unit bare. It is an error when the
// quantity is a length, or when neither it nor bare says degrees.
func (q Quantity) Angle(bare Unit) (Angle, error) {
	if q.Unit == Degree || q.Unit == NoUnit && bare == Degree {
		return Angle(q.Value), nil
	}
	return 0, fmt.Errorf("timing: angle, got %s, want a number with deg or °", q)
}

// String returns number and unit as ParseQuantity reads them: "1.98 mm", "20°", "1.98".
func (q Quantity) String() string {
	n := strconv.FormatFloat(q.Value, 'f', -1, 64)
	switch q.Unit {
	case NoUnit:
		return n
	case Degree:
		return n + "°"
	}
	return n + " " + q.Unit.String()
}
