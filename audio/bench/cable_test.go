package bench

import (
	"errors"
	"io"
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/circuit"
)

func inLine() CableConfig {
	return CableConfig{SampleRate: 48000, Channels: 1, Frames: Endless, Resistor: 100,
		Circuit: circuit.Circuit{Series: 100, Load: 47, Condenser: 0.22e-6, Contact: 0.05}}
}

func fullCable() CableConfig {
	c := inLine()
	c.Channels, c.Channel, c.Frames, c.Clips = 2, 1, 30000, PointsOpen
	c.Delay, c.Leak, c.Noise, c.Hum, c.Offset = 480, 0.01, 0.001, Hum{Hz: 50, Level: 0.01, Harmonics: 5}, 0.02
	c.Auto = AutoGain{Target: 0.1, Attack: 0.02, Release: 1, Most: 20}
	c.Suppress = Suppress{By: 20, After: 0.1, Over: 0.1}
	c.Losses = []Loss{{At: 5000, Frames: 300}, {At: 9000, Frames: 64, Kind: Silent}, {At: 12000, Frames: 512, Kind: Told}}
	return c
}

func newCable(t require.TestingT, cfg CableConfig) *Cable {
	c, err := NewCable(cfg)
	require.NoError(t, err)
	return c
}

func heard(t require.TestingT, c *Cable, frames int) []float32 {
	x := make([]float32, frames)
	n, err := c.Read(x)
	require.NoError(t, err)
	require.Equal(t, frames, n)
	return x
}

// levelOf returns the level of a tone [Hz] of which x, from a frame on, holds whole periods.
func levelOf(x []float32, from int64, hz float64) (sum complex128) {
	for i, v := range x {
		turns := math.Mod(float64(from+int64(i))*hz, 48000) / 48000
		sum += complex(float64(v), 0) * cmplx.Rect(2/float64(len(x)), -2*math.Pi*turns)
	}
	return sum
}

func TestCableKeepsTheContract(t *testing.T) {
	for name, cfg := range map[string]CableConfig{"plain": inLine(), "full": fullCable()} {
		t.Run(name, func(t *testing.T) {
			audiotest.Check(t, func() audio.Source {
				c := newCable(t, cfg)
				require.NoError(t, c.Play(audio.Chord{Hz: []float64{325, 975, 2125}, Level: -6}))
				return c
			}, 0)
		})
	}
}

// What comes back of each tone is what the circuit gives for what the clips are on, the delay of the card after it was played.
func TestLevelsThroughACable(t *testing.T) {
	cfg := inLine()
	cfg.Delay, cfg.Gain, cfg.Leak = 777, -6, 0.01
	chord := audio.Chord{Hz: []float64{325, 975, 2125}, Level: -6}
	played, err := audio.NewComb(chord, 48000)
	require.NoError(t, err)
	for _, w := range []circuit.Wiring{circuit.Series, circuit.Shunt} {
		cfg.Circuit.Wiring = w
		c := newCable(t, cfg)
		require.NoError(t, c.Play(chord))
		x := heard(t, c, 777)
		assert.Equal(t, make([]float32, 777), x, "nothing is back yet")
		for on := ClipsApart; on < clipsCount; on++ {
			c.Clip(on)
			heard(t, c, 1000)
			from := c.Frame()
			x := heard(t, c, 1920)
			for k, hz := range chord.Hz {
				closed, open, err := cfg.Circuit.Between(hz)
				require.NoError(t, err)
				z := map[Clips]complex128{ClipsApart: cmplx.Inf(), ClipsTogether: 0, ClipsKnown: 100, PointsClosed: closed, PointsOpen: open,
					LeadOff: cmplx.Inf()}
				want := complex128(0.01)
				if on != PlugOut {
					through, err := cfg.Circuit.With(hz, z[on])
					require.NoError(t, err)
					want += through
				}
				want *= complex(Amplitude(-6), 0) * played.Level(k) * cmplx.Rect(1, -2*math.Pi*hz*777/48000)
				assert.InDelta(t, 0, cmplx.Abs(levelOf(x, from, hz)-want), 1e-7, "%v, %v, %g Hz: float32", w, on, hz)
			}
		}
	}
}

