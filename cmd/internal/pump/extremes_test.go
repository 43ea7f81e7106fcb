package pump

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Looking at many samples together finds what looking at each finds, whatever the sound, the channels and the blocks.
func TestAGlanceMissesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		channels := rapid.IntRange(1, 3).Draw(t, "channels")
		gain := rapid.SampledFrom([]float64{0.1, 0.3, 0.9, 1.3, 40, 1e6}).Draw(t, "gain")
		cut := rapid.SampledFrom([]float64{0.2, 0.6, 1, math.MaxFloat32}).Draw(t, "cut")
		offset := rapid.SampledFrom([]float64{0, 0.05, -0.3}).Draw(t, "offset")
		x := make([]float32, channels*rapid.IntRange(0, 700).Draw(t, "frames"))
		for i := range x {
			s := gain*math.Sin(float64(i)*0.13) + offset
			if i%3 == 0 {
				s *= 0.99
			}
			x[i] = float32(max(-cut, min(cut, math.Round(s*128)/128)))
		}
		for range rapid.IntRange(0, 3).Draw(t, "odd") {
			if len(x) > 0 {
				i := rapid.IntRange(0, len(x)-1).Draw(t, "at")
				x[i] = float32(rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat32, 1, -1, 0.25}).Draw(t, "sample"))
			}
		}
		for c := range channels {
			var want, got extremes
			for i := c; i < len(x); i += channels {
				want.add(float64(x[i]))
			}
			for rest := x; len(rest) > 0; {
				n := channels * rapid.IntRange(1, 300).Draw(t, "block")
				n = min(n, len(rest))
				got.take(rest[:n], channels, c)
				rest = rest[n:]
			}
			assert.Equal(t, want, got)
		}
	})
}

func BenchmarkExtremes(b *testing.B) {
	x := make([]float32, blockFrames)
	for i := range x {
		x[i] = float32(0.5 * math.Sin(float64(i)*0.13))
	}
	var e extremes
	e.add(0.6)
	e.add(-0.6) // such as a crest that met a noise
	for b.Loop() {
		e.take(x, 1, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/blockFrames, "ns/sample")
}
