package timing

import (
	"fmt"
	"math"
)

// When says whether points open early or late.
type When uint8

// The possibilities.
const (
	OnMark When = iota // the error rounds to 0.00 mm
	Early              // too far before top dead centre
	Late               // too near top dead centre, or after it
)

// String returns "on_mark", "early" or "late".
func (w When) String() string {
	switch w {
	case Early:
		return "early"
	case Late:
		return "late"
	}
	return "on_mark"
}

// WhenOf returns what the sign of an error of travel means: positive is early.
func WhenOf(err Length) When {
	switch {
	case math.Round(float64(err)*100) > 0:
		return Early
	case math.Round(float64(err)*100) < 0:
		return Late
	}
	return OnMark
}

// Words returns an error of travel for people, who never see a bare sign, rounded to 0.01 mm:
// "0.12 mm too early (opens too far before TDC)".
func Words(err Length) string {
	size := math.Abs(float64(err))
	switch WhenOf(err) {
	case Early:
		return fmt.Sprintf("%.2f mm too early (opens too far before TDC)", size)
	case Late:
		return fmt.Sprintf("%.2f mm too late (opens too near TDC)", size)
	}
	return "0.00 mm: neither early nor late"
}
