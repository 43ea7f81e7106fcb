package leads

import (
	"encoding/json"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/detect"
)

// The profile has the levels at the tone, played as a single one, with the round trip taken off.
func TestProfile(t *testing.T) {
	cfg := usual()
	r := newRig(t, cfg, Options{Level: -12, Resistor: 100, Tolerance: 0.01}).all(true)
	p := r.Profile
	require.NotNil(t, p)
	want, err := cfg.Circuit.At(p.Tone)
	require.NoError(t, err)
	for _, x := range []struct{ want, got complex128 }{{want.Closed, p.Closed.Value()}, {want.Open, p.Open.Value()}} {
		x.want *= complex(audio.Amplitude(-12), 0)
		// A delay that is a few frames off turns both alike.
		assert.InDelta(t, cmplx.Abs(x.want), cmplx.Abs(x.got), 6*p.U)
	}
	assert.InDelta(t, 0, cmplx.Phase(p.Open.Value()/p.Closed.Value()/(want.Open/want.Closed)), 0.01, "noise")
	assert.InDelta(t, 0, cmplx.Phase(p.Closed.Value()), 0.4, "three frames at the tone")
	text, err := json.Marshal(p)
	require.NoError(t, err)
	var again Profile
	require.NoError(t, json.Unmarshal(text, &again))
	assert.Equal(t, *p, again)
	assert.Contains(t, string(text), `"schema":"breakcue.leads/1"`)
	assert.Contains(t, string(text), `"wiring":"series"`)

	d := p.Detect()
	require.Len(t, d.Off, 1, "a lead that is off; in line it sounds as a plug that is out")
	assert.Equal(t, detect.CauseLeadOff, d.Off[0].Cause)
	c := detect.Config{SampleRate: 48000, Channels: 1, Wiring: p.Wiring.Detect(), Profile: d}
	require.NoError(t, c.Validate())

	p = newRig(t, across(), Options{Level: -12}).all(false).Profile
	require.NotNil(t, p)
	assert.Equal(t, detect.Shunt, p.Wiring.Detect())
	assert.NoError(t, detect.Config{SampleRate: 48000, Channels: 1, Wiring: detect.Shunt, Profile: p.Detect()}.Validate())
}

// Silence is a plug that is out only where neither state, nor clips apart, is as good as silent.
func TestWhatIsOff(t *testing.T) {
	apart := Complex{0.05}
	for _, tt := range []struct {
		p    Profile
		want []detect.OffLevel
	}{
		{Profile{Closed: Complex{0.3}, Open: Complex{0.1}, Apart: &apart, LeadOff: true},
			[]detect.OffLevel{{Level: 0.05, Cause: detect.CauseLeadOff}, {Cause: detect.CausePlugOut}}},
		{Profile{Closed: Complex{0.3}, Open: Complex{0.1}, Apart: &apart}, []detect.OffLevel{{Cause: detect.CausePlugOut}}},
		{Profile{Closed: Complex{0.001}, Open: Complex{0.3}, Apart: &apart, LeadOff: true}, []detect.OffLevel{{Level: 0.05, Cause: detect.CauseLeadOff}}},
		{Profile{Closed: Complex{0.3}, Open: Complex{0.001}, Apart: &apart}, nil},
		{Profile{Closed: Complex{0.3}, Open: Complex{0.1}, LeadOff: true}, nil},
	} {
		assert.Equal(t, tt.want, tt.p.Detect().Off, "%+v", tt.p)
	}
}

