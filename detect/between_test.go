package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A level that comes to stand between the two is neither (from 0.6 of the way on it is the other state, if weak): never followed until it passes for the state before.
func TestALevelBetweenTheTwoIsLost(t *testing.T) {
	for _, part := range []float64{0.45, 0.5} {
		for _, db := range []float64{40, 30} {
			s := basicSynth()
			s.tone, s.sigma = 1010, snr(0.25, db)
			s.turns, s.n = []int{24013, 33301, 48007}, 120000
			x := s.render()
			weak := s
			weak.closed *= complex(part, 0)
			weak.turns = []int{24013, 33301, 48007, 60013}
			copy(x[60013:], weak.render()[60013:]) // instead of the closed level
			events, d, err := detectAll(s.config(), x, 128)
			require.NoError(t, err)
			state, _ := d.State()
			assert.Equal(t, Lost, state, "%g of the level, %g dB", part, db)
			for _, e := range events {
				if e.Frame > 50000 {
					assert.NotEqual(t, KindClose, e.Kind, "%g of the level, %g dB", part, db)
				}
			}
		}
	}
}
