package leads

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/bench"
	"breakcue/audio/circuit"
)

// across is a cable across, on clean points with their condenser.
func across() bench.CableConfig {
	c := usual()
	c.Circuit = circuit.Circuit{Wiring: circuit.Shunt, Series: 100, Input: 10e3, Condenser: 0.22e-6, Contact: 0.05}
	return c
}

// magneto adds a source coil as assumed values have it: 2 mH, 0.4 ohm, eddy losses of 15 degrees at 1 kHz.
func magneto(c bench.CableConfig) bench.CableConfig {
	c.Circuit.Coil = &circuit.Coil{R: 0.4, L: 2e-3, Eddy: 2 * math.Pi * 1000 * 2e-3 / math.Tan(15*math.Pi/180)}
	return c
}

// wellMade is what the clips are on when the steps are made as they should be.
func wellMade() [Steps]bench.Clips {
	return [Steps]bench.Clips{bench.ClipsApart, bench.ClipsTogether, bench.ClipsKnown, bench.PointsClosed, bench.PointsOpen}
}

// scenario is a check, and what must be found: all findings of severity warn and stop, and some of the others.
type scenario struct {
	name   string
	cable  bench.CableConfig
	edit   func(*bench.CableConfig)
	option func(*Options)
	clips  func(*[Steps]bench.Clips)
	grave  string  // all codes of severity warn and stop
	other  string  // codes that must be among the others
	not    string  // codes that must not be
	tone   float64 // that must be taken [Hz]; 0: any
	says   string  // what the findings must say somewhere
	wiring Wiring
}

