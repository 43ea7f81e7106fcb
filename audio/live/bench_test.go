package live

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"breakcue/audio"
)

// The work of our part of the callback for a second of sound, beside a callback that only passes the input on.
func BenchmarkCallback(b *testing.B) {
	o := Options{Tone: Voice{Hz: 1031, Level: -12, Channel: 1}, Alert: &Alert{Voice: Voice{Hz: 2000, Level: -6, Channel: 2}}}
	for _, frames := range []int{32, 128, 1024} {
		in, out := make([]float32, frames), make([]float32, 2*frames)
		perSecond := func(b *testing.B) {
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)*48000/float64(frames), "µs/s")
		}
		b.Run(fmt.Sprintf("bare/%d", frames), func(b *testing.B) {
			for b.Loop() {
				clear(out)
				copy(out, in)
			}
			perSecond(b)
		})
		for _, alert := range []bool{false, true} {
			b.Run(fmt.Sprintf("engine/alert=%v/%d", alert, frames), func(b *testing.B) {
				e, err := newEngine(o, 48000, 1, 2)
				require.NoError(b, err)
				if alert {
					e.alert.sound()
				}
				dst := make([]float32, frames)
				b.ReportAllocs()
				for b.Loop() {
					e.process(in, out, false, time.Now())
					e.ring.take(dst)
				}
				perSecond(b)
			})
		}
	}
}

// The same with 24 tones at once, as the check of a cable plays them.
func BenchmarkCallbackPlays(b *testing.B) {
	var hz []float64
	for k := range 24 {
		hz = append(hz, 325+300*float64(k))
	}
	e, err := newEngine(Options{Tone: Voice{Hz: 1031, Level: -12, Channel: 1}}, 48000, 1, 2)
	require.NoError(b, err)
	require.NoError(b, newStream(e, Info{}, nil).Play(audio.Chord{Hz: hz, Level: -12}))
	in, out, dst := make([]float32, 128), make([]float32, 256), make([]float32, 128)
	b.ReportAllocs()
	for b.Loop() {
		e.process(in, out, false, time.Now())
		e.ring.take(dst)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)*48000/128, "µs/s")
}

// From the entry of a callback to the return of the Read that it wakes, on a machine that is otherwise idle: a callback of 128 frames
// each 2.7 ms, and one of 32 each 0.67 ms, of which every second one wakes.
func BenchmarkWake(b *testing.B) {
	for _, frames := range []int{32, 128} {
		b.Run(fmt.Sprint(frames), func(b *testing.B) {
			e, err := newEngine(Options{Tone: Voice{Hz: 1000, Level: -12, Channel: 1}}, 48000, 1, 2)
			require.NoError(b, err)
			s := newStream(e, Info{}, func(bool) error { return nil })
			done := make(chan bool)
			go func() {
				defer close(done)
				in, out := make([]float32, frames), make([]float32, 2*frames)
				beat := time.NewTicker(time.Duration(frames) * time.Second / 48000)
				defer beat.Stop()
				for !e.silent.Load() {
					<-beat.C
					e.process(in, out, false, time.Now())
				}
			}()
			b.ReportMetric(0, "ns/op")
			reportWaits(b, s)
			require.NoError(b, s.Close())
			<-done
		})
	}
}

// reportWaits reads s and reports how long after the entry of the newest callback each Read returned.
func reportWaits(b *testing.B, s *Stream) {
	dst := make([]float32, 48000)
	var waits []float64
	frame := int64(0)
	for b.Loop() {
		n, err := s.Read(dst)
		now := time.Now()
		require.NoError(b, err)
		frame += int64(n)
		at, ok := s.Entered(frame - 1)
		require.True(b, ok)
		waits = append(waits, float64(now.Sub(at).Microseconds()))
	}
	slices.Sort(waits)
	b.ReportMetric(waits[len(waits)/2], "µs-median")
	b.ReportMetric(waits[len(waits)*99/100], "µs-p99")
	b.ReportMetric(waits[len(waits)-1], "µs-max")
}
