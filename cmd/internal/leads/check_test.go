package leads

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
)

func TestOptionsAreLookedAt(t *testing.T) {
	good := Options{Format: audio.Format{SampleRate: 48000, Channels: 2}, Level: -12, Resistor: 100, Tolerance: 0.01}
	_, err := New(good)
	require.NoError(t, err)
	for _, tt := range []struct {
		want string
		edit func(*Options)
	}{
		{"leads: sample rate, got 48010, want a multiple of 25 in 8000..192000 frames/s", func(o *Options) { o.Format.SampleRate = 48010 }},
		{"leads: channels, got 0", func(o *Options) { o.Format.Channels = 0 }},
		{"leads: channel, got 3, want 1..2, or 0", func(o *Options) { o.Channel = 3 }},
		{"leads: wiring, got 3", func(o *Options) { o.Wiring = 3 }},
		{"leads: level [dBFS], got NaN", func(o *Options) { o.Level = math.NaN() }},
		{"leads: resistor [ohm], got -1", func(o *Options) { o.Resistor = -1 }},
		{"leads: tolerance of the resistor, got 0.3", func(o *Options) { o.Tolerance = 0.3 }},
		{"leads: tolerance of the cable, got -1", func(o *Options) { o.CableTolerance = -1 }},
		{"leads: tone [Hz], got 24000", func(o *Options) { o.Tone = 24000 }},
		{"leads: cable: circuit: load resistance [ohm], got 0", func(o *Options) { o.Cable = &circuit.Circuit{} }},
	} {
		o := good
		tt.edit(&o)
		_, err := New(o)
		assert.ErrorContains(t, err, tt.want)
	}
}

func TestStepsAreLookedAt(t *testing.T) {
	c, err := New(Options{Format: audio.Format{SampleRate: 48000, Channels: 1}, Level: -12})
	require.NoError(t, err)
	assert.EqualError(t, c.Begin(Steps), "leads: step, got 5, want 0..4")
	assert.EqualError(t, c.Begin(Known), "leads: step resistor, want the value of the resistor in the options")
	_, ok := c.Measure(Apart)
	assert.False(t, ok)
	_, ok = c.Measure(9)
	assert.False(t, ok)
	assert.Equal(t, Done, c.Progress().Phase)
	assert.Empty(t, c.Want().Hz)
	assert.Empty(t, c.Result().Measures)
}

// What is told of the sound that went before is not taken for the one that is wanted now.
func TestPlayingOfTheSoundBefore(t *testing.T) {
	c, err := New(Options{Format: audio.Format{SampleRate: 8000, Channels: 1}, Level: -12})
	require.NoError(t, err)
	require.NoError(t, c.Begin(Apart))
	assert.True(t, c.Progress().Waiting)
	c.Playing(40)
	assert.False(t, c.Progress().Waiting)
	for len(c.Want().Hz) == 0 {
		c.Process(make([]float32, 80))
	}
	assert.True(t, c.Progress().Waiting, "the tones were not played yet")
	c.Playing(40)
	assert.True(t, c.Progress().Waiting)
	assert.Equal(t, Settling, c.Progress().Phase)
	c.Playing(9000)
	assert.False(t, c.Progress().Waiting)
}

// The tones of the measurement: about 24, odd multiples of 25 Hz, 15 Hz or more off the harmonics of 60 Hz and so 25 off those of 50.
func TestCombTones(t *testing.T) {
	for _, rate := range []int{8000, 11025, 44100, 48000, 192000} {
		hz := combTones(rate)
		assert.GreaterOrEqual(t, len(hz), 20)
		assert.IsIncreasing(t, hz)
		assert.InDelta(t, 300, hz[0], 60)
		assert.LessOrEqual(t, hz[len(hz)-1], math.Min(8000, 0.42*float64(rate)))
		for _, f := range hz {
			assert.Equal(t, 25.0, math.Mod(f, 50))
			assert.GreaterOrEqual(t, offMains(f, 60), 15.0)
		}
	}
}

// tape is what one step sounds like, with the frames from which each sound stands.
func tape(t require.TestingT) (sound []float32, o Options, from map[int64]int64) {
	cfg := usual()
	cfg.Clips, cfg.SampleRate, cfg.Delay = bench.ClipsTogether, 8000, 300
	r := newRig(t, cfg, Options{Level: -12})
	r.block = 64
	from = map[int64]int64{}
	require.NoError(t, r.check.Begin(Together))
	playing := -1
	for r.check.Progress().Phase != Done {
		if want := r.check.Want(); len(want.Hz) != playing {
			require.NoError(t, r.cable.Play(want))
			playing = len(want.Hz)
			from[r.cable.Frame()], _ = r.cable.Playing()
		}
		at, _ := r.cable.Playing()
		r.check.Playing(at)
		x := make([]float32, r.block)
		_, err := r.cable.Read(x)
		require.NoError(t, err)
		r.check.Process(x)
		sound = append(sound, x...)
	}
	return sound, r.check.opt, from
}

