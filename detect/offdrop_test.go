package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// standing lets a Detector hear levels, each for so many hundredths of a second, and returns the settled events and the state after each level.
func standing(t *testing.T, cfg Config, levels []complex128, hundredths []int) (events []Event, states []State) {
	d, err := New(cfg)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(1, 2))
	n := 0
	for k, level := range levels {
		for range hundredths[k] {
			block := make([]float32, 480)
			for i := range block {
				block[i] = float32(real(level*cmplx.Rect(1, 2*math.Pi*1010*float64(n)/48000)) + 0.0018*rng.NormFloat64())
				n++
			}
			for _, e := range d.Process(nil, block) {
				if e.Stage == Settled {
					events = append(events, e)
				}
			}
		}
		s, _ := d.State()
		states = append(states, s)
	}
	return events, states
}

// When the points have opened some times to one level, a drop to another one is no opening, and nor is a jump of the phase; after it all goes on.
func TestADropToAnotherLevelIsNoOpening(t *testing.T) {
	for name, open := range map[string]complex128{
		"nothing left": 0.001, "-14 dB, turned": cmplx.Rect(0.05, 1.35), "-1.5 dB, turned, as 1 kohm leaves": cmplx.Rect(0.21, 0.6),
	} {
		for how, other := range map[string]complex128{"0.4 of it": 0.1, "another phase": cmplx.Rect(0.25, 1.5)} {
			t.Run(name+", "+how, func(t *testing.T) {
				const closed = 0.25
				levels, long := []complex128{closed}, []int{50}
				for range 4 {
					levels, long = append(levels, open, closed), append(long, 30, 30)
				}
				levels, long = append(levels, other), append(long, 100)
				back := complex128(closed)
				if how == "another phase" {
					back = other
				}
				levels, long = append(levels, back, open*back/closed, back), append(long, 50, 30, 50)
				cfg := Config{SampleRate: 48000, Channels: 1, Profile: Profile{Tone: 1010, Closed: closed, Open: open, PhaseKnown: true, Noise: 0.0018}}
				events, states := standing(t, cfg, levels, long)
				edges := 0
				for _, e := range events {
					if e.Kind == KindOpen || e.Kind == KindClose {
						edges++
					}
				}
				assert.Equal(t, 10, edges)
				k := len(states)
				if how == "another phase" {
					assert.Equal(t, Closed, states[k-4])
				} else {
					assert.Equal(t, Lost, states[k-4])
				}
				assert.Equal(t, []State{Closed, Open, Closed}, states[k-3:])
			})
		}
	}
}
