package corpus

import (
	"math"
	"math/cmplx"
)

// Shape is how the level goes from one state to the other: the share of the way, 0 up to -reach frames after the 50 % instant, 1 from +reach
// on. It is complex, for a filter that does not pass the tone's two sidebands alike turns its phase on the way.
type Shape struct {
	reach float64 // [frames]
	table []complex128
}

// fine is how many points the table of a shape has a frame.
const fine = 64

// newShape tabulates f, which is given in frames.
func newShape(reach float64, f func(u float64) complex128) *Shape {
	s := &Shape{reach: reach, table: make([]complex128, int(2*reach*fine)+2)}
	for i := range s.table {
		s.table[i] = f(float64(i)/fine - reach)
	}
	return s
}

// at returns the share of the way u frames after the 50 % instant, between the points of the table on a straight line.
func (s *Shape) at(u float64) complex128 {
	switch {
	case u <= -s.reach:
		return 0
	case u >= s.reach:
		return 1
	}
	p := (u + s.reach) * fine
	i := min(int(p), len(s.table)-2)
	return s.table[i] + (s.table[i+1]-s.table[i])*complex(p-float64(i), 0)
}

// BandLimited is what a tone that is switched at once becomes by a converter's linear-phase anti-alias filter, whose impulse response h is a
// sinc, cut off at 0.455 of the sample rate, under a Hann window of 24 frames to either side: the integral of h(u) exp(-jwu) up to that
// instant, w = 2 pi tone/rate, over the whole integral.
func BandLimited(rate, tone float64) *Shape {
	const reach, cut = 24, 0.455
	w := 2 * math.Pi * tone / rate
	sum := complex128(0)
	last := complex128(0)
	s := newShape(reach, func(u float64) complex128 {
		h := 0.5 + 0.5*math.Cos(math.Pi*u/reach)
		if a := 2 * math.Pi * cut * u; a != 0 {
			h *= math.Sin(a) / a
		}
		y := complex(h, 0) * cmplx.Rect(1, -w*u)
		sum += (last + y) / 2
		last = y
		return sum
	})
	whole := s.table[len(s.table)-1]
	for i := range s.table {
		s.table[i] /= whole
	}
	return s
}

// raisedCosine rises over so many seconds: (1-cos(pi t/T))/2.
func raisedCosine(seconds float64) func(rate, tone float64) *Shape {
	return func(rate, _ float64) *Shape {
		half := seconds * rate / 2
		return newShape(half, func(u float64) complex128 { return complex(0.5+0.5*math.Sin(math.Pi/2*u/half), 0) })
	}
}

// straight rises over so many seconds in proportion to time.
func straight(seconds float64) func(rate, tone float64) *Shape {
	return func(rate, _ float64) *Shape {
		half := seconds * rate / 2
		return newShape(half, func(u float64) complex128 { return complex(0.5+0.5*u/half, 0) })
	}
}

// charging is the step of a resistor and a condenser of time constant tau [s]: 1-exp(-t/tau), half way at tau ln 2.
func charging(tau float64) func(rate, tone float64) *Shape {
	return func(rate, _ float64) *Shape {
		t := tau * rate
		return newShape(12*t, func(u float64) complex128 { return complex(math.Max(0, 1-math.Exp(-u/t-math.Ln2)), 0) })
	}
}
