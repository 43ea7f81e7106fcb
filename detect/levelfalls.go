package detect

import (
	"math"
	"sort"
)

// fall is a step down of a tone's magnitude between two stretches that stand still.
type fall struct {
	from, to float64
}

const (
	fallStill = 0.25 // of a fall by which the level on each side may change from block to block: a slide is no step
	fallSame  = 1.5  // [dB] by which the levels that falls begin at may differ
	fallRatio = 0.15 // by which the shares may differ that falls leave of the level
	fallShare = 0.6  // of the falls that are as large must be of one kind
	fallLeast = 2    // falls that make two states: a gain turned, hum switched on, a tone that begins step once
	fallTries = 200  // falls that are tried as the one that most are like
)

// ratio returns which share of the level is left.
func (f fall) ratio() float64 { return f.to / f.from }

// like tells that two falls may be of one kind.
func (f fall) like(g fall) bool {
	return math.Abs(math.Log10(f.from/g.from)) < fallSame/20 && math.Abs(f.ratio()-g.ratio()) < fallRatio
}

// readFalls looks in the trace of a tone for falls, each from two blocks to two with one between that may hold the edge.
func readFalls(tr trace) (out []fall) {
	size := make([]float64, len(tr.z))
	for i, z := range tr.z {
		size[i] = mag(complex128(z))
	}
	least := math.Pow(10, -minContrast/20)
	next := 0
	for i := 0; i+4 < len(size); i++ {
		if i < next || tr.at[i+4] != tr.at[i]+4 {
			continue
		}
		f := fall{from: (size[i] + size[i+1]) / 2, to: (size[i+3] + size[i+4]) / 2}
		moves := math.Max(math.Abs(size[i]-size[i+1]), math.Abs(size[i+3]-size[i+4]))
		if f.to < least*f.from && moves < fallStill*(f.from-f.to) {
			out = append(out, f)
			next = i + 2 // the same step one block later
		}
	}
	return out
}

// mostFalls returns the middle of those falls that are of one kind and together fall the most, and how many they are: contacts step between
// their two levels again and again. Right before and right after one step the gain is the same, so that a gain control, which slides
// between, leaves the share that is left.
func mostFalls(falls []fall) (fall, int) {
	every := 1 + len(falls)/fallTries
	var best fall
	most := 0.0
	for i := 0; i < len(falls); i += every {
		f, n := falls[i], 0
		for _, g := range falls {
			if f.like(g) {
				n++
			}
		}
		if sum := float64(n) * (1 - f.ratio()); sum > most {
			best, most = f, sum
		}
	}
	var from, to []float64
	large := 0
	for _, g := range falls {
		if best.like(g) {
			from, to = append(from, g.from), append(to, g.to)
		}
		if g.from-g.to > 0.5*(best.from-best.to) {
			large++
		}
	}
	if len(from) < fallLeast || float64(len(from)) < fallShare*float64(large) {
		return fall{}, 0
	}
	sort.Float64s(from)
	sort.Float64s(to)
	return fall{from: from[len(from)/2], to: to[len(to)/2]}, len(from)
}

// byFalls puts the levels right where the falls of the trace, in units of scale, tell of two others.
func (lv *stateLevels) byFalls(tr trace, scale float64, upper []uint32) {
	falls := readFalls(tr)
	best, n := mostFalls(falls)
	if n == 0 {
		return
	}
	told := 0
	was := fall{from: lv.high * scale, to: lv.low * scale}
	for _, f := range falls {
		if lv.low > 0 && was.like(f) {
			told++
		}
	}
	if 2*told >= n {
		return
	}
	lv.high, lv.low = best.from/scale, best.to/scale
	lv.lowHeld, lv.spread = true, 1
	lv.setShare(upper, int((20*math.Log10((lv.high+lv.low)/2)-levelFloor)/levelStep))
}

// lostShare returns the share of the trace in blocks of exact zeros that are lost samples, not the tone's quiet state, since that has a noise
// of its own: more quiet stretches are without such a block than are nothing else; else 0. Where a noise gate shuts a while after the tone
// is gone, stretches hold both and tell nothing. threshold lies between the two levels, as the trace has them.
func lostShare(tr trace, threshold float64) float64 {
	noisy, empty, zeros := 0, 0, 0
	for i := 0; i < len(tr.z); i++ {
		begin, here := i, 0
		for ; i < len(tr.z) && mag(complex128(tr.z[i])) < threshold && tr.at[i]-tr.at[begin] == int32(i-begin); i++ {
			if tr.z[i] == 0 {
				here++
			}
		}
		inner := i - begin - 2 // without the two that may hold an edge
		switch {
		case inner < 1 || begin == 0:
		case here == 0:
			noisy++
		case here >= inner:
			empty++
			zeros += here
		}
	}
	if noisy <= empty {
		return 0
	}
	return float64(zeros) / float64(len(tr.z))
}
