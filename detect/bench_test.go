package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// BenchmarkTiming prints how well edges are placed: RMS error and bias [us], edges missed and false, the mean delay of the
// decision [us], and the share of errors within twice the stated standard uncertainty [%], over 1000 edges of a hard-gated
// 1 kHz tone at 48 kHz.
func BenchmarkTiming(b *testing.B) {
	for _, c := range []struct{ snr, leak float64 }{
		{40, 0}, {30, 0}, {20, 0}, {10, 0}, {3, 0}, {0, 0}, {30, -6}, {10, -6},
	} {
		name := fmt.Sprintf("snr=%g", c.snr)
		if c.leak != 0 {
			name += fmt.Sprintf("/leak=%g", c.leak)
		}
		b.Run(name, func(b *testing.B) {
			var r tally
			for range b.N {
				r = timing(c.snr, c.leak)
			}
			r.report(b)
		})
	}
}

type tally struct {
	edges, missed, wrong, within int
	sum, sq, delay               float64
}

func timing(db, leak float64) tally {
	rng := rand.New(rand.NewPCG(11, 4))
	var r tally
	for take := range 10 {
		s := basicSynth()
		s.seed, s.sigma, s.phase = uint64(take), snr(0.25, db), 2*math.Pi*rng.Float64()
		if leak != 0 {
			s.open = complex(0.25*math.Pow(10, leak/20), 0) * complex(math.Cos(s.phase*7), math.Sin(s.phase*7))
		}
		s.turns = nil
		at := 30000
		for range 100 {
			s.turns = append(s.turns, at)
			at += 3000 + rng.IntN(20000)
		}
		s.n = at + 20000
		_, ev, _, err := run(s.render(), s.fs, 4800, SurveyOptions{})
		if err != nil {
			r.missed += len(s.turns)
			continue
		}
		got := edges(ev)
		i := 0
		for _, want := range s.turns {
			for i < len(got) && got[i].At() < float64(want)-480 {
				r.wrong++
				i++
			}
			if i == len(got) || got[i].At() > float64(want)+480 {
				r.missed++
				continue
			}
			e := got[i].At() - float64(want)
			r.edges++
			r.sum += e
			r.sq += e * e
			r.delay += float64(got[i].DecidedFrame - int64(want))
			if math.Abs(e) <= 2*got[i].Uncertainty {
				r.within++
			}
			i++
		}
		r.wrong += len(got) - i
	}
	return r
}

func (r tally) report(b *testing.B) {
	const us = 1e6 / 48000
	n := float64(max(1, r.edges))
	b.ReportMetric(us*math.Sqrt(r.sq/n), "rms_us")
	b.ReportMetric(us*r.sum/n, "bias_us")
	b.ReportMetric(us*r.delay/n, "delay_us")
	b.ReportMetric(float64(r.missed), "missed")
	b.ReportMetric(float64(r.wrong), "false")
	b.ReportMetric(100*float64(r.within)/n, "within2u_%")
	b.ReportMetric(0, "ns/op")
}

// BenchmarkSpeed prints how many seconds of 48 kHz sound go through in a second.
func BenchmarkSpeed(b *testing.B) {
	s := basicSynth()
	x := s.render()
	seconds := float64(len(x)) / 48000
	b.Run("survey", func(b *testing.B) {
		sv, err := NewSurvey(48000, 1, SurveyOptions{})
		if err != nil {
			b.Fatal(err)
		}
		for range b.N {
			sv.Write(x)
		}
		b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
	})
	b.Run("detect", func(b *testing.B) {
		d, err := New(s.config())
		if err != nil {
			b.Fatal(err)
		}
		b.ReportAllocs()
		ev := make([]Event, 0, 100)
		for range b.N {
			d.Reset()
			ev = d.Process(ev[:0], x)
		}
		b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
	})
}
