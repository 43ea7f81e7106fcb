package cli

import (
	"math"
	"testing"

	"breakcue/cmd/internal/leads"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
)

func TestLivePairKeepsItsTonesApart(t *testing.T) {
	for _, rate := range []int{8000, 16000, 32000, 44100, 48000, 88200, 96000, 176400, 192000} {
		for _, w := range []detect.Wiring{detect.Series, detect.Shunt} {
			pair := livePair(w, rate)
			first, second := pair[0], pair[1]
			assert.Equal(t, liveTone(w, rate), first)
			assert.True(t, second >= detect.MinTone && second <= detect.MaxTone(rate), "%d Hz %v: %g", rate, w, second)
			for _, mains := range []float64{50, 60} {
				assert.GreaterOrEqual(t, math.Abs(second-mains*math.Round(second/mains)), 8.0, "%d Hz %v: %g", rate, w, second)
			}
			assert.GreaterOrEqual(t, math.Abs(second-first), 400.0)
			// What clipping makes: harmonics up to the sixth, and sums and differences of up to six of the two.
			for i := -6; i <= 6; i++ {
				for k := -6; k <= 6; k++ {
					if n := max(i, -i) + max(k, -k); n < 2 || n > 6 {
						continue
					}
					hz := math.Abs(float64(i)*first + float64(k)*second)
					assert.GreaterOrEqual(t, min(math.Abs(hz-first), math.Abs(hz-second)), 40.0, "%d Hz %v: %d x %g, %d x %g", rate, w, i, first, k, second)
				}
			}
			assert.Greater(t, leads.LeastTurn(second/float64(rate), rate), 0.08, "as for the first tone; %d Hz %v: %g", rate, w, second)
		}
	}
	in, over := livePair(detect.Series, 48000), livePair(detect.Shunt, 48000)
	assert.InDelta(t, 1600, in[1], 220, "in line: not much higher, for the condenser")
	assert.InDelta(t, 2400, over[1], 220, "across: not below 2 kHz, for a source coil")
}