// However the sound is cut into blocks: the same measures, to the last bit.
func TestBlocksDoNotMatter(t *testing.T) {
	sound, o, from := tape(t)
	measure := func(t require.TestingT, next func() int) []byte {
		c, err := New(o)
		require.NoError(t, err)
		require.NoError(t, c.Begin(Together))
		for at := 0; at < len(sound); {
			if f, ok := from[int64(at)]; ok {
				c.Playing(f)
			}
			n := min(next(), len(sound)-at)
			for change := range from { // it is told where it begins
				if change > int64(at) {
					n = min(n, int(change)-at)
				}
			}
			c.Process(sound[at : at+n])
			at += n
		}
		m, ok := c.Measure(Together)
		require.True(t, ok)
		text, err := json.Marshal(m)
		require.NoError(t, err)
		return text
	}
	want := measure(t, func() int { return 64 })
	rapid.Check(t, func(r *rapid.T) {
		size := rapid.IntRange(1, 5000)
		require.Equal(r, string(want), string(measure(r, func() int { return size.Draw(r, "frames") })))
	})
}

// Frames that the card loses without a word, and those that it tells of, are made up for: the levels come out as without them.
func TestLossesAreMadeUpFor(t *testing.T) {
	cfg := usual()
	o := Options{Level: -12}
	r := newRig(t, cfg, o)
	r.make(Apart, bench.ClipsApart)
	begin := r.cable.Frame()
	want := r.make(Together, bench.ClipsTogether)
	for _, kind := range []bench.LossKind{bench.Silent, bench.Told, bench.Zeros} {
		cfg.Losses = []bench.Loss{{At: begin + 96000, Frames: 192, Kind: kind}} // 2 s from the beginning of the step: in the comb
		r := newRig(t, cfg, o)
		r.make(Apart, bench.ClipsApart)
		got := r.make(Together, bench.ClipsTogether)
		for i := range want.Tones {
			d := got.Tones[i].Level.Value() - want.Tones[i].Level.Value()
			assert.Less(t, math.Sqrt(abs2(d)), 6*want.Tones[i].U, "%v Hz, kind %d: noise", want.Tones[i].Hz, kind)
		}
		assert.Equal(t, map[bench.LossKind]int{bench.Silent: 1}[kind], got.Jumps)
		assert.Equal(t, map[bench.LossKind]int64{bench.Told: 192}[kind], got.Lost)
		assert.Equal(t, map[bench.LossKind]int64{bench.Zeros: 192}[kind], got.Zeros)
		closed := r.make(Closed, bench.PointsClosed)
		assert.InDelta(t, 0, math.Sqrt(abs2(closed.Tones[7].Level.Value()-got.Tones[7].Level.Value())), 2e-3, "in step: points of 0.05 ohm in 147")
	}
}

// What a step measures of noise, hum, offset, round trip and clipping is what was put in.
func TestMeasuresAreTrue(t *testing.T) {
	cfg := usual()
	cfg.Noise, cfg.Offset, cfg.Hum, cfg.Delay = 0.002, 0.01, bench.Hum{Hz: 49.93, Level: 0.02, Harmonics: 3}, 4321
	m := newRig(t, cfg, Options{Level: -12}).make(Together, bench.ClipsTogether)
	assert.InEpsilon(t, 0.002, m.Noise, 0.05, "some hundred degrees of freedom")
	assert.InDelta(t, 0.01, m.Offset, 0.0005, "noise, and hum over 0.6 s")
	assert.InDelta(t, 49.93, m.Hum.Hz, 0.05)
	assert.InEpsilon(t, 0.02*math.Sqrt(1+1./4+1./9), m.Hum.Level, 0.05)
	require.NotNil(t, m.Trip)
	assert.InDelta(t, 4321, m.Trip.Value, 2*m.Trip.U)
	assert.Zero(t, m.Clipped)
	for _, tone := range m.Tones {
		assert.InDelta(t, 47./147, math.Sqrt(abs2(tone.Level.Value())), 5*tone.U, "%v Hz", tone.Hz)
	}

	cfg = usual()
	cfg.Gain = 27.9 // the tone is then 6 dB above full scale
	m = newRig(t, cfg, Options{Level: -12}).make(Together, bench.ClipsTogether)
	assert.InDelta(t, 6+headroom, m.Over, 0.5)
	// A sine of twice the height that is passed: 2/pi*acos(1/2) of it is cut off.
	assert.InDelta(t, 2./3, m.Clipped, 0.05)
}