func scenarios() []scenario {
	series, shunt := InLine, Across
	stated := func(w Wiring) func(*Options) { return func(o *Options) { o.Wiring = w } }
	return []scenario{
		{name: "good cable in line", cable: usual(), other: "gain_steady round_trip snr contrast condenser contact lead_off_told", not: "hum leak", wiring: series},
		{name: "good cable in line, stated", cable: usual(), option: stated(series), other: "gain_steady snr contrast condenser contact", wiring: series},
		{name: "good cable across", cable: across(), other: "gain_steady snr contrast condenser contact lead_off_told", wiring: shunt},
		{name: "resistor left out", cable: usual(), option: func(o *Options) { o.Resistor = 0 }, other: "condenser contact contrast", wiring: series},
		{name: "resistor left out, cable known", cable: usual(), option: func(o *Options) {
			o.Resistor, o.Cable, o.CableTolerance = 0, &circuit.Circuit{Series: 100, Load: 47}, 0.05
		}, other: "condenser contact contrast", wiring: series},
		{name: "no condenser", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Condenser = 0 },
			other: "no_condenser lead_off_not_told contrast", not: "condenser", wiring: series},
		{name: "no condenser, across", cable: across(), edit: func(c *bench.CableConfig) { c.Circuit.Condenser = 0 },
			other: "no_condenser lead_off_not_told", wiring: shunt},
		{name: "points of 3 ohm", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Contact = 3 }, grave: "contact", other: "condenser", wiring: series},
		{name: "points of 3 ohm, across", cable: across(), edit: func(c *bench.CableConfig) { c.Circuit.Contact = 3 }, grave: "contact", other: "condenser", wiring: shunt},
		{name: "magneto in line", cable: magneto(usual()), grave: "source_coil contrast", says: "will not do", wiring: series},
		{name: "magneto across", cable: magneto(across()), other: "source_coil contrast", wiring: shunt},
		{name: "battery coil on", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Coil = &circuit.Coil{R: 3, L: 8e-3} }, grave: "coil",
			other: "condenser", wiring: series},
		{name: "high load", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Load = 10e3 }, grave: "contrast", wiring: series},
		{name: "load of 3.9 kΩ", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Load = 3900 },
			option: func(o *Options) { o.Tone = 975 }, grave: "contrast", says: "poor; points closed", wiring: series, tone: 975},
		{name: "gain control", cable: usual(), edit: func(c *bench.CableConfig) {
			c.Auto = bench.AutoGain{Target: 0.1, Attack: 0.02, Release: 1, Most: 30}
		}, grave: "gain_moves", other: "connected_unknown", not: "gain_steady"},
		{name: "quick gain control", cable: usual(), edit: func(c *bench.CableConfig) {
			c.Auto = bench.AutoGain{Target: 0.1, Attack: 0.01, Release: 0.03, Most: 30}
		}, grave: "gain_moves", not: "gain_steady"},
		{name: "slow gain control, across", cable: across(), edit: func(c *bench.CableConfig) {
			c.Auto = bench.AutoGain{Target: 0.1, Attack: 0.3, Release: 4, Most: 20}
		}, grave: "gain_moves", not: "gain_steady"},
		{name: "noise suppression", cable: usual(), edit: func(c *bench.CableConfig) {
			c.Suppress = bench.Suppress{By: 20, After: 1.5, Over: 0.5}
		}, grave: "suppression", other: "connected_unknown", not: "gain_steady"},
		{name: "noise suppression, slow, across", cable: across(), edit: func(c *bench.CableConfig) {
			c.Suppress = bench.Suppress{By: 12, After: 2, Over: 1}
		}, grave: "suppression", not: "gain_steady"},
		{name: "hum 20 dB below the tone", cable: usual(), edit: func(c *bench.CableConfig) { c.Hum = bench.Hum{Hz: 50.05, Level: 0.00803, Harmonics: 1} },
			other: "hum condenser contact", wiring: series},
		{name: "hum 20 dB above the tone", cable: usual(), edit: func(c *bench.CableConfig) {
			c.Gain, c.Noise, c.Hum = -20, 1e-5, bench.Hum{Hz: 59.95, Level: 0.08, Harmonics: 7}
		},
			grave: "hum", wiring: series},
		{name: "hum on the points only", cable: usual(), edit: func(c *bench.CableConfig) {
			c.Hum = bench.Hum{Hz: 50, Level: 0.0001, Harmonics: 3}
			c.HumOn[bench.PointsClosed], c.HumOn[bench.PointsOpen] = 40, 40
		}, other: "hum", wiring: series},
		{name: "clipping", cable: usual(), edit: func(c *bench.CableConfig) { c.Gain = 28 }, grave: "clipping", other: "connected_unknown", wiring: series},
		{name: "leak of -20 dB", cable: usual(), edit: func(c *bench.CableConfig) { c.Leak = 0.032 }, other: "leak condenser contact", wiring: series},
		{name: "leak of -8 dB", cable: usual(), edit: func(c *bench.CableConfig) { c.Leak = 0.13i }, grave: "leak", other: "condenser", wiring: series},
		{name: "dropouts", cable: usual(), edit: func(c *bench.CableConfig) {
			for at := int64(20000); at < 3000000; at += 90000 {
				c.Losses = append(c.Losses, bench.Loss{At: at, Frames: 300})
			}
		}, grave: "dropouts", wiring: series},
		{name: "losses that are told", cable: usual(), edit: func(c *bench.CableConfig) {
			for at := int64(20000); at < 3000000; at += 190000 {
				c.Losses = append(c.Losses, bench.Loss{At: at, Frames: 4800, Kind: bench.Told})
			}
		}, grave: "dropouts", other: "condenser", wiring: series},
		{name: "a loss between the steps that nobody told", cable: usual(), edit: func(c *bench.CableConfig) {
			c.Losses = []bench.Loss{{At: 750000, Frames: 512, Kind: bench.Silent}}
		}, grave: "lost_between", other: "connected_unknown", not: "snr contrast lead_off_told", wiring: series},
		{name: "losses between the steps, across", cable: across(), option: stated(shunt), edit: func(c *bench.CableConfig) {
			for at := int64(48000); at < 60*48000; at += 96000 {
				c.Losses = append(c.Losses, bench.Loss{At: at, Frames: 512, Kind: bench.Silent})
			}
		}, grave: "dropouts lost_between", other: "connected_unknown", not: "snr contrast lead_off_told", wiring: shunt},
		{name: "battery coil on, across", cable: across(), edit: func(c *bench.CableConfig) { c.Circuit.Coil = &circuit.Coil{R: 2, L: 8e-3} }, grave: "coil",
			other: "condenser contact", wiring: shunt},
		{name: "small battery coil on, across", cable: across(), option: func(o *Options) { o.Resistor = 0 }, edit: func(c *bench.CableConfig) {
			c.Circuit.Coil = &circuit.Coil{R: 1, L: 5e-3}
		}, grave: "coil", other: "condenser contact", wiring: shunt},
		{name: "a tone that is asked for, in line", cable: usual(), option: func(o *Options) { o.Tone = 1000 }, other: "gain_steady round_trip snr contrast condenser contact",
			not: "hum leak", wiring: series, tone: 1000},
		{name: "a tone that is asked for, across", cable: across(), option: func(o *Options) { o.Tone = 1600 }, other: "gain_steady snr contrast condenser contact",
			not: "hum", wiring: shunt, tone: 1600},
		{name: "a tone beside the comb", cable: usual(), option: func(o *Options) { o.Tone = 832.37 }, other: "gain_steady round_trip snr contrast condenser contact",
			not: "hum", wiring: series, tone: 832.37},
		{name: "a tone at a harmonic of the mains, beside hum", cable: usual(), option: func(o *Options) { o.Tone = 300 }, edit: func(c *bench.CableConfig) {
			c.Hum = bench.Hum{Hz: 50, Level: 0.004, Harmonics: 3}
		}, other: "gain_steady hum snr contrast condenser contact", wiring: series, tone: 300},
		{name: "lost frames with a tone beside the comb", cable: across(), option: func(o *Options) { o.Tone = 832 }, edit: func(c *bench.CableConfig) {
			c.Losses = []bench.Loss{{At: 100000, Frames: 2400, Kind: bench.Silent}}
		}, grave: "dropouts lost_between", wiring: shunt},
		{name: "plug out", cable: usual(), clips: func(c *[Steps]bench.Clips) {
			*c = [Steps]bench.Clips{bench.PlugOut, bench.PlugOut, bench.PlugOut, bench.PlugOut, bench.PlugOut}
		}, grave: "no_signal"},
		{name: "output heard by the input", cable: usual(), edit: func(c *bench.CableConfig) { c.Leak = 0.5 }, clips: func(c *[Steps]bench.Clips) {
			*c = [Steps]bench.Clips{bench.PlugOut, bench.PlugOut, bench.PlugOut, bench.PlugOut, bench.PlugOut}
		}, grave: "alike"},
		{name: "apart and together swapped", cable: usual(), option: stated(series), clips: func(c *[Steps]bench.Clips) { c[0], c[1] = c[1], c[0] },
			grave: "swapped", other: "condenser contact", wiring: series},
		{name: "apart and together swapped, across", cable: across(), option: stated(shunt), clips: func(c *[Steps]bench.Clips) { c[0], c[1] = c[1], c[0] },
			grave: "swapped", other: "condenser contact", wiring: shunt},
		{name: "apart and together swapped, no wiring stated", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[0], c[1] = c[1], c[0] }, grave: "swapped"},
		{name: "points swapped", cable: usual(), option: stated(series), clips: func(c *[Steps]bench.Clips) { c[3], c[4] = c[4], c[3] },
			grave: "points_swapped", other: "condenser contact", wiring: series},
		{name: "wiring other than stated", cable: across(), option: stated(series), grave: "wiring_other", other: "condenser contact", wiring: shunt},
		{name: "wiring other than stated, the other way", cable: usual(), option: stated(shunt), grave: "wiring_other", other: "condenser", wiring: series},
		{name: "wiring other than stated, no resistor", cable: usual(), option: func(o *Options) { o.Wiring, o.Resistor = shunt, 0 }, grave: "wiring_other",
			other: "connected_unknown", not: "condenser contact", wiring: series},
		{name: "wiring other than stated, resistors of the other", cable: across(), option: func(o *Options) {
			o.Wiring, o.Resistor, o.Cable = series, 0, &circuit.Circuit{Series: 100, Load: 47}
		}, grave: "wiring_other", other: "connected_unknown", not: "condenser contact", wiring: shunt},
		{name: "points never opened", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[4] = bench.PointsClosed }, grave: "never_opened", wiring: series},
		{name: "points never opened, across", cable: across(), clips: func(c *[Steps]bench.Clips) { c[4] = bench.PointsClosed }, grave: "never_opened", wiring: shunt},
		{name: "both clips on one side", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[3], c[4] = bench.ClipsTogether, bench.ClipsTogether },
			grave: "never_opened", wiring: series},
		{name: "points never closed", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[3] = bench.PointsOpen }, grave: "points_alike", wiring: series,
			says: "most likely the points did not close"},
		{name: "points never closed, across", cable: across(), clips: func(c *[Steps]bench.Clips) { c[3] = bench.PointsOpen }, grave: "points_alike",
			wiring: shunt, says: "most likely the points did not close"},
		{name: "clips touched in the first step", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[0] = bench.ClipsTogether }, grave: "alike",
			says: "make the step with the clips apart again"},
		{name: "clips touched in the first step, across", cable: across(), clips: func(c *[Steps]bench.Clips) { c[0] = bench.ClipsTogether }, grave: "alike",
			says: "make the step with the clips apart again"},
		{name: "clips did not touch in the second step", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[1] = bench.ClipsApart }, grave: "alike",
			says: "make the step with the clips together again"},
		{name: "clips did not touch in the second step, across", cable: across(), clips: func(c *[Steps]bench.Clips) { c[1] = bench.ClipsApart }, grave: "alike",
			says: "make the step with the clips together again"},
		{name: "lead off", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[3], c[4] = bench.LeadOff, bench.LeadOff }, grave: "never_closed", wiring: series},
		{name: "lead off, across", cable: across(), clips: func(c *[Steps]bench.Clips) { c[3], c[4] = bench.LeadOff, bench.LeadOff }, grave: "never_closed", wiring: shunt},
		{name: "clips apart in the step of the resistor", cable: usual(), clips: func(c *[Steps]bench.Clips) { c[2] = bench.ClipsApart },
			grave: "resistor_unlike", wiring: series},
		{name: "noise", cable: usual(), edit: func(c *bench.CableConfig) { c.Noise = 0.007 }, grave: "snr contrast", wiring: series},
		{name: "much noise", cable: usual(), edit: func(c *bench.CableConfig) { c.Noise = 0.03 }, grave: "snr contrast", not: "resistor_unlike", wiring: series, says: "bring the SNR up"},
		{name: "offset", cable: usual(), edit: func(c *bench.CableConfig) { c.Offset = 0.05 }, other: "offset condenser contact", wiring: series},
		{name: "dirt across the points", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Leak = 3000 }, grave: "points_leak", other: "condenser", wiring: series},
		{name: "condenser of 1 uF", cable: across(), edit: func(c *bench.CableConfig) { c.Circuit.Condenser = 1e-6 }, grave: "condenser_large", wiring: shunt},
		{name: "condenser of 0.04 uF", cable: usual(), edit: func(c *bench.CableConfig) { c.Circuit.Condenser = 0.04e-6 }, grave: "condenser_small", wiring: series},
		{name: "two channels, the tone in the second", cable: usual(), edit: func(c *bench.CableConfig) { c.Channels, c.Channel = 2, 1 },
			other: "condenser contact", wiring: series},
		{name: "44.1 kHz", cable: usual(), edit: func(c *bench.CableConfig) { c.SampleRate = 44100 }, other: "condenser contact", wiring: series},
		{name: "96 kHz", cable: usual(), edit: func(c *bench.CableConfig) { c.SampleRate = 96000 }, other: "condenser contact", wiring: series},
		{name: "8 kHz", cable: usual(), edit: func(c *bench.CableConfig) { c.SampleRate, c.Delay = 8000, 200 }, other: "condenser contact", wiring: series},
		{name: "a slow sound card", cable: usual(), edit: func(c *bench.CableConfig) { c.Delay = 16000 }, other: "condenser contact round_trip", wiring: series},
		{name: "upside down, with a low output", cable: usual(), edit: func(c *bench.CableConfig) { c.Gain = -20; c.Noise = 1e-5 }, other: "condenser contact", wiring: series},
	}
}

