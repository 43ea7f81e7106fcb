package pump_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Noise that comes and goes in the band of the tone, as of voices, looks like the points for moments. Where edges are missing or made up
// for it, the recording is refused or the caveats say so.
func TestEdgesMadeUpByUnevenNoiseAreTold(t *testing.T) {
	for seed := range uint64(12) {
		r := typical()
		r.seconds, r.changes = 20, slowly(9)
		c := r.config(t, seed)
		x := make([]float32, c.Frames)
		_, err := source(t, c).Read(x)
		require.NoError(t, err)
		level := bench.Amplitude(c.Level) * []float64{0.04, 0.07, 0.1}[seed/4]
		rng := rand.New(rand.NewPCG(seed, 12))
		var loud, low float64
		for n := range x {
			if n%7200 == 0 { // 0.15 s
				loud = math.Max(0, rng.NormFloat64())
			}
			low += 0.1 * (rng.NormFloat64() - low) // below 760 Hz or so
			x[n] += float32(level * loud * low)
		}
		a := analyse(t, opened(c.SampleRate, x), pump.Options{})
		if a.Refused == nil && len(a.Edges) != 18 {
			told := slices.ContainsFunc(codes(a), func(code string) bool { return code == "not_in_turn" || code == "unsteady" })
			assert.True(t, told, "seed %d: %d edges, %v", seed, len(a.Edges), codes(a))
		}
	}
}
