package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A gain that jumps for some milliseconds, or falls while the points are open, leaves levels that the next steps contradict: once both
// states have been heard the state is right.
func TestGainThatJumpsDoesNotTurnTheStates(t *testing.T) {
	for name, c := range map[string]struct {
		open       complex128
		db         float64
		from, upto int
	}{
		"nothing left, 6.5 dB for 3 ms":        {0, 6.5, 2000, 2128},
		"-4 dB left and turned, 4 dB for 3 ms": {cmplx.Rect(0.158, 1), 4, 2000, 2128},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.tone, s.open, s.sigma, s.turns = 700, c.open, snr(0.25, 15), nil
			for at := 4000; at < 200000; at += 12000 {
				s.turns = append(s.turns, at)
			}
			s.n = 200000
			x := s.render()
			for i := c.from; i < c.upto; i++ {
				x[i] *= float32(math.Pow(10, c.db/20))
			}
			d, err := New(s.config())
			require.NoError(t, err)
			for i, turn := range s.turns {
				d.Process(nil, x[d.Frame():turn-2000])
				if i < len(s.turns)-4 {
					continue
				}
				want := Closed
				if i%2 == 1 {
					want = Open
				}
				got, _ := d.State()
				assert.Equal(t, want, got, "before frame %d", turn)
			}
		})
	}
}

// A buffer played twice turns the tone there and back. With nothing left when open, the turned tone is as far from the one state as from
// the other.
func TestRepeatedBufferDoesNotTurnTheStates(t *testing.T) {
	for _, long := range []int{64, 80} {
		for seed := range uint64(6) {
			s := basicSynth()
			s.sigma, s.seed = snr(0.25, 30), seed
			x := s.render()
			rng := rand.New(rand.NewPCG(seed, 3))
			for _, from := range append([]int{0}, s.turns...) {
				if from < len(x)-9000 {
					at := from + 2000 + rng.IntN(4000)
					copy(x[at:at+long], append([]float32(nil), x[at-long:at]...))
				}
			}
			d, err := New(s.config())
			require.NoError(t, err)
			for i, turn := range s.turns {
				d.Process(nil, x[d.Frame():turn-500])
				want := Closed
				if i%2 == 1 {
					want = Open
				}
				got, _ := d.State()
				assert.Equal(t, want, got, "%d frames, seed %d, before frame %d", long, seed, turn)
			}
		}
	}
}
