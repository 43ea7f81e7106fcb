package pump_test

import (
	"context"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
	"breakcue/timing"
	"breakcue/timing/handturn"

	"github.com/stretchr/testify/require"
)

// rig is the bench set up for one kind of sound. Its zero values are those of typical.
type rig struct {
	rate    int     // [frames/s]
	tone    float64 // [Hz]
	cable   circuit.Circuit
	snr     float64 // tone over noise power while the tone is loud [dB]
	leak    float64 // past the points, over the louder level
	phase   float64 // of the leak [turns]
	changes func(seed uint64) []bench.Change
	seconds float64
	more    func(*bench.Config)
}

// The cables: tone source of 100 ohm; a condenser of 0.22 uF stays across the points.
var (
	lowLoad  = circuit.Circuit{Source: 100, Load: 47, Condenser: 0.22e-6, Contact: 0.1}
	highLoad = circuit.Circuit{Source: 100, Load: 1000, Condenser: 0.22e-6, Contact: 0.1}
	across   = circuit.Circuit{Wiring: circuit.Shunt, Source: 100, Load: 10000, Condenser: 0.22e-6, Contact: 0.1}
)

func typical() rig {
	return rig{rate: 48000, tone: 1010, cable: lowLoad, snr: 40, changes: plainChanges, seconds: 4}
}

// plainChanges are openings of 60..300 ms without bounce.
func plainChanges(seed uint64) []bench.Change {
	rng := rand.New(rand.NewPCG(seed, 21))
	var out []bench.Change
	for at := 0.3 + 0.2*rng.Float64(); at < 3.2; {
		out = append(out, bench.Change{At: at})
		at += 0.06 + 0.24*rng.Float64()
		out = append(out, bench.Change{At: at, Closed: true})
		at += 0.06 + 0.24*rng.Float64()
	}
	return out
}

// bounced are those with the bounce of a running engine.
func bounced(seed uint64) []bench.Change { return bench.AddBounce(plainChanges(seed), seed) }

// chattering are slow openings: the points part over 30 ms and touch now and then.
func chattering(seed uint64) []bench.Change {
	out, err := bench.AddChatter(plainChanges(seed), bench.Chatter{Speed: 5, Lift: 0.02, Length: 0.002}, seed)
	if err != nil {
		panic(err)
	}
	return out
}

// handTurned is an engine turned by a quick hand through two passes.
func handTurned(seed uint64) []bench.Change {
	crank, err := timing.NewCrank(54, 110, 0)
	if err != nil {
		panic(err)
	}
	hand := handturn.CarefulHand()
	hand.Speed, hand.BackSpeed, hand.Rest, hand.Halts, hand.Nudge = 20, 30, 0.06, 0, 0.4
	run, err := handturn.Scenario{
		Crank: crank, Dial: timing.NewDial(10), Breaker: handturn.TypicalBreaker(1), Hand: hand, Seed: seed,
		Stages: []handturn.Stage{{Cylinder: 1, Phase: "as_found", Opens: 21, Mark: 20, Passes: 2}},
	}.Run()
	if err != nil {
		panic(err)
	}
	out := make([]bench.Change, len(run.Changes))
	for i, c := range run.Changes {
		out[i] = bench.Change(c)
	}
	return out
}

// withoutShort removes stretches shorter than shortest [s], which no method could find in noise.
func withoutShort(changes []bench.Change, shortest float64) []bench.Change {
	var out []bench.Change
	for _, c := range changes {
		if n := len(out); n > 0 && c.At-out[n-1].At < shortest {
			out = out[:n-1]
			continue
		}
		out = append(out, c)
	}
	return out
}

// config returns the sound of one seed.
func (r rig) config(t testing.TB, seed uint64) bench.Config {
	levels, err := r.cable.At(r.tone)
	require.NoError(t, err)
	loud := math.Max(cmplx.Abs(levels.Closed), cmplx.Abs(levels.Open))
	// The level is such that the louder state comes in 10 dB below full scale.
	c := bench.Config{
		SampleRate: r.rate, Channels: 1, Tone: r.tone, PPM: 40, Level: -10 - 20*math.Log10(loud),
		Closed: levels.Closed, Open: levels.Open, Leak: cmplx.Rect(r.leak*loud, 2*math.Pi*r.phase),
		Changes: r.changes(seed), Seed: seed, Noise: bench.NoiseFor(bench.Amplitude(-10), r.snr),
	}
	seconds := r.seconds
	if n := len(c.Changes); n > 0 {
		seconds = max(seconds, c.Changes[n-1].At+0.5)
	}
	c.Frames = int64(seconds * float64(r.rate))
	if r.more != nil {
		r.more(&c)
	}
	return c
}

func (r rig) options() pump.Options {
	var o pump.Options
	if r.cable.Wiring == circuit.Shunt {
		o.Wiring = detect.Shunt
	}
	return o
}

// opener returns what Analyse opens twice.
func opener(t testing.TB, c bench.Config, wrap ...func(audio.Source) audio.Source) func() (audio.Source, error) {
	return func() (audio.Source, error) {
		b, err := bench.New(c)
		require.NoError(t, err)
		var src audio.Source = b
		for _, w := range wrap {
			src = w(src)
		}
		return src, nil
	}
}

func analyse(t testing.TB, open func() (audio.Source, error), opt pump.Options) pump.Analysis {
	a, err := pump.Analyse(context.Background(), open, opt)
	require.NoError(t, err)
	return a
}

// truth returns the events of a sound, and whether they are the same for a hold somewhat shorter and longer: the detector
// looks at the end of each hop whether a stretch has lasted.
func truth(t testing.TB, c bench.Config) ([]bench.Event, bool) {
	b, err := bench.New(c)
	require.NoError(t, err)
	h := detect.DefaultHold
	lo, hi := b.Truth(h-2*time.Millisecond).Events, b.Truth(h+2*time.Millisecond).Events
	return b.Truth(h).Events, slices.Equal(lo, hi)
}
