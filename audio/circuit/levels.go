package circuit

import (
	"math"
	"math/cmplx"
)

// MaxContrast [dB] is where Contrast stops: a level of exactly 0 has no decibels.
const MaxContrast = 200

// Levels are the levels at the input with the points closed and open, relative to the source's electromotive force,
// with its phase as reference.
type Levels struct {
	Closed, Open complex128
}

// Contrast returns the ratio of the larger magnitude to the smaller [dB], 20*log10(larger/smaller), 0..MaxContrast.
// It is 0 when both levels are 0.
func (l Levels) Contrast() float64 {
	hi, lo := l.order()
	if hi == 0 {
		return 0
	}
	return math.Min(MaxContrast, 20*math.Log10(hi/math.Max(lo, hi*1e-12)))
}

// Turn returns the angle from the level with the points closed to the one with them open [degrees], -180..180, positive
// when open leads. It is 0 when either level is 0.
func (l Levels) Turn() float64 {
	if l.Closed == 0 || l.Open == 0 {
		return 0
	}
	return cmplx.Phase(l.Open/l.Closed) * 180 / math.Pi
}

// Distance returns |Closed-Open| over the larger magnitude, 0..2: how far apart the states are in the I/Q plane.
// It is 0 when both levels are 0.
func (l Levels) Distance() float64 {
	hi, _ := l.order()
	if hi == 0 {
		return 0
	}
	return cmplx.Abs(l.Closed-l.Open) / hi
}

// order returns the larger and the smaller magnitude.
func (l Levels) order() (hi, lo float64) {
	hi, lo = cmplx.Abs(l.Closed), cmplx.Abs(l.Open)
	if hi < lo {
		hi, lo = lo, hi
	}
	return hi, lo
}
