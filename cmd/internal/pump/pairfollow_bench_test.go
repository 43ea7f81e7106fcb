package pump_test

import (
	"testing"

	"breakcue/audio"
	"breakcue/cmd/internal/pump"
)

// BenchmarkPairFollower prints how many seconds of live sound with two tones go through in a second, learning included.
func BenchmarkPairFollower(b *testing.B) {
	c := typical().beside(b, 1, 1630, 0)
	src := source(b, c)
	x := make([]float32, c.Frames)
	n, err := src.Read(x)
	if err != nil {
		b.Fatal(err)
	}
	x = x[:n]
	for b.Loop() {
		l, err := pump.NewPairFollower(audio.Format{SampleRate: 48000, Channels: 1}, pairOptions(c, pump.Options{}))
		if err != nil {
			b.Fatal(err)
		}
		for at := 0; at < n; at += 256 {
			l.Process(nil, x[at:min(at+256, n)])
		}
	}
	b.ReportMetric(float64(n)/48000*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
}
