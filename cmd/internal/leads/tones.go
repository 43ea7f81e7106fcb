package leads

import (
	"math"

	"breakcue/audio"
)

const (
	combSize = 24   // tones at most
	combLow  = 300  // [Hz]
	combHigh = 8000 // [Hz]
	combTop  = 0.42 // of the sample rate: above, anti-alias filters are met
	keepOff  = 15   // [Hz] from the harmonics of 60 Hz; odd multiples of 25 Hz are 25 off those of 50 Hz
)

// combTones returns about combSize tones in equal ratios, odd multiples of the grid: products of two of them fall between them.
func combTones(rate int) (hz []float64) {
	high := math.Min(combHigh, combTop*float64(rate))
	for k := range combSize {
		about := combLow * math.Pow(high/combLow, float64(k)/(combSize-1))
		f := nearestTone(about, high)
		if n := len(hz); n == 0 || f > hz[n-1] {
			hz = append(hz, f)
		}
	}
	return hz
}

// nearestTone returns the tone of the grid, at most high, that is nearest to about [Hz] and keeps off the mains.
func nearestTone(about, high float64) float64 {
	best, least := 0.0, math.Inf(1)
	for m := 11.0; m*grid <= high; m += 2 {
		if f := m * grid; offMains(f, 60) >= keepOff && math.Abs(f-about) < least {
			best, least = f, math.Abs(f-about)
		}
	}
	return best
}

// offMains returns how far f is off the nearest harmonic of mains [Hz].
func offMains(f, mains float64) float64 {
	r := math.Mod(f, mains)
	return math.Min(r, mains-r)
}

// chord is what the comb plays.
func (c *Check) chord() audio.Chord { return audio.Chord{Hz: c.hz, Level: c.opt.Level} }

// single is the one tone that is played for some seconds: the one to stay with, or the usual one of the wiring.
func (c *Check) single() audio.Chord {
	about := 1000.0
	if c.opt.Wiring == Across {
		about = 3000
	}
	if c.opt.Tone > 0 {
		about = c.opt.Tone
	}
	best := c.hz[0]
	for _, f := range c.hz {
		if math.Abs(f-about) < math.Abs(best-about) {
			best = f
		}
	}
	return audio.Chord{Hz: []float64{best}, Level: c.opt.Level}
}