// Chance does not make a gain move, nor anything else go wrong: random good cables, cards and noise. A coil on the points is found, as
// what it is, and alone.
func TestRandomCables(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		cfg := usual()
		cfg.SampleRate = rapid.SampledFrom([]int{16000, 22050, 24000}).Draw(r, "rate")
		cfg.Seed = rapid.Uint64().Draw(r, "seed")
		cfg.Delay = rapid.IntRange(0, cfg.SampleRate/3).Draw(r, "delay")
		cfg.Noise = 1e-5 * math.Pow(10, rapid.Float64Range(0, 1.3).Draw(r, "noise"))
		cfg.Gain = rapid.Float64Range(-6, 10).Draw(r, "gain")
		cfg.Offset = rapid.Float64Range(-0.01, 0.01).Draw(r, "offset")
		w := rapid.SampledFrom([]circuit.Wiring{circuit.Series, circuit.Shunt}).Draw(r, "wiring")
		cfg.Circuit = circuit.Circuit{Wiring: w, Source: rapid.Float64Range(0, 20).Draw(r, "source"), Series: 100, Load: 47,
			Contact: rapid.Float64Range(0, 0.4).Draw(r, "contact"), Condenser: rapid.Float64Range(0.12e-6, 0.35e-6).Draw(r, "condenser")}
		if w == circuit.Shunt {
			cfg.Circuit.Load = 10e3
		}
		coil := rapid.IntRange(0, 2).Draw(r, "coil") == 0
		if coil { // a source coil, or a primary
			l, ohm := rapid.Float64Range(0.8e-3, 4e-3).Draw(r, "L"), rapid.Float64Range(0.3, 0.6).Draw(r, "R")
			if rapid.Bool().Draw(r, "primary") {
				l, ohm = rapid.Float64Range(4e-3, 10e-3).Draw(r, "L"), rapid.Float64Range(1.5, 4).Draw(r, "R")
			}
			loss := math.Tan(rapid.Float64Range(5, 20).Draw(r, "loss at 1 kHz") * math.Pi / 180)
			cfg.Circuit.Coil = &circuit.Coil{R: ohm, L: l, Eddy: 2 * math.Pi * 1000 * l / loss}
		}
		resistor := rapid.Bool().Draw(r, "resistor")
		got := newRig(r, cfg, Options{Level: -12, Resistor: 100, Tolerance: 0.01}).all(resistor)
		stop := false // a coil in line
		for _, f := range got.Findings {
			stop = stop || f.Severity == Stop
			if !coil || f.Code != "coil" && f.Code != "source_coil" && f.Code != "contrast" {
				require.NotContains(r, []Severity{Warn, Stop}, f.Severity, "%s: %s", f.Code, f.Text)
			}
		}
		require.Equal(r, !stop, got.Profile != nil)
		require.NotNil(r, got.Connected)
		require.Equal(r, coil, got.Connected.Coil != nil)
		switch {
		case coil && resistor:
			require.Equal(r, cfg.Circuit.Coil.R < 0.8, got.Connected.Coil.Source)
			require.InEpsilon(r, cfg.Circuit.Coil.L, got.Connected.Coil.L.Value, 0.25, "eddy losses")
		case coil: // nobody knows what the output has
			l := got.Connected.Coil.L
			require.InDelta(r, cfg.Circuit.Coil.L, l.Value, 1.8*l.U+0.25*cfg.Circuit.Coil.L, "the end of the range, and eddy losses")
		}
		require.Equal(r, map[circuit.Wiring]Wiring{circuit.Series: InLine, circuit.Shunt: Across}[w], got.Wiring)
	})
}

// Whatever comes, nothing panics, every step ends and what is said can be written.
func TestAnySound(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c, err := New(Options{Format: audio.Format{SampleRate: 8000, Channels: 2}, Level: -12, Resistor: 100})
		require.NoError(r, err)
		kind := rapid.IntRange(0, 3).Draw(r, "kind")
		value := rapid.Float32().Draw(r, "value")
		frame := int64(0)
		for _, s := range []Step{Apart, Together, Known, Closed, Open} {
			require.NoError(r, c.Begin(s))
			for c.Progress().Phase != Done && frame < 8000*80 {
				x := make([]float32, 2*rapid.IntRange(500, 4000).Draw(r, "frames"))
				for i := range x {
					switch kind {
					case 0:
						x[i] = value
					case 1:
						x[i] = float32(math.Inf(i%2*2 - 1))
					case 2:
						x[i] = float32(math.NaN())
					case 3:
						x[i] = float32(i*i%97) / 97
					}
				}
				c.Playing(frame + 1)
				c.Process(x)
				frame += int64(len(x) / 2)
			}
			require.Equal(r, Done, c.Progress().Phase)
			_, err := json.Marshal(c.Result())
			require.NoError(r, err)
		}
	})
}

// Without the steps on the points it cannot be told which of two mistakes was made; without anything loud, nothing of the gain.
func TestWhatCannotBeToldIsSaid(t *testing.T) {
	r := newRig(t, across(), Options{Level: -12, Wiring: InLine})
	r.make(Apart, bench.ClipsApart)
	got := r.check.Result()
	assert.Nil(t, got.Profile)
	r.make(Together, bench.ClipsTogether)
	f, ok := r.check.Result().Find("swapped_or_wiring")
	assert.True(t, ok)
	assert.Equal(t, Warn, f.Severity)

	r = newRig(t, usual(), Options{Level: -12})
	r.make(Apart, bench.ClipsApart)
	_, ok = r.check.Result().Find("gain_unknown")
	assert.True(t, ok)
	_, ok = r.check.Result().Find("no_signal")
	assert.False(t, ok, "clips apart are silent in line")
}
