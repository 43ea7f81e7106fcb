package cli

import (
	"math"
	"math/cmplx"
	"slices"
)

const (
	humRate      = 1500 // [1/s] of the means that hum is looked for in: a multiple of both mains frequencies, so that no tone off these falls on them
	humWindow    = 300  // means: ten periods of 50 Hz, twelve of 60
	humHarmonics = 7
	humKept      = 15 // windows whose median counts
)

// humMeter tells how loud the mains hum is: the power at the mains frequency and its first harmonics, for 50 and for 60 Hz, whichever is louder.
type humMeter struct {
	many int // frames of a mean
	sum  float64
	n    int
	x    []float64 // means of the window
	kept []float64 // levels of the newest windows
}

func newHumMeter(rate int) humMeter { return humMeter{many: max(1, rate/humRate)} }

// add takes a channel, from 0, of the next frames.
func (h *humMeter) add(block []float32, channels, channel int) {
	for i := channel; i < len(block); i += channels {
		h.sum += float64(block[i])
		if h.n++; h.n < h.many {
			continue
		}
		h.x = append(h.x, h.sum/float64(h.n))
		if h.sum, h.n = 0, 0; len(h.x) == humWindow {
			h.kept = append(h.kept, math.Max(humOf(h.x, 50), humOf(h.x, 60)))
			h.kept = h.kept[max(0, len(h.kept)-humKept):]
			h.x = h.x[:0]
		}
	}
}

// humOf returns the amplitude of a sine of the same power as the hum of a mains frequency in x.
func humOf(x []float64, hz float64) float64 {
	var power float64
	for k := 1; k <= humHarmonics; k++ {
		var z complex128
		turn, now := cmplx.Rect(1, -2*math.Pi*float64(k)*hz/humRate), complex(1, 0)
		for i, v := range x {
			w := 1 - math.Cos(2*math.Pi*float64(i)/humWindow) // Hann, of mean 1
			z += complex(v*w, 0) * now
			now *= turn
		}
		a := 2 * cmplx.Abs(z) / humWindow
		power += a * a
	}
	return math.Sqrt(power)
}

// level is the median of the newest windows [full scale]; false before there is one.
func (h *humMeter) level() (float64, bool) {
	if len(h.kept) == 0 {
		return 0, false
	}
	sorted := slices.Sorted(slices.Values(h.kept))
	return sorted[len(sorted)/2], true
}
