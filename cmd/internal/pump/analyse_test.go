package pump_test

import (
	"testing"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The tolerances are six times the root mean square error of the best possible method at this noise (a Monte Carlo of the
// exact maximum-likelihood change point, calculated), and one frame.
func TestEveryOpeningIsFoundAndNoneMadeUp(t *testing.T) {
	for _, tt := range []struct {
		name string
		us   float64 // tolerance, one frame excepted [us]
		set  func(*rig)
	}{
		{"in line", 12, func(r *rig) {}},
		{"in line, 1 kilohm", 20, func(r *rig) { r.cable = highLoad }},
		{"across", 12, func(r *rig) { r.cable = across }},
		{"open in the beginning", 12, func(r *rig) {
			r.more = func(c *bench.Config) { c.StartOpen, c.Changes = true, c.Changes[1:] }
		}},

		{"44.1 kHz", 12, func(r *rig) { r.rate = 44100 }},
		{"96 kHz", 12, func(r *rig) { r.rate = 96000 }},
		{"8 kHz", 40, func(r *rig) { r.rate = 8000 }},
		{"8 kHz, high tone, 20 dB", 200, func(r *rig) { r.rate, r.tone, r.snr = 8000, 3010, 20 }},

		{"700 Hz", 12, func(r *rig) { r.tone = 700 }},
		{"3 kHz", 12, func(r *rig) { r.tone = 3010 }},
		{"5 kHz", 12, func(r *rig) { r.tone = 5000 }},

		{"30 dB", 25, func(r *rig) { r.snr = 30 }},
		{"20 dB", 65, func(r *rig) { r.snr = 20 }},
		{"10 dB", 220, func(r *rig) { r.snr = 10 }},
		{"1 kilohm, 20 dB", 120, func(r *rig) { r.cable, r.snr = highLoad, 20 }},
		{"across, 10 dB", 220, func(r *rig) { r.cable, r.snr = across, 10 }},

		{"leak -10 dB in phase", 12, func(r *rig) { r.leak = 0.32 }},
		{"leak -10 dB, a quarter turn", 12, func(r *rig) { r.leak, r.phase = 0.32, 0.25 }},
		{"leak -10 dB against", 12, func(r *rig) { r.leak, r.phase = 0.32, 0.5 }},
		{"leak -10 dB, three quarters", 12, func(r *rig) { r.leak, r.phase = 0.32, 0.75 }},
		{"leak -6 dB", 15, func(r *rig) { r.leak = 0.5 }},
		{"leak -6 dB, 20 dB", 120, func(r *rig) { r.leak, r.phase, r.snr = 0.5, 0.1, 20 }},

		{"ticks", 12, func(r *rig) { r.more = ticks }},
		{"ticks, 10 dB", 220, func(r *rig) { r.more, r.snr = ticks, 10 }},
		{"hum -20 dB", 100, func(r *rig) { r.more = hum }},
		{"band-limited", 12, func(r *rig) { r.more = bandLimited }},
		{"band-limited, 10 dB", 220, func(r *rig) { r.more, r.snr = bandLimited, 10 }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for seed := range uint64(4) {
				r := typical()
				tt.set(&r)
				c := r.config(t, seed)
				want, _ := truth(t, c)
				a := analyse(t, opener(t, c), r.options())
				requireEvents(t, want, a, tt.us*1e-6*float64(r.rate)+1, seed)
				for _, e := range a.Edges {
					assert.Zero(t, e.Reclosures, "seed %d", seed)
				}
			}
		})
	}
}

// Parting points make and break. Stretches of 0.4 ms (8 frames, if longer) and more are all seen, so the first break is that
// of the truth. A plain opening comes first: until the detector has learned the angle between the levels from one, it sees no
// stretch shorter than its window of 2 ms.
func TestBounceAndChatterAreOneEvent(t *testing.T) {
	for name, changes := range map[string]func(uint64) []bench.Change{
		"bounce": bounced, "chatter": chattering, "turned by hand": handTurned,
	} {
		for where, cable := range map[string]func(*rig){
			"in line": func(*rig) {}, "in line, 1 kilohm": func(r *rig) { r.cable = highLoad }, "across": func(r *rig) { r.cable = across },
			"across, 8 kHz": func(r *rig) { r.cable, r.rate = across, 8000 },
		} {
			t.Run(name+" "+where, func(t *testing.T) {
				checked := 0
				for seed := range uint64(6) {
					r := typical()
					cable(&r)
					shortest := max(0.4e-3, 8/float64(r.rate))
					r.changes = func(s uint64) []bench.Change {
						return append([]bench.Change{{At: 0.12}, {At: 0.2, Closed: true}}, withoutShort(changes(s), shortest)...)
					}
					c := r.config(t, seed)
					want, ok := truth(t, c)
					if !ok {
						continue
					}
					checked++
					a := analyse(t, opener(t, c), r.options())
					requireEvents(t, want, a, 2, seed)
					for i, e := range a.Edges {
						assert.Equal(t, want[i].Reclosures, e.Reclosures, "seed %d, edge %d", seed, i)
						assert.InDelta(t, want[i].Last, e.LastFrame, 2, "seed %d, edge %d", seed, i)
					}
				}
				require.GreaterOrEqual(t, checked, 3)
			})
		}
	}
}

// requireEvents fails unless the analysis holds the events of the truth and no others, each within tol [frames].
func requireEvents(t testing.TB, want []bench.Event, a pump.Analysis, tol float64, seed uint64) {
	require.NoError(t, a.Refused, "seed %d", seed)
	require.Len(t, a.Edges, len(want), "seed %d", seed)
	for i, e := range a.Edges {
		kind := detect.KindOpen
		if want[i].Closed {
			kind = detect.KindClose
		}
		require.Equal(t, kind, e.Kind, "seed %d, edge %d", seed, i)
		assert.InDelta(t, want[i].First, e.At(), tol, "seed %d, edge %d", seed, i)
		assert.Equal(t, detect.Settled, e.Stage)
		assert.Positive(t, e.Uncertainty)
	}
}

func ticks(c *bench.Config) {
	c.Ticks = bench.Ticks{Rate: 3, Length: 100e-6, Level: 10 * bench.Amplitude(-10)}
}

func hum(c *bench.Config) {
	c.Hum = bench.Hum{Hz: 50, Level: 0.1 * bench.Amplitude(-10), Harmonics: 5}
}

func bandLimited(c *bench.Config) { c.BandLimited = true }

// A survey passes over parts of a long recording; the detector does not.
func TestOneLateShortOpeningInALongRecording(t *testing.T) {
	for k, at := range []float64{33.3, 41.07, 47.9, 59.9} {
		c := bench.Config{SampleRate: 48000, Channels: 1, Frames: 48000 * 60, Tone: 1000, Level: -12, Closed: 1, Seed: uint64(k),
			Noise: bench.NoiseFor(bench.Amplitude(-12), 40), Changes: []bench.Change{{At: at}, {At: at + 0.05, Closed: true}}}
		a := analyse(t, func() (audio.Source, error) { return bench.New(c) }, pump.Options{})
		require.NoError(t, a.Refused, "at %g s", at)
		require.Len(t, a.Edges, 2)
		assert.InDelta(t, at*48000, a.Edges[0].At(), 2)
	}
	still := bench.Config{SampleRate: 48000, Channels: 1, Frames: 48000 * 40, Tone: 1000, Level: -12, Closed: 1, Noise: 1e-3}
	a := analyse(t, func() (audio.Source, error) { return bench.New(still) }, pump.Options{})
	require.ErrorIs(t, a.Refused, detect.ErrNoChange)
	assert.Empty(t, a.Edges)
}