func TestCablePlaysOneAfterTheOther(t *testing.T) {
	cfg := inLine()
	cfg.Clips, cfg.Delay = ClipsTogether, 100
	c := newCable(t, cfg)
	_, ok := c.Playing()
	assert.False(t, ok)
	heard(t, c, 50)
	require.NoError(t, c.Play(audio.Chord{Hz: []float64{975}, Level: -6}))
	from, ok := c.Playing()
	assert.True(t, ok)
	assert.Equal(t, int64(50+240), from, "5 ms")
	heard(t, c, 2000)
	require.NoError(t, c.Play(audio.Chord{Hz: []float64{2125}, Level: -6}))
	heard(t, c, 100+240)
	at := c.Frame()
	x := heard(t, c, 1920)
	assert.InDelta(t, 0, cmplx.Abs(levelOf(x, at, 975)), 1e-7, "float32")
	assert.InDelta(t, Amplitude(-6)*47/147, cmplx.Abs(levelOf(x, at, 2125)), 1e-6, "float32")
	require.NoError(t, c.Play(audio.Chord{}))
	heard(t, c, 100+240)
	assert.Equal(t, make([]float32, 100), heard(t, c, 100), "silence")
	assert.ErrorContains(t, c.Play(audio.Chord{Level: 3}), "bench: audio: level of a chord, got 3 dBFS")
}

func TestCableLosesSound(t *testing.T) {
	cfg := inLine()
	cfg.Clips = ClipsTogether
	cfg.Losses = []Loss{{At: 5000, Frames: 300}, {At: 9000, Frames: 64, Kind: Silent}, {At: 12000, Frames: 512, Kind: Told}}
	c := newCable(t, cfg)
	require.NoError(t, c.Play(audio.Chord{Hz: []float64{975}, Level: -6}))
	x := heard(t, c, 12000)
	assert.Equal(t, make([]float32, 300), x[5000:5300])
	before, after := levelOf(x[6000:7920], 6000, 975), levelOf(x[9960:11880], 9960, 975)
	assert.InDelta(t, 0, cmplx.Abs(after/before-cmplx.Rect(1, 2*math.Pi*975*64/48000)), 1e-5, "64 frames on: float32")
	_, err := c.Read(x)
	var gap *audio.GapError
	require.True(t, errors.As(err, &gap))
	assert.Equal(t, audio.GapError{At: 12512, Lost: 512}, *gap)
	told := levelOf(heard(t, c, 1920), 12512, 975)
	assert.InDelta(t, 0, cmplx.Abs(told/after-1), 1e-5, "in step again: float32")
}

func TestCableGain(t *testing.T) {
	cfg := inLine()
	cfg.Clips = ClipsTogether
	cfg.Auto = AutoGain{Target: 0.1, Attack: 0.01, Release: 0.5, Most: 40}
	c := newCable(t, cfg)
	heard(t, c, 48000)
	require.NoError(t, c.Play(audio.Chord{Hz: []float64{975}, Level: -6}))
	first := cmplx.Abs(levelOf(heard(t, c, 480), 0, 975)) // ten periods, nearly
	heard(t, c, 48000)
	steady := cmplx.Abs(levelOf(heard(t, c, 1920), c.Frame()-1920, 975))
	assert.Greater(t, first, 2*steady, "overshoot after silence")
	// A quick rise and a slow fall follow the crests of the sine, not its mean power: between that of its RMS and of its peak.
	assert.InDelta(t, 0.12, steady, 0.025)

	cfg.Auto, cfg.Suppress = AutoGain{}, Suppress{By: 20, After: 0.5, Over: 0.5}
	c = newCable(t, cfg)
	require.NoError(t, c.Play(audio.Chord{Hz: []float64{975}, Level: -6}))
	at := func(frame int64) float64 {
		heard(t, c, int(frame-c.Frame()))
		return cmplx.Abs(levelOf(heard(t, c, 1920), frame, 975))
	}
	full := at(9600)
	assert.InDelta(t, full, at(20000), 1e-6, "not yet")
	assert.InDelta(t, full*0.1, at(50000), 1e-6, "20 dB down")
	c.Clip(LeadOff)
	c.Clip(ClipsTogether)
	assert.InDelta(t, full, at(60000), 1e-6, "something has changed")
}

