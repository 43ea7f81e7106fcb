package detect

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

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
