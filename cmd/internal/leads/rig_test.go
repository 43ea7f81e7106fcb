package leads

import (
	"errors"

	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
)

// rig is a check of a cable of the bench.
type rig struct {
	t     require.TestingT
	cable *bench.Cable
	check *Check
	block int // frames
}

func newRig(t require.TestingT, cfg bench.CableConfig, o Options) *rig {
	cable, err := bench.NewCable(cfg)
	require.NoError(t, err)
	o.Format = cable.Format()
	check, err := New(o)
	require.NoError(t, err)
	return &rig{t: t, cable: cable, check: check, block: 1024}
}

// make makes a step with the clips on something.
func (r *rig) make(s Step, on bench.Clips) Measure {
	r.cable.Clip(on)
	require.NoError(r.t, r.check.Begin(s))
	r.run(func() bool { return r.check.Progress().Phase == Done })
	m, ok := r.check.Measure(s)
	require.True(r.t, ok)
	return m
}

// run goes on until done.
func (r *rig) run(done func() bool) {
	playing := audio.Chord{Level: 1} // nothing
	x := make([]float32, r.block*r.cable.Format().Channels)
	for end := r.cable.Frame() + 30*int64(r.cable.Format().SampleRate); !done(); {
		require.Less(r.t, r.cable.Frame(), end, "the step must come to an end")
		if want := r.check.Want(); playing.Level == 1 || len(want.Hz) != len(playing.Hz) {
			require.NoError(r.t, r.cable.Play(want))
			playing = want
		}
		from, ok := r.cable.Playing()
		require.True(r.t, ok)
		r.check.Playing(from)
		n, err := r.cable.Read(x)
		var gap *audio.GapError
		if errors.As(err, &gap) {
			r.check.Skip(gap.Lost)
			continue
		}
		require.NoError(r.t, err)
		r.check.Process(x[:n*r.cable.Format().Channels])
	}
}

// all makes the steps as they should be made.
func (r *rig) all(resistor bool) Result {
	r.make(Apart, bench.ClipsApart)
	r.make(Together, bench.ClipsTogether)
	if resistor {
		r.make(Known, bench.ClipsKnown)
	}
	r.make(Closed, bench.PointsClosed)
	r.make(Open, bench.PointsOpen)
	return r.check.Result()
}

// usual is the recommended cable in line, on clean points with their condenser.
func usual() bench.CableConfig {
	return bench.CableConfig{SampleRate: 48000, Channels: 1, Frames: bench.Endless, Resistor: 100, Delay: 1234, Noise: 1e-4, Seed: 1,
		Circuit: circuit.Circuit{Series: 100, Load: 47, Condenser: 0.22e-6, Contact: 0.05}}
}
