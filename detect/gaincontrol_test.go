package detect

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// gainControl multiplies the sound of s as an automatic gain control does: while the points are open (the tone is weak) the gain
// rises by up dB within rise seconds, after they close it falls back within fall seconds.
func gainControl(s synth, x []float32, up, rise, fall float64) {
	var gain float64 // [dB]
	isOpen, next := s.startsOpen, 0
	for i := range x {
		for next < len(s.turns) && i == s.turns[next] {
			isOpen = !isOpen
			next++
		}
		if isOpen {
			gain = math.Min(up, gain+up/(rise*float64(s.fs)))
		} else {
			gain = math.Max(0, gain-up/(fall*float64(s.fs)))
		}
		x[i] *= float32(math.Pow(10, gain/20))
	}
}

// A gain control lifts what is left with the points open towards the level of closed points, and when they close the tone is too loud
// for some milliseconds. The ratio of the two levels stays what it was, and every edge is a step.
func TestGainControlHidesNoEdge(t *testing.T) {
	for _, left := range []float64{-20, -12} { // [dB]
		for _, g := range []struct{ up, rise, fall float64 }{
			{6, 0.3, 0.02}, {14, 0.3, 0.010}, {16, 0.3, 0.010}, {17.8, 0.39, 0.007}, {16, 0.11, 0.033}, {10, 0.1, 0.005},
		} {
			t.Run(fmt.Sprintf("%g dB left, %v", left, g), func(t *testing.T) {
				s := basicSynth()
				s.closed, s.open, s.sigma = 0.05, cmplx.Rect(0.05*math.Pow(10, left/20), -0.4), snr(0.05, 30)
				s.turns, s.n = []int{30013, 60007, 80011, 99013, 120017, 159001}, 190000
				x := s.render()
				gainControl(s, x, g.up, g.rise, g.fall)
				events, d, err := detectAll(s.config(), x, 480)
				require.NoError(t, err)
				require.NoError(t, d.Judge())
				got := edges(events)
				require.Equal(t, []Kind{KindOpen, KindClose, KindOpen, KindClose, KindOpen, KindClose}, kinds(events))
				for i, e := range got {
					// 30 dB: a frame or two, where the tone passes through zero.
					assert.InDelta(t, s.turns[i], e.Frame, 2)
				}
			})
		}
	}
}
