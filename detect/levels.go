package detect

import (
	"math"
	"sort"
)

// stateLevels are the two state levels (IEEE Std 181-2011: the modes of the level histogram) of one bin.
type stateLevels struct {
	high, low float64 // amplitudes [full scale], before correction for the bin; low is 0 where there is one state only
	lowShare  float64 // share of the time in the low state, 0..1
	dips      int     // pairs below the high state
	lowHeld   bool    // the low state has been seen to last, not only to pass
	spread    float64 // share of the steady power that lies within 1.5 dB of the high or low level, 0..1
}

// oneDB is a decibel in histogram classes.
const oneDB = int(1 / levelStep)

// readLevels finds the state levels of bin k.
//
// Clusters and percentiles fail when the contacts are open for one hundredth of the time, so one state is found first, as
// the mode of the power in steady pairs that follow one another, and the other is what lies clearly above it (steady, at least twice) or below it
// (both blocks of the pair, at least twice).
func readLevels(sp *spectrum, k int) stateLevels {
	steady, upper := sp.held[k], sp.upper[k]
	if total(steady) < 3 {
		steady = sp.steady[k] // states that last for a few blocks only
	}
	first, sd := mode(steady)
	if first < 0 {
		return stateLevels{}
	}
	gap := int(math.Ceil(math.Max(minContrast, 5*sd) / levelStep))
	out := stateLevels{high: level(first)}

	// A steady state above the first one? Its levels lie close together; a gain control that comes down after each closing
	// passes through many.
	top := make([]uint32, levelCount)
	if first+gap < levelCount {
		copy(top[first+gap:], steady[first+gap:])
	}
	if m, _ := mode(top); m >= 0 {
		near := total(top[max(0, m-oneDB):min(levelCount, m+oneDB+1)])
		if near >= max(2, total(steady)/250) && 2*near >= total(top) {
			out.high, out.low = level(m), level(first)
			first = m
		}
	}
	// What lies below.
	below := out.setShare(upper, first-gap)
	out.lowHeld = out.low > 0 || total(steady[:max(0, first-gap)]) >= 2
	if out.low == 0 && below >= 2 {
		out.low = level(quantile(upper[:first-gap], 0.3))
	}
	// How much of the steady power sits at the levels?
	var near, sum float64
	lowClass := -1
	if out.low > 0 {
		lowClass = int((20*math.Log10(out.low) - levelFloor) / levelStep)
	}
	width := int(1.5 / levelStep)
	for i, c := range steady {
		p := float64(c) * level(i) * level(i)
		sum += p
		if abs(i-first) <= width || (lowClass >= 0 && abs(i-lowClass) <= width) {
			near += p
		}
	}
	if sum > 0 {
		out.spread = near / sum
	}
	return out
}

// setShare counts the pairs of all that lie below a class.
func (lv *stateLevels) setShare(upper []uint32, class int) (below uint32) {
	var all uint32
	for i, c := range upper {
		all += c
		if i < class {
			below += c
		}
	}
	if all > 0 {
		lv.lowShare = float64(below) / float64(all)
	}
	lv.dips = int(below)
	return below
}

// mode returns the class with most power (count times amplitude squared, smoothed over a decibel) and the standard
// deviation [dB] of the counts around it; -1 when there are none.
func mode(h []uint32) (class int, sd float64) {
	const reach = 2
	best, class := 0.0, -1
	for i := range h {
		if h[i] == 0 {
			continue
		}
		var p float64
		for j := max(0, i-reach); j <= min(len(h)-1, i+reach); j++ {
			p += float64(h[j])
		}
		p *= level(i) * level(i)
		if p > best {
			best, class = p, i
		}
	}
	if class < 0 {
		return -1, 0
	}
	// Centre on the mean of the neighbourhood, and take its spread.
	var n, m, v float64
	for j := max(0, class-2*reach); j <= min(len(h)-1, class+2*reach); j++ {
		c := float64(h[j])
		d := float64(j - class)
		n += c
		m += c * d
		v += c * d * d
	}
	m /= n
	return class + int(math.Round(m)), math.Sqrt(math.Max(0, v/n-m*m)) * levelStep
}

// quantile returns the class below which the share q of the counts lies.
func quantile(h []uint32, q float64) int {
	want, sum := q*float64(total(h)), 0.0
	for i, c := range h {
		sum += float64(c)
		if c > 0 && sum >= want {
			return i
		}
	}
	return 0
}

func total(h []uint32) (n uint32) {
	for _, c := range h {
		n += c
	}
	return n
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sort.Float64s(x)
	return x[len(x)/2]
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}
