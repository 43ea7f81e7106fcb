package detect

import (
	"math"
	"math/cmplx"
	"sort"
)

// stand is a stretch of a trace in which the level stands still.
type stand struct {
	size     float64
	turn     complex128 // its angle in the middle, as a number of magnitude 1
	from, to int        // blocks
}

const (
	runLeast   = 3    // blocks in a run, the first and the last of which may hold an edge
	runStill   = 0.06 // of its level, by which the blocks of a run may be off
	runLoud    = 0.04 // of the loudest: less is closed points, whose level is another each time
	runWide    = 1.2  // ratio of the levels of open points
	runAlike   = 1.12 // ratio of levels that are two
	runBelow   = 0.7  // of the open level, that closed points have at most
	openRuns   = 2    // stretches at the open level that are needed
	runApart   = 4    // blocks between stretches that follow one another
	offForGood = 8    // stretches at the level of a clip off, after which, if none is open any more, the cable is another
	offTurn    = 0.17 // [rad] between open points and a clip off: a gain turns nothing
	offTurns   = 0.9  // resultant of the turns, 1 where all are the same
	offNear    = 300  // blocks between two stretches that are compared
)

// offSurvey are the levels of a cable across the points of which a clip came off. Nothing is louder across than a clip that is off: the whole
// tone. Open points leave less, turned by the condenser and the source coil.
type offSurvey struct {
	closed, open float64
	ratio        complex128 // level of the clip off over that of open points; 0: none was
}

// readOff looks in the trace of a tone of f cycles a sample, in blocks of n samples, for three levels.
func readOff(tr trace, f float64, n int) (none offSurvey) {
	runs := readRuns(tr, f, n)
	var sizes []float64
	for _, r := range runs {
		sizes = append(sizes, r.size)
	}
	sort.Float64s(sizes)
	if len(sizes) < openRuns+2 {
		return none
	}
	// From the top down: the clip off, then open points, then closed ones.
	off, rest := topHeap(sizes)
	open, rest := topHeap(rest)
	if open.n < openRuns || open.middle < runLoud*off.middle || open.most > runWide*open.least || len(rest) == 0 || rest[len(rest)-1] > runBelow*open.middle {
		return none
	}
	closed := rest[len(rest)/2]
	kind := func(r stand) int {
		switch {
		case r.size >= off.least:
			return 2
		case r.size >= open.least:
			return 1
		}
		return 0
	}
	var turns complex128
	pairs, lastOpen, lastOff, later, beside := 0.0, -1, -1, 0, 0
	for i, r := range runs {
		if i > 0 && r.from-runs[i-1].to <= runApart {
			switch a, b := kind(runs[i-1]), kind(r); {
			case min(a, b) == 0 && max(a, b) == 1:
				beside++
			case min(a, b) == 1 && max(a, b) == 2:
				beside--
			}
		}
		last := lastOpen
		switch kind(r) {
		case 0:
			continue
		case 1:
			last, lastOpen, later = lastOff, i, 0
		case 2:
			lastOff = i
			later++
		}
		if last < 0 || r.from-runs[last].to > offNear {
			continue
		}
		turn := r.turn * cmplx.Conj(runs[last].turn)
		if kind(r) == 1 {
			turn = cmplx.Conj(turn)
		}
		turns += turn
		pairs++
	}
	if beside < openRuns || later >= offForGood || pairs == 0 || cmplx.Abs(turns) < offTurns*pairs || math.Abs(cmplx.Phase(turns)) < offTurn {
		return none
	}
	return offSurvey{closed: closed, open: open.middle,
		ratio: cmplx.Rect(off.middle/open.middle, cmplx.Phase(turns))}
}

// heap are levels that are alike.
type heap struct {
	n                   int
	least, middle, most float64
}

// topHeap returns the heap at the end of sorted levels, and the levels below it.
func topHeap(sizes []float64) (heap, []float64) {
	if len(sizes) == 0 {
		return heap{}, nil
	}
	i := len(sizes) - 1
	for i > 0 && sizes[i] < runAlike*sizes[i-1] {
		i--
	}
	return heap{n: len(sizes) - i, least: sizes[i], middle: sizes[(i+len(sizes))/2], most: sizes[len(sizes)-1]}, sizes[:i]
}

// readRuns returns the stretches in which the level stands still.
func readRuns(tr trace, f float64, n int) (out []stand) {
	y := make([]complex128, len(tr.z))
	for i, z := range tr.z {
		y[i] = complex128(z) * cmplx.Rect(1, -2*math.Pi*math.Mod(f*float64(n)*float64(tr.at[i]), 1))
	}
	sigma := traceNoise(tr, y)
	still := func(a, b complex128) bool { return math.Abs(mag(a)-mag(b)) < runStill*mag(a)+stepSigmas*sigma }
	// The frequency is a little off: most neighbours turn alike.
	var drift []float64
	for i := 1; i < len(y); i++ {
		if tr.at[i] == tr.at[i-1]+1 && mag(y[i]) > 10*sigma && still(y[i-1], y[i]) {
			drift = append(drift, cmplx.Phase(y[i]/y[i-1]))
		}
	}
	by := median(drift)
	for i := range y {
		y[i] *= cmplx.Rect(1, -by*float64(tr.at[i]-tr.at[0]))
	}
	for i := 0; i < len(y); {
		j := i + 1
		for j < len(y) && tr.at[j] == tr.at[j-1]+1 && still(y[i+min(1, j-i-1)], y[j]) {
			j++
		}
		if j-i >= runLeast {
			inner := y[i+1 : j-1]
			var sum complex128
			size := make([]float64, 0, len(inner))
			for _, z := range inner {
				sum += z
				size = append(size, mag(z))
			}
			if s := cmplx.Abs(sum); s > 0 {
				out = append(out, stand{size: median(size), turn: sum / complex(s, 0), from: int(tr.at[i]), to: int(tr.at[j-1])})
			}
			i = j
			continue
		}
		i++
	}
	return out
}

// byOff takes the levels of closed and open points where a clip came off besides, and returns the ratio of its level to that of open points, 0 where
// none did. scale is that of the trace.
func (lv *stateLevels) byOff(o offSurvey, scale float64, upper []uint32) complex128 {
	if o.ratio == 0 {
		return 0
	}
	lv.high, lv.low = o.open/scale, o.closed/scale
	lv.lowHeld, lv.spread = true, 1
	lv.setShare(upper, int((20*math.Log10((lv.high+lv.low)/2)-levelFloor)/levelStep))
	return o.ratio
}
