package detect

import (
	"fmt"
	"testing"
)

// BenchmarkPairTiming prints how well the edges of two sets of points in one channel are placed, over 1000 edges of each set, a third of them
// within 1 ms of one of the other set: the error of each [frames], over that of the same edges alone in the same noise, and what was missed,
// false or taken back of both. The noise lies so many dB below the weaker tone.
func BenchmarkPairTiming(b *testing.B) {
	for _, second := range []float64{1600, 3200} {
		for _, down := range []float64{1, 0.316} { // 10 dB
			for _, db := range []float64{40, 30, 20, 10} {
				b.Run(fmt.Sprintf("second=%g/level=%g/snr=%g", second, down, db), func(b *testing.B) { pairTiming(b, second, down, db, 0) })
			}
		}
	}
	for _, couple := range []float64{0.06, 0.25} {
		for _, db := range []float64{40, 20} {
			b.Run(fmt.Sprintf("second=1600/level=0.316/snr=%g/coupling=%g", db, couple), func(b *testing.B) { pairTiming(b, 1600, 0.316, db, couple) })
		}
	}
}

// pairTiming is one row; each tone is louder by the share couple while the points of the other set are open.
func pairTiming(b *testing.B, second, down, db, couple float64) {
	var t [2]pairTally
	for range b.N {
		t = [2]pairTally{}
		for seed := range uint64(10) {
			s := pairTake(seed, 100, [2]float64{1000, second}, [2]float64{0.25, 0.25 * down}, db)
			s.couple = [2]float64{couple, couple}
			if err := s.take(&t); err != nil {
				b.Fatal(err)
			}
		}
	}
	for i, set := range t {
		b.ReportMetric(set.with.rms(), fmt.Sprintf("rms%d", i+1))
		b.ReportMetric(set.with.rms()/max(set.alone.rms(), 0.01), fmt.Sprintf("ratio%d", i+1))
	}
	b.ReportMetric(float64(t[0].with.missed+t[1].with.missed), "missed")
	b.ReportMetric(float64(t[0].with.wrong+t[1].with.wrong), "false")
	b.ReportMetric(float64(t[0].undone+t[1].undone), "taken_back")
	b.ReportMetric(0, "ns/op")
}

// BenchmarkPairSpeed prints how many seconds of 48 kHz sound with two tones, seven edges in each, go through in a second.
func BenchmarkPairSpeed(b *testing.B) {
	s := pairTake(1, 100, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 30)
	x := s.render()
	_, p, err := s.run(x, 4800)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	ev := make([]Event, 0, 1000)
	b.ResetTimer()
	for range b.N {
		p.Reset()
		ev = p.Process(ev[:0], x)
	}
	b.ReportMetric(float64(len(x))/48000*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
}
