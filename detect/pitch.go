package detect

import (
	"math"
	"math/cmplx"
)

// pitch follows the phase of one bin through stretches in which its level stands still, to tell the tone's frequency more
// closely than one pair of blocks can: over a lag eight times as long, noise and what is left of an edge count an eighth.
type pitch struct {
	class  int // level of the stretch
	pairs  int // pairs in the stretch up to now
	last   complex128
	anchor [pitchLags]complex128
	sum    [pitchLags]complex128 // sum X X*(lag before)
	weight [pitchLags]float64    // sum |X||X(lag before)|
}

const (
	pitchLags = 3 // of 1, 4 and 16 pairs
	// pitchCoherence is |sum|/weight below which a lag is not believed, and the longer ones neither.
	pitchCoherence = 0.8
)

// add takes the first block of a steady pair that follows the last one without a gap. Only pairs between two others of
// their stretch count: the outer ones may hold a little of the edge.
func (p *pitch) add(x complex128, class int) {
	if p.pairs > 0 && math.Abs(float64(class-p.class))*levelStep >= steadyDB {
		p.pairs = 0
	}
	if p.pairs == 0 {
		p.class = class
	}
	if p.pairs >= 2 {
		p.count(p.last, p.pairs-2)
	}
	p.last = x
	p.pairs++
}

// count takes the block number i, from 0, of those that count in a stretch.
func (p *pitch) count(x complex128, i int) {
	for j, lag := 0, 1; j < pitchLags; j, lag = j+1, 4*lag {
		if i%lag != 0 {
			continue
		}
		if i > 0 {
			turn := x * cmplx.Conj(p.anchor[j])
			p.sum[j] += turn
			p.weight[j] += mag(turn)
		}
		p.anchor[j] = x
	}
}

// end ends the stretch.
func (p *pitch) end() { p.pairs = 0 }

// refine returns f [cycles a sample] made more exact; pairs start every n samples.
func (p *pitch) refine(f float64, n int) float64 {
	for j, lag := 0, float64(n); j < pitchLags; j, lag = j+1, 4*lag {
		if p.weight[j] == 0 || mag(p.sum[j]) < pitchCoherence*p.weight[j] {
			break
		}
		got := cmplx.Phase(p.sum[j]) / (2 * math.Pi * lag)
		f = got + math.Round((f-got)*lag)/lag // known modulo one turn in a lag
	}
	return f
}
