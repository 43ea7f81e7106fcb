package cli

import (
	"math"

	"breakcue/cmd/internal/leads"
	"breakcue/detect"
)

const (
	pairHigher = 1.6  // times the first tone, about, in line: the condenser passes more of what is higher still
	pairLower  = 0.74 // across: a source coil shorts what is lower still
	pairReach  = 120  // [Hz] by which the second tone may lie off that
	pairBeat   = 400  // [Hz] between the two at least: they are told apart within 5 ms
	// What a clipped input makes of the two, up to pairOrder of them together, keeps so far from either [Hz].
	pairOrder = 6
	pairClear = 40
)

// livePair chooses the test tones [Hz] of two sets of points heard in one channel. The first is that of one set alone. The second keeps off
// the mains and shows lost blocks as that does; where the input clips, nothing that it makes of the two lies near either.
func livePair(w detect.Wiring, sampleRate int) [2]float64 {
	first := liveTone(w, sampleRate)
	about := first * pairHigher
	if w == detect.Shunt || about+pairReach > detect.MaxTone(sampleRate) {
		about = first * pairLower
	}
	best, second := -1.0, 0.0
	for hz := int(about) - pairReach; hz <= int(about)+pairReach; hz++ {
		if offMains(hz, 50) < toneMains || offMains(hz, 60) < toneMains || math.Abs(float64(hz)-first) < pairBeat || mixes(first, float64(hz)) < pairClear {
			continue
		}
		if turn := leads.LeastTurn(float64(hz)/float64(sampleRate), sampleRate); turn > best {
			best, second = turn, float64(hz)
		}
	}
	return [2]float64{first, second}
}

// mixes returns how near to one of two tones [Hz] the nearest of their harmonics, sums and differences lies, up to pairOrder of them together: a tone
// a is met by p a +- q b where (p-1) a or (p+1) a is q b.
func mixes(a, b float64) float64 {
	least := math.Inf(1)
	for p := 1; p <= pairOrder; p++ {
		for q := 1; p+q-1 <= pairOrder; q++ {
			least = min(least, math.Abs(float64(p)*a-float64(q)*b), math.Abs(float64(p)*b-float64(q)*a))
		}
	}
	return least
}
