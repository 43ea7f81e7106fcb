package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A break is counted once, whether the second look at the first break just sees it or not.
func TestEachReclosureIsCountedOnce(t *testing.T) {
	for second := 260; second < 350; second++ { // frames after the first break; the second look comes after some 300
		s := basicSynth()
		s.turns, s.n = []int{24013, 24013 + 134, 24013 + second, 24013 + second + 50, 24013 + second + 126}, 60000
		ev, _, err := detectAll(s.config(), s.render(), 4096)
		require.NoError(t, err)
		got := edges(ev)
		require.Len(t, got, 1, "%d", second)
		assert.Equal(t, 2, got[0].Reclosures, "%d", second)
		assert.InDelta(t, s.turns[0], got[0].At(), 1, "%d", second)
		assert.InDelta(t, s.turns[4], got[0].LastFrame, 1, "%d", second)
	}
}

// Spikes about as large as the tone cancel it for a moment when they come at the right phase.
func TestSpikesThatCancelTheToneAreNoOpenings(t *testing.T) {
	for _, open := range []complex128{0, 0.05, 0.05i} {
		s := basicSynth()
		s.open, s.n = open, 48000*20
		x := s.render()
		rng := rand.New(rand.NewPCG(1, 41))
		for at := 120000; at < s.n-4800; at += 2400 + rng.IntN(2400) { // past the openings
			peak := 0.25 * (0.5 + rng.Float64())
			if rng.IntN(2) == 0 {
				peak = -peak
			}
			for i := range 5 { // 0.1 ms
				x[at+i] += float32(peak * math.Sin(math.Pi*float64(i+1)/6))
			}
		}
		ev, d, err := detectAll(s.config(), x, 4096)
		require.NoError(t, err)
		require.NoError(t, d.Judge())
		assert.Equal(t, s.turns, near(frames(ev), s.turns), "points open %v", open)
	}
}