func TestProfileValidate(t *testing.T) {
	good := Profile{Schema: ProfileSchema, SampleRate: 48000, Tone: 925, Output: -12, Wiring: InLine, Closed: Complex{0.1}, Noise: 1e-4}
	require.NoError(t, good.Validate())
	for _, tt := range []struct {
		want string
		edit func(*Profile)
	}{
		{`leads: schema, got "x", want breakcue.leads/1`, func(p *Profile) { p.Schema = "x" }},
		{"leads: sample rate, got 0", func(p *Profile) { p.SampleRate = 0 }},
		{"leads: tone [Hz], got NaN", func(p *Profile) { p.Tone = math.NaN() }},
		{"leads: level of the output [dBFS], got 1", func(p *Profile) { p.Output = 1 }},
		{"leads: wiring, got unknown, want series or shunt", func(p *Profile) { p.Wiring = Unknown }},
		{"leads: levels, got", func(p *Profile) { p.Apart = &Complex{math.NaN()} }},
		{"leads: levels, got [0.1 0], want two that differ", func(p *Profile) { p.Open = p.Closed }},
		{"leads: uncertainty, got -1", func(p *Profile) { p.U = -1 }},
		{"leads: noise [full scale], got 2", func(p *Profile) { p.Noise = 2 }},
		{"leads: hum [Hz], got 30", func(p *Profile) { p.Hum.Hz = 30 }},
		{"leads: hum level [full scale], got NaN", func(p *Profile) { p.Hum.Level = math.NaN() }},
		{"leads: offset [full scale], got NaN", func(p *Profile) { p.Offset = math.NaN() }},
	} {
		p := good
		tt.edit(&p)
		assert.ErrorContains(t, p.Validate(), tt.want)
	}
	var w Wiring
	assert.EqualError(t, w.UnmarshalText([]byte("both")), `leads: wiring, got "both", want series, shunt or unknown`)
	require.NoError(t, w.UnmarshalText([]byte("shunt")))
	assert.Equal(t, Across, w)
}

func TestDrift(t *testing.T) {
	p := Profile{Closed: Complex{0.1}, Open: Complex{0.02, 0.01}, Noise: 1e-4, Hum: Hum{Hz: 50, Level: 0.005}}
	apart := math.Hypot(0.08, 0.01)
	hum := func(x float64) *float64 { return &x }
	same := detect.Levels{Closed: 0.1, Open: 0.0224, Distance: apart, Noise: 1e-4, Edges: 10}
	for _, tt := range []struct {
		name string
		edit func(*Now)
		want string
	}{
		{"nothing", func(*Now) {}, "drift_none"},
		{"a little of all", func(n *Now) { n.Levels.Closed, n.Levels.Noise, n.Hum = 0.11, 1.9e-4, hum(0.009) }, "drift_none"},
		{"few edges", func(n *Now) { n.Levels.Edges = 1 }, "drift_unknown"},
		{"closed down", func(n *Now) { n.Levels.Closed = 0.08 }, "drift_closed"},
		{"open up", func(n *Now) { n.Levels.Open = 0.04 }, "drift_open"},
		{"open up by a trifle", func(n *Now) { n.Levels.Open = 0.028 }, "drift_none"},
		{"nearer", func(n *Now) { n.Levels.Distance = 0.05 }, "drift_distance"},
		{"louder noise", func(n *Now) { n.Levels.Noise = 3e-4 }, "drift_noise"},
		{"less noise", func(n *Now) { n.Levels.Noise = 3e-5 }, "drift_noise"},
		{"louder hum", func(n *Now) { n.Hum = hum(0.02) }, "drift_hum"},
		{"less hum", func(n *Now) { n.Hum = hum(0) }, "drift_none"},
		{"all", func(n *Now) {
			n.Levels = detect.Levels{Closed: 0.02, Open: 0.001, Distance: 0.02, Noise: 0.01, Edges: 2}
		},
			"drift_closed drift_open drift_distance drift_noise"},
	} {
		now := Now{Levels: same}
		tt.edit(&now)
		var codes []string
		for _, f := range Drift(p, now) {
			codes = append(codes, f.Code)
			assert.NotEmpty(t, f.Text)
		}
		assert.Equal(t, tt.want, strings.Join(codes, " "), tt.name)
	}
}

func TestFigure(t *testing.T) {
	for _, tt := range []struct {
		x    float64
		want string
	}{{0, "0"}, {3.14, "3.1"}, {0.0227, "0.023"}, {99.6, "100"}, {147, "150"}, {9.96, "10"}, {-0.5, "-0.50"}, {math.Inf(1), "+Inf"}} {
		assert.Equal(t, tt.want, figure(tt.x))
	}
	assert.Equal(t, bench.Clips(Open), bench.PointsOpen, "the steps are in the order of the clips")
}