func TestCableEnds(t *testing.T) {
	cfg := inLine()
	cfg.Frames = 100
	c := newCable(t, cfg)
	heard(t, c, 100)
	_, err := c.Read(make([]float32, 10))
	assert.Equal(t, io.EOF, err)
	require.NoError(t, c.Close())
	_, err = c.Read(make([]float32, 10))
	assert.Error(t, err)
	assert.Panics(t, func() { c.Clip(7) })
}

func TestCableConfigValidate(t *testing.T) {
	require.NoError(t, fullCable().Validate())
	for _, tt := range []struct {
		want string
		edit func(*CableConfig)
	}{
		{"bench: sample rate, got 100", func(c *CableConfig) { c.SampleRate = 100 }},
		{"bench: channels, got 0", func(c *CableConfig) { c.Channels = 0 }},
		{"bench: channel, got 2", func(c *CableConfig) { c.Channel = 2 }},
		{"bench: frames, got 0", func(c *CableConfig) { c.Frames = 0 }},
		{"bench: resistor [ohm], got NaN", func(c *CableConfig) { c.Resistor = math.NaN() }},
		{"bench: clips, got 7", func(c *CableConfig) { c.Clips = 7 }},
		{"bench: gain [dB], got 99", func(c *CableConfig) { c.Gain = 99 }},
		{"bench: delay [frames], got 24001", func(c *CableConfig) { c.Delay = 24001 }},
		{"bench: leak, got (11+0i)", func(c *CableConfig) { c.Leak = 11 }},
		{"bench: noise [full scale], got -1", func(c *CableConfig) { c.Noise = -1 }},
		{"bench: hum [Hz], got 24000", func(c *CableConfig) { c.Hum.Hz = 24000 }},
		{"bench: hum level [full scale], got 2", func(c *CableConfig) { c.Hum.Level = 2 }},
		{"bench: hum harmonics, got 101", func(c *CableConfig) { c.Hum.Harmonics = 101 }},
		{"bench: hum with the points open [dB], got 101", func(c *CableConfig) { c.HumOn[PointsOpen] = 101 }},
		{"bench: offset [full scale], got 2", func(c *CableConfig) { c.Offset = 2 }},
		{"bench: target of the gain control [full scale], got 2", func(c *CableConfig) { c.Auto.Target = 2 }},
		{"bench: attack [s], got 0", func(c *CableConfig) { c.Auto.Attack = 0 }},
		{"bench: release [s], got 0", func(c *CableConfig) { c.Auto.Release = 0 }},
		{"bench: highest gain [dB], got 61", func(c *CableConfig) { c.Auto.Most = 61 }},
		{"bench: suppression [dB], got -1", func(c *CableConfig) { c.Suppress.By = -1 }},
		{"bench: time before suppression [s], got 61", func(c *CableConfig) { c.Suppress.After = 61 }},
		{"bench: time of the fade [s], got 0", func(c *CableConfig) { c.Suppress.Over = 0 }},
		{"bench: circuit: load resistance [ohm], got 0", func(c *CableConfig) { c.Circuit.Load = 0 }},
		{"bench: frame of loss 1, got 5299", func(c *CableConfig) { c.Losses = []Loss{{At: 5000, Frames: 300}, {At: 5299, Frames: 1}} }},
		{"bench: frames of loss 0, got 0", func(c *CableConfig) { c.Losses = []Loss{{At: 5000}} }},
		{"bench: kind of loss 0, got 3", func(c *CableConfig) { c.Losses = []Loss{{At: 5000, Frames: 1, Kind: 3}} }},
	} {
		c := fullCable()
		tt.edit(&c)
		_, err := NewCable(c)
		assert.ErrorContains(t, err, tt.want)
	}
}

// What falls silent goes on falling, whatever else is played meanwhile.
func TestASecondPlayDoesNotStopTheFade(t *testing.T) {
	fade := func(again bool) []float32 {
		cfg := inLine()
		cfg.Clips = ClipsTogether
		c := newCable(t, cfg)
		require.NoError(t, c.Play(audio.Chord{Hz: []float64{975}, Level: -6}))
		heard(t, c, 4800)
		half := int(c.ramp() / 2)
		require.NoError(t, c.Play(audio.Chord{Level: -6}))
		x := heard(t, c, half)
		if again {
			require.NoError(t, c.Play(audio.Chord{Level: -12}))
		}
		return append(x, heard(t, c, 2*half)...)
	}
	assert.Equal(t, fade(false), fade(true))
}
