package leads

import (
	"math"
	"slices"
)

const (
	humReach  = 0.6  // [Hz] that the mains may be off
	humStep   = 0.15 // [Hz] of the search
	humStands = 10.0 // power at the mains over that beside it
	humTop    = 2000 // [Hz] highest harmonic
	humClear  = 8.0  // [Hz] within which of a tone no harmonic is looked for: one more than two bins of the window, and what the search moves
)

// findHum looks for mains hum in about a second of sound, weighted by the window w. No tone lies within 15 Hz of its harmonics but one that
// was asked for: what lies at a tone is left out.
func findHum(x []float32, rate int, w, tones []float64) Hum {
	atTone := func(f float64) bool {
		return slices.ContainsFunc(tones, func(t float64) bool { return math.Abs(t-f) < humClear })
	}
	strongest := func(base float64) float64 {
		return norm2(correlateAll(x, 0, slices.DeleteFunc([]float64{base, 2 * base, 3 * base, 5 * base}, atTone), rate, w))
	}
	best, hz := 0.0, 0.0
	try := func(base float64) {
		if p := strongest(base); p > best {
			best, hz = p, base
		}
	}
	for _, mains := range []float64{50, 60} {
		for o := -humReach; o <= humReach; o += humStep {
			try(mains + o)
		}
	}
	var beside float64
	for _, o := range []float64{-6, -4.5, 4.5, 6} {
		beside += strongest(hz+o) / 4
	}
	if best < humStands*beside || best == 0 {
		return Hum{}
	}
	for d := humStep / 2; d > 0.01; d /= 2 {
		about := hz
		try(about - d)
		try(about + d)
	}
	noise := beside / 4
	var harmonics []float64
	for k := 1.0; k*hz < math.Min(humTop, 0.45*float64(rate)); k++ {
		if !atTone(k * hz) {
			harmonics = append(harmonics, k*hz)
		}
	}
	var power float64
	for _, z := range correlateAll(x, 0, harmonics, rate, w) {
		power += math.Max(0, abs2(z)-noise)
	}
	return Hum{Hz: hz, Level: math.Sqrt(power)}
}
