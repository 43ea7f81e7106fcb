package leads

import (
	"fmt"
	"math"
)

// Quantity is a value with its standard uncertainty, in the same unit. The JSON names it "value" and "u".
type Quantity struct {
	Value float64 `json:"value"`
	U     float64 `json:"u"`
}

// Complex is a complex number that JSON can hold: real and imaginary part.
type Complex [2]float64

// of makes a Complex.
func of(z complex128) Complex { return Complex{real(z), imag(z)} }

// Value returns the number.
func (c Complex) Value() complex128 { return complex(c[0], c[1]) }

// figure writes a value to two significant digits.
func figure(x float64) string {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return fmt.Sprint(x)
	}
	place := func(x float64) int { return int(math.Floor(math.Log10(math.Abs(x))+1e-9)) - 1 } // of the second digit
	unit := math.Pow(10, float64(place(x)))
	x = math.Round(x/unit) * unit
	return fmt.Sprintf("%.*f", max(0, -place(x)), x)
}
