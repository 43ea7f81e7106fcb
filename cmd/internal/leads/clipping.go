package leads

import "math"

const (
	flatRun  = 3    // samples of one value at the very top that make a flattened crest
	flatTop  = 0.05 // [full scale] below which tops are not looked at: a few bits are always flat
	flatPart = 1e-5 // within which values are one
	flatMany = 0.02 // share of all samples that must lie on flattened crests: chance makes a few
	headroom = 3.0  // [dB] to turn down beyond what is clipped
)

// clipping returns the share of samples of a single tone at full scale or on flattened crests, or of the comb where it is that one only, and
// by how much to turn down [dB]. Of a sine of amplitude A clipped at c the part 2/pi*acos(c/A) is cut off.
func clipping(single, comb []float32) (share, over float64) {
	share = clippedShare(single)
	if share > 0 {
		return share, headroom - 20*math.Log10(math.Cos(math.Pi/2*math.Min(share, 0.97)))
	}
	if share = clippedShare(comb); share > 0 {
		return share, headroom
	}
	return 0, 0
}

func clippedShare(x []float32) float64 {
	var top float32
	full := 0
	for _, v := range x {
		if a := max(v, -v); a > top {
			top = a
		}
		if v >= fullScale || v <= -fullScale {
			full++
		}
	}
	flat, run := 0, 0
	least := top - flatPart
	for i := 0; i <= len(x); i++ {
		if i < len(x) && (x[i] >= least || x[i] <= -least) {
			run++
			continue
		}
		if run >= flatRun {
			flat += run
		}
		run = 0
	}
	n := float64(max(1, len(x)))
	if top < flatTop || float64(flat)/n < flatMany {
		flat = 0
	}
	return float64(max(full, flat)) / n
}
