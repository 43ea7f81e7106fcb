package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// heard is what a Detector has added up, over ten seconds, of so many openings and closings in turn: a tone of 0.25, nothing left when
// open, noise 40 dB below.
func heard(t *testing.T, edges int) *Detector {
	d, err := New(basicSynth().config())
	require.NoError(t, err)
	d.n = 10 * 48000
	m := &d.sum
	m.watched, m.slide.looked = 20000, 100
	m.hops[closedIdx], m.amp2[closedIdx] = 10000, 10000*0.25*0.25
	m.hops[openIdx] = 10000
	for i := range edges {
		d.sum.leave(Event{Kind: KindOpen + Kind(i%2), Frame: int64(i) * 48000, LastFrame: int64(i) * 48000, Before: 0.25 * complex(float64(1-i%2), 0), After: 0.25 * complex(float64(i%2), 0)})
	}
	setNoise(d, 40)
	return d
}

// setNoise makes what is heard beside the tone lie so many dB below it.
func setNoise(d *Detector, db float64) {
	d.sum.later.hops = 10000
	d.sum.later.noise = 10000 * snr(0.25, db) * snr(0.25, db)
}

// The fewer openings there are, the less may be amiss with them.
func TestLittleEvidenceMustBeClean(t *testing.T) {
	for _, tt := range []struct {
		name  string
		edges int
		set   func(*Detector)
		want  error
	}{
		{"a single opening", 1, func(*Detector) {}, nil},
		{"one, in white noise", 1, func(d *Detector) { setNoise(d, 0); d.cfg.Profile.Noise = snr(0.25, 0) }, nil},
		{"one, among other notes", 1, func(d *Detector) { setNoise(d, 0); d.cfg.Profile.Noise = snr(0.25, 12) }, ErrNotATone},
		{"one, other notes far below", 1, func(d *Detector) { setNoise(d, 20); d.cfg.Profile.Noise = snr(0.25, 40) }, nil},
		{"many, a second tone beside", 20, func(d *Detector) { setNoise(d, 0); d.cfg.Profile.Noise = snr(0.25, 12) }, nil},

		{"one, a few clicks", 1, func(d *Detector) { d.contacts.undone = 6 }, nil},
		{"one, much that came to nothing", 1, func(d *Detector) { d.contacts.undone = 13 }, ErrNotATone},
		{"twenty, as much", 20, func(d *Detector) { d.contacts.undone = 13 }, nil},
		{"one in two minutes, as much", 1, func(d *Detector) { d.contacts.undone = 13; d.n = 120 * 48000 }, nil},
		{"twenty, thirty that came to nothing", 20, func(d *Detector) { d.contacts.undone = 30 }, ErrNotATone},

		{"restless", 20, func(d *Detector) { d.sum.restless = d.sum.watched / 5 }, ErrNotATone},
		{"as restless, in noise as strong as the step", 20, func(d *Detector) {
			d.sum.restless = d.sum.watched / 5
			setNoise(d, 0)
			d.cfg.Profile.Noise = snr(0.25, 0)
		}, nil},

		{"swelling", 20, func(d *Detector) { d.sum.slide.slid = 60 }, ErrNotATone},
		{"a gain control after each closing", 20, func(d *Detector) { d.sum.slide.slid = 40 }, nil},

		{"two of eight begin without an end", 8, func(d *Detector) { d.sum.repeats = 2 }, ErrNotATone},
		{"four of thirty", 30, func(d *Detector) { d.sum.repeats = 4 }, ErrNotATone},
		{"two of thirty", 30, func(d *Detector) { d.sum.repeats = 2 }, nil},
		{"one of eight", 8, func(d *Detector) { d.sum.repeats = 1 }, nil},

		{"the only one flutters", 1, func(d *Detector) { d.sum.flutter = 1 }, ErrNotATone},

		{"zeros of 0.5 s in noise", 8, func(d *Detector) { d.cfg.ZeroIsOpen, d.sum.longest = true, 24000 }, nil},
		{"zeros of 20 ms in noise", 8, func(d *Detector) { d.cfg.ZeroIsOpen, d.sum.longest = true, 960 }, ErrNoChange},
		{"zeros of 20 ms, no noise", 8, func(d *Detector) { d.cfg.ZeroIsOpen, d.sum.longest = true, 960; setNoise(d, 80) }, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := heard(t, tt.edges)
			tt.set(d)
			if tt.want == nil {
				assert.NoError(t, d.Judge())
			} else {
				assert.ErrorIs(t, d.Judge(), tt.want)
			}
		})
	}
}

// judged surveys, detects and judges.
func judged(x []float32) error {
	_, _, d, err := run(x, 48000, 4096, SurveyOptions{})
	if err == nil {
		err = d.Judge()
	}
	return err
}

// A drill whines at 977 Hz, stronger and weaker some times a second, and is switched on and off.
func TestAWhineIsNoTone(t *testing.T) {
	for i, hz := range []float64{5, 9, 13} {
		seed := uint64(i)
		rng := rand.New(rand.NewPCG(seed, 3))
		x := make([]float32, 12*48000)
		on, until := true, 0
		for n := range x {
			if n == until {
				on = !on
				until += 24000 + rng.IntN(60000)
			}
			at := float64(n) / 48000
			v := 0.003 * rng.NormFloat64()
			if on {
				v += 0.1*(1+0.25*math.Sin(2*math.Pi*hz*at))*math.Cos(2*math.Pi*977*at+2/0.9*math.Cos(2*math.Pi*0.9*at)) + 0.005*rng.NormFloat64()
			}
			x[n] = float32(v)
		}
		require.Error(t, judged(x), "%g Hz", hz)
	}
}

// A sound card loses samples: exact zeros for 1 to 20 ms in a tone that never changes.
func TestLostSamplesAreNoOpenings(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 20))
	s := basicSynth()
	s.turns, s.n, s.sigma = nil, 20*48000, snr(0.25, 20)
	x := s.render()
	for range 30 {
		at := rng.IntN(s.n - 2000)
		clear(x[at : at+64+rng.IntN(960)])
	}
	require.ErrorIs(t, judged(x), ErrNoChange)
}

// What is heard of one edge, in the first and the last moments of a recording, is enough where nothing else is amiss.
func TestAFewEdgesAreBelieved(t *testing.T) {
	for _, turns := range [][]int{{24013}, {90001}, {24013, 25500}, {4800, 109000}} {
		for _, db := range []float64{40, 10, 3} {
			s := basicSynth()
			s.turns, s.sigma = turns, snr(0.25, db)
			_, ev, d, err := run(s.render(), 48000, 4096, SurveyOptions{})
			require.NoError(t, err, "%v at %g dB", turns, db)
			require.NoError(t, d.Judge(), "%v at %g dB", turns, db)
			require.Len(t, edges(ev), len(turns), "%v at %g dB", turns, db)
		}
	}
}
