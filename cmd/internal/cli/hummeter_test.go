package cli

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestHumMeter(t *testing.T) {
	for name, c := range map[string]struct {
		mains, tone, want float64
		rate              int
	}{
		"50 Hz":               {50, 925, 0.02 * math.Sqrt(1+1./9), 48000},
		"60 Hz":               {60, 925, 0.02 * math.Sqrt(1+1./9), 48000},
		"a mains that is off": {50.1, 925, 0.02 * math.Sqrt(1+1./9), 48000},
		"44100 frames/s":      {50, 1013, 0.02 * math.Sqrt(1+1./9), 44100},
		"none":                {0, 1013, 0, 48000},
		"none, tone high":     {0, 3083, 0, 48000},
	} {
		h := newHumMeter(c.rate)
		_, ok := h.level()
		assert.False(t, ok, name)
		random := rand.New(rand.NewPCG(1, 2))
		block := make([]float32, 2)
		for i := range 2 * c.rate {
			at := 2 * math.Pi * float64(i) / float64(c.rate)
			x := 0.05*math.Sin(c.tone*at) + 1e-4*random.NormFloat64()
			if c.mains > 0 {
				x += 0.02*math.Sin(c.mains*at+1) + 0.02/3*math.Sin(3*c.mains*at)
			}
			block[1] = float32(x)
			h.add(block, 2, 1)
		}
		got, ok := h.level()
		assert.True(t, ok, name)
		// The means take 4 % off at 150 Hz, half a period in ten is what 0.2 s of 50.1 Hz are off, and 44100/1500 is no whole number.
		assert.InDelta(t, c.want, got, 0.001, name)
	}
}
