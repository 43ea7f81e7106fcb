package pump_test

import (
	"fmt"
	"math"
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hummed is a take of two tones, 30 dB over the noise, with hum of so many dB over the first.
func hummed(t testing.TB, r rig, seed uint64, down, hz, db float64) bench.Config {
	r.snr = 30
	c := r.beside(t, seed, 1630, down)
	c.Hum = bench.Hum{Hz: hz, Level: bench.Amplitude(-10) * bench.Amplitude(db), Harmonics: 10}
	return c
}

// lostTimes counts how often the signal of a set was lost.
func lostTimes(events []detect.Event) (n int) {
	for _, e := range events {
		if e.Kind == detect.KindLost {
			n++
		}
	}
	return n
}

// In hum, live and as a recording, both sets are followed as without: the tolerance is that of 30 dB, four times that of 40 dB.
func TestTwoSetsInHum(t *testing.T) {
	inLine, shunt := typical(), typical()
	shunt.cable, shunt.tone = across, 3010
	seed := uint64(0)
	for name, r := range map[string]rig{"in line": inLine, "across": shunt} {
		for _, db := range []float64{-30, -20, -10, 0} {
			for _, hz := range []float64{50.03, 59.98} {
				seed++
				c := hummed(t, r, seed%4+1, 10*float64(seed%2), hz, db)
				t.Run(fmt.Sprintf("%s, %g Hz, %g dB", name, hz, db), func(t *testing.T) {
					l, events := followPair(t, source(t, c), pairOptions(c, r.options()))
					assert.Zero(t, lostTimes(events))
					opt := r.options()
					opt.Tones = []float64{c.Tone, c.Second.Tone}
					a := analyse(t, opener(t, c), opt)
					require.NoError(t, a.Refused)
					for i, want := range bothTruths(t, c) {
						requireEvents(t, want, heardOf(l, events, i+1), 60e-6*float64(r.rate)+1, seed)
						requireEvents(t, want, ofSet(a, i+1), 60e-6*float64(r.rate)+1, seed)
						cfg, times := l.Learnt(i + 1)
						assert.Equal(t, 1, times)
						assert.InDelta(t, hz, cfg.Profile.Hum.Freq, 0.02, "for who listens beside")
						assert.InDelta(t, hz, a.Sets[i].Found.Hum.Freq, 0.02)
					}
				})
			}
		}
	}
}

// withHumFrom adds hum from a second on.
func withHumFrom(x []float32, rate int, from, level float64) {
	for i := int(from * float64(rate)); i < len(x); i++ {
		turn := 2 * math.Pi * 50.02 * (float64(i)/float64(rate) + 0.3)
		x[i] += float32(level * (math.Sin(turn) + math.Sin(3*turn)/3 + math.Sin(5*turn)/5))
	}
}

// A lamp is switched on, hum 20 dB below the tones: no opening of the seconds after is lost, nor is one made up, nor any before.
func TestHumThatComesLaterIsFound(t *testing.T) {
	r := typical()
	r.snr = 30
	c := r.beside(t, 2, 1630, 0)
	x := soundOf(t, source(t, c))
	withHumFrom(x, 48000, 1.7, 0.1*bench.Amplitude(-10))
	l, events := followPair(t, audiotest.FromSlice(48000, 1, x), pairOptions(c, r.options()))
	assert.Zero(t, lostTimes(events))
	for i, want := range bothTruths(t, c) {
		requireEvents(t, want, heardOf(l, events, i+1), 120e-6*48000, 2)
		cfg, _ := l.Learnt(i + 1)
		assert.InDelta(t, 50.02, cfg.Profile.Hum.Freq, 0.05)
	}
}

// Sound that is held back for hum is passed on when it ends early, or when frames are lost, and counts meanwhile.
func TestSoundHeldBackForHumIsNotLost(t *testing.T) {
	c := hummed(t, typical(), 2, 0, 50.03, 0)
	x := soundOf(t, source(t, c))
	want := bothTruths(t, c)
	for _, at := range []int{40000, 47999, 48000, 60000} {
		l, err := pump.NewPairFollower(audio.Format{SampleRate: 48000, Channels: 1}, pairOptions(c, pump.Options{}))
		require.NoError(t, err)
		events := l.Process(nil, x[:at])
		assert.EqualValues(t, at, l.Frame())
		events = l.Flush(events)
		n := 0
		for _, w := range want[0] {
			if w.First < float64(at-300) {
				n++
			}
		}
		require.NotZero(t, n)
		assert.Len(t, heardOf(l, events, 1).Edges, n, "of %d frames", at)

		l, err = pump.NewPairFollower(audio.Format{SampleRate: 48000, Channels: 1}, pairOptions(c, pump.Options{}))
		require.NoError(t, err)
		events = l.Skip(l.Process(nil, x[:at]), 96)
		assert.EqualValues(t, at+96, l.Frame())
		events = l.Flush(l.Process(events, x[at+96:]))
		edges := heardOf(l, events, 1).Edges
		// The edges next to the gap, and one until the levels are found again, may be missing.
		assert.InDelta(t, len(want[0]), len(edges), 2, "with a gap at %d", at)
	}
}

// With hum and a later beginning of the tones, too, nothing depends on the blocks.
func TestFollowingTwoSetsInHumGivesTheSameEventsHoweverTheSoundIsCut(t *testing.T) {
	c := hummed(t, typical(), 4, 6, 50.03, -10)
	x := soundOf(t, source(t, c))
	opt := pairOptions(c, pump.Options{})
	opt.Begin = 1234
	hear := func(size int) (events []detect.Event) {
		l, err := pump.NewPairFollower(audio.Format{SampleRate: 48000, Channels: 1}, opt)
		require.NoError(t, err)
		for at := 0; at < len(x); at += size {
			events = l.Process(events, x[at:min(at+size, len(x))])
		}
		return l.Flush(events)
	}
	want := hear(len(x))
	require.NotEmpty(t, settled(want))
	for _, size := range []int{1, 7, 480, 9601, 47999} {
		require.Equal(t, want, hear(size), "blocks of %d", size)
	}
}
