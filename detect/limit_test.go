package detect

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"breakcue/testdata/corpus"
)

// limits is the root mean square error [us] of the exact maximum-likelihood change point at 48 kHz: unknown amplitude and phase before and after,
// known frequency, white noise. The values come from an earlier Monte Carlo of 10,000 trials, computed independently, in another language.
var limits = []struct {
	tone, snr, left float64 // [Hz], [dB], [share]
	limited         bool    // real-valued instants through an anti-alias filter
	want            float64
}{
	{1000, 40, 0, false, 1.7}, {1000, 30, 0, false, 3.3}, {1000, 20, 0, false, 9.4}, {1000, 10, 0, false, 32}, {1000, 6, 0, false, 54},
	{1000, 3, 0, false, 79}, {1000, 0, 0, false, 127},
	{1000, 40, 0.1, false, 1.8}, {1000, 20, 0.1, false, 10.5}, {1000, 10, 0.1, false, 36}, {1000, 3, 0.1, false, 91},
	{1000, 30, db(-6), false, 6.1}, {1000, 20, db(-6), false, 19}, {1000, 10, db(-6), false, 68},
	{1000, 30, db(-3), false, 10}, {1000, 20, db(-3), false, 36}, {1000, 10, db(-3), false, 142},
	{400, 40, 0, false, 1.7}, {400, 20, 0, false, 15.5}, {400, 10, 0, false, 52}, {400, 3, 0, false, 122}, {400, 0, 0, false, 178},
	{3000, 40, 0, false, 1.7}, {3000, 20, 0, false, 5.8}, {3000, 10, 0, false, 19}, {3000, 3, 0, false, 57}, {3000, 0, 0, false, 107},
	{1000, 40, 0, true, 1.6}, {1000, 20, 0, true, 10}, {1000, 10, 0, true, 34},
}

func db(x float64) float64 { return math.Pow(10, x/20) }

func stepOf(tone, snr, left float64, limited bool) corpus.Step {
	s := corpus.Step{Rate: 48000, Tone: tone, SNR: snr, Left: complex(left, 0)}
	if limited {
		s.Shape = corpus.BandLimited(s.Rate, tone)
	}
	return s
}

// The tolerance is three standard errors of the difference, each Monte Carlo's own being that which the scatter of these trials gives for its number of
// trials; 5 % for what may differ in how they were made (length of the sound looked at, the filter); and half the last digit.
func TestLimitAgreesWithAnEarlierMonteCarlo(t *testing.T) {
	const trials, earlier = 1500, 10000
	for _, c := range limits {
		t.Run(fmt.Sprintf("%g Hz %g dB left %.2f limited %v", c.tone, c.snr, c.left, c.limited), func(t *testing.T) {
			got := stepOf(c.tone, c.snr, c.left, c.limited).Limit(trials, 1)
			assert.Positive(t, got.Doubt)
			assert.Less(t, got.Doubt, 0.2*got.RMS)
			assert.InDelta(t, c.want, got.RMS, 3*got.Doubt*math.Sqrt(1+trials/float64(earlier))+0.05*c.want+0.05)
		})
	}
}

// BenchmarkLimit measures how well any method can place an edge [us], root mean square and 95th percentile, by 2000 trials each time.
func BenchmarkLimit(b *testing.B) {
	for _, c := range limits {
		name := fmt.Sprintf("tone=%g/snr=%g/left=%.2f", c.tone, c.snr, c.left)
		if c.limited {
			name += "/band-limited"
		}
		b.Run(name, func(b *testing.B) {
			s := stepOf(c.tone, c.snr, c.left, c.limited)
			var sum float64
			var last corpus.Limit
			for i := range b.N {
				last = s.Limit(2000, uint64(i))
				sum += last.RMS * last.RMS
			}
			b.ReportMetric(math.Sqrt(sum/float64(b.N)), "rms_us")
			b.ReportMetric(last.P95, "p95_us")
		})
	}
}