func TestScenarios(t *testing.T) {
	for _, tt := range scenarios() {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			cfg := tt.cable
			if tt.edit != nil {
				tt.edit(&cfg)
			}
			o := Options{Level: -12, Resistor: 100, Tolerance: 0.01}
			if tt.option != nil {
				tt.option(&o)
			}
			clips := wellMade()
			if tt.clips != nil {
				tt.clips(&clips)
			}
			r := newRig(t, cfg, o)
			for s, on := range clips {
				if Step(s) != Known || o.Resistor > 0 {
					r.make(Step(s), on)
				}
			}
			got := r.check.Result()
			var grave, others, told []string
			for _, f := range got.Findings {
				told = append(told, f.Code+": "+f.Text+"; "+f.Do)
				if f.Severity == Warn || f.Severity == Stop {
					grave = append(grave, f.Code)
					assert.NotEmpty(t, f.Do, f.Code)
				} else {
					others = append(others, f.Code)
				}
			}
			want := strings.Fields(tt.grave)
			slices.Sort(want)
			slices.Sort(grave)
			assert.Equal(t, strings.Join(want, " "), strings.Join(grave, " "), strings.Join(told, "\n"))
			assert.Subset(t, others, strings.Fields(tt.other), strings.Join(told, "\n"))
			for _, code := range strings.Fields(tt.not) {
				assert.NotContains(t, others, code)
			}
			assert.Contains(t, strings.Join(told, "\n"), tt.says)
			if tt.tone > 0 {
				assert.Equal(t, tt.tone, got.Tone)
			}
			if tt.wiring != Unknown {
				assert.Equal(t, tt.wiring, got.Wiring)
			}
			stop := slices.ContainsFunc(got.Findings, func(f Finding) bool { return f.Severity == Stop })
			require.Equal(t, !stop, got.Profile != nil, "a profile is kept where nothing forbids it")
			if !stop {
				require.NoError(t, got.Profile.Validate())
				assert.Equal(t, got.Tone, got.Profile.Tone)
			}
		})
	}
}

// In line the engine carries the tone: earthed to the computer's case it would short the load, so nobody is told to earth it there.
func TestWhatToDoAboutHum(t *testing.T) {
	for _, tt := range []struct {
		cable bench.CableConfig
		want  string
	}{{usual(), "neither a screen of the cable nor the computer's case touches the engine"}, {across(), "earth the engine to the computer's case only once"}} {
		tt.cable.Gain, tt.cable.Noise, tt.cable.Hum = -20, 1e-5, bench.Hum{Hz: 50, Level: 0.2, Harmonics: 7}
		r := newRig(t, tt.cable, Options{Level: -12})
		for s, on := range wellMade() {
			if Step(s) != Known {
				r.make(Step(s), on)
			}
		}
		hum, ok := r.check.Result().Find("hum")
		require.True(t, ok)
		assert.Equal(t, Warn, hum.Severity)
		assert.Contains(t, hum.Do, tt.want)
	}
}
