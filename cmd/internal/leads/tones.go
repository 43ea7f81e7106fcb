package leads

import (
	"math"
	"slices"

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

// withTone puts a tone [Hz] in place of the one that is nearest to it, to a thousandth of a Hz; 0: none.
func withTone(hz []float64, tone float64) []float64 {
	if tone > 0 {
		hz[nearestOf(hz, tone)] = math.Round(1000*tone) / 1000
	}
	return hz
}

// nearestOf returns which of the tones is nearest to f [Hz].
func nearestOf(hz []float64, f float64) (best int) {
	for i, v := range hz {
		if math.Abs(v-f) < math.Abs(hz[best]-f) {
			best = i
		}
	}
	return best
}

// onGrid tells that a tone comes round within a period of the comb.
func onGrid(f float64) bool { return math.Mod(f, grid) == 0 }

// ofComb tells that a tone is one of those of the comb: half of its period turns all of them by half a turn.
func ofComb(f float64) bool { return onGrid(f) && math.Mod(f, 2*grid) != 0 }

// block returns the levels in a block of one period. A tone that was asked for and does not belong to the comb is left out, as 0.
func (c *Check) block(x []float32, first int64) []complex128 {
	return c.common(c.levels(x, first, nil))
}

// common returns levels without those of a tone that does not belong to the comb.
func (c *Check) common(z []complex128) []complex128 {
	z = slices.Clone(z)
	for k, f := range c.hz {
		if !ofComb(f) {
			z[k] = 0
		}
	}
	return z
}

// beside tells that a tone was asked for that does not come round within a period, so that it sounds a little in all others of a block.
func (c *Check) beside() bool {
	return slices.ContainsFunc(c.hz, func(f float64) bool { return !onGrid(f) })
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
	return audio.Chord{Hz: []float64{c.hz[nearestOf(c.hz, about)]}, Level: c.opt.Level}
}
