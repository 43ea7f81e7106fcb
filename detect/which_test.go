package detect

import (
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Where the states are equally loud and the turn between them is known, the first edge tells which is which, and is one already.
func TestTheFirstTurnTellsWhichStateIsWhich(t *testing.T) {
	for _, degrees := range []float64{-60, -20, 10, 20, 40, 90} {
		closed, open := complex(0.25, 0), cmplx.Rect(0.25, degrees/180*3.14159)
		cfg := Config{SampleRate: 48000, Channels: 1, Profile: Profile{Tone: 1010, Closed: closed, Open: open, PhaseKnown: true, Noise: 0.0018}}
		for name, levels := range map[string][]complex128{"closed at first": {closed, open, closed, open}, "open at first": {open, closed, open, closed}} {
			events, states := standing(t, cfg, levels, []int{30, 30, 30, 30})
			first := Open
			if name == "open at first" {
				first = Closed
			}
			assert.Equal(t, []State{Unknown, first, other(first), first}, states, "%g degrees, %s", degrees, name)
			require.NotEmpty(t, events)
			assert.InDelta(t, 14400, events[0].At(), 3, "%g degrees, %s: the limit at 10 degrees is 0.7 frames", degrees, name) // 15 us
			assert.Equal(t, first == Open, events[0].Kind == KindOpen)
		}
	}
	cfg := Config{SampleRate: 48000, Channels: 1, Profile: Profile{Tone: 1010, Closed: 0.25, Open: -0.25, PhaseKnown: true, Noise: 0.0018}}
	events, states := standing(t, cfg, []complex128{0.25, -0.25, 0.25}, []int{30, 30, 30})
	assert.Empty(t, events, "half a turn is the same both ways")
	assert.Equal(t, []State{Unknown, Unknown, Unknown}, states)
}
