package cli

import (
	"math"

	"breakcue/detect"
)

// checkTones looks at the tones, and how many sets of points are followed.
func (f *liveFlags) checkTones() error {
	switch n := len(f.tones); {
	case n > 2:
		return fail(ExitUsage, "give --tone once, or twice for two sets of points", "%d tones, want at most 2", n)
	case f.given("sets") && (f.sets < 1 || f.sets > 2):
		return fail(ExitUsage, "one set of points after the other can always be measured", "--sets %d, want 1 or 2", f.sets)
	case f.given("sets") && f.sets < n:
		return fail(ExitUsage, "leave out --sets, or give --tone once", "--sets %d is given with %d tones", f.sets, n)
	case f.sets == 2 && n == 1:
		return fail(ExitUsage, "give --tone twice, the first for set 1, or leave it out: a good pair is chosen", "--sets 2 is given with one tone")
	case n == 2 || f.sets == 2:
		f.sets = 2
	default:
		f.sets = 1
	}
	for _, hz := range f.tones {
		if !(hz >= detect.MinTone && hz <= highestHz) { // NaN too
			return fail(ExitUsage, "leave it out, or use 900 to 4000", "--tone %g, want %d to %d", hz, detect.MinTone, highestHz)
		}
	}
	if len(f.tones) == 2 {
		return tonesApart(f.tones[0], f.tones[1])
	}
	return nil
}

// tonesApart refuses two tones too near to each other, or to a small multiple of each other: what is distorted of the one would be taken
// for the other.
func tonesApart(a, b float64) error {
	const hint = "leave --tone out and give --sets 2: a good pair is chosen"
	if math.Abs(a-b) < minTonesApart {
		return fail(ExitUsage, hint, "tones %g and %g Hz are too close to be told apart, want %d Hz between them", a, b, minTonesApart)
	}
	low, high := min(a, b), max(a, b)
	if n := math.Round(high / low); n <= mostMultiple && math.Abs(high-n*low) < offMultiple {
		return fail(ExitUsage, hint, "tones %g and %g Hz: the one lies at %.0f times the other, as a distortion of it does", a, b, n)
	}
	return nil
}

const (
	mostMultiple = 5  // distortions of a tone that matter are those up to this multiple of it
	offMultiple  = 30 // [Hz] that the other tone keeps from them
)

// chosenTones returns the test tones [Hz] for a sample rate: those given, or good ones.
func (f *liveFlags) chosenTones(rate int) []float64 {
	switch {
	case len(f.tones) > 0:
		return f.tones
	case f.sets == 2:
		both := livePair(f.wired, rate)
		return both[:]
	}
	return []float64{liveTone(f.wired, rate)}
}
