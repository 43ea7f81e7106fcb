package timing

import (
	"fmt"
	"strings"
)

// plusMinus are the marks that may stand between a number and its uncertainty.
var plusMinus = []string{"±", "+/-", "+-"}

// ParseUncertain reads a quantity as ParseQuantity does, with or without its standard uncertainty after ±, +/- or +-:
// "2mm", "2mm±0.02mm", "2±0.02 mm", "110+-0.5". The uncertainty comes back in the unit of the quantity, 0 where none was
// typed; one unit is enough for both. It is an error when there is more than one mark, when the uncertainty is negative, and
// when one of the two is a length and the other an angle.
func ParseUncertain(text string) (q, u Quantity, err error) {
	value, rest, mark := text, "", ""
	for _, m := range plusMinus {
		if before, after, ok := strings.Cut(text, m); ok {
			value, rest, mark = before, after, m
			break
		}
	}
	if q, err = ParseQuantity(value); err != nil {
		return Quantity{}, Quantity{}, err
	}
	if mark == "" {
		return q, Quantity{Unit: q.Unit}, nil
	}
	if u, err = ParseQuantity(rest); err != nil {
		return Quantity{}, Quantity{}, fmt.Errorf("after %s: %w", mark, err)
	}
	if q.Unit == NoUnit {
		q.Unit = u.Unit
	}
	if u, err = q.Uncertainty(u); err != nil {
		return Quantity{}, Quantity{}, err
	}
	return q, u, nil
}

// Uncertainty returns u, an uncertainty of q, in the unit of q; without a unit it is in that already. It is an error when it is
// negative or too large for a number, and when one is a length and the other is not.
func (q Quantity) Uncertainty(u Quantity) (Quantity, error) {
	if u.Value < 0 {
		return Quantity{}, wrong("uncertainty", u.String(), "0 or more")
	}
	if u.Unit == NoUnit || u.Unit == q.Unit {
		return Quantity{u.Value, q.Unit}, nil
	}
	if q.Unit.Length() == 0 || u.Unit.Length() == 0 {
		return Quantity{}, wrong("uncertainty", fmt.Sprintf("%s for %s", u, q), "both in degrees, or both in mm, in or thou")
	}
	scaled := Quantity{u.Value * float64(u.Unit.Length()/q.Unit.Length()), q.Unit}
	if !finite(scaled.Value) {
		return Quantity{}, wrong("uncertainty", u.String(), "a smaller number")
	}
	return scaled, nil
}
