package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/audio/live"
	"breakcue/cmd/internal/leads"
	"breakcue/detect"
)

// leadsBenchFlags say what is on the built-in bench.
type leadsBenchFlags struct {
	on     bool
	parts  circuitFlags // source, input, series, load, condenser, contact and coils
	faults []string
}

// cableFlags describe the cable, benchOnly what else only the bench has.
var (
	cableFlags = []string{"source", "input", "series", "load"}
	benchOnly  = []string{"condenser", "contact", "coil", "coil-end", "source-coil", "eddy-loss", "fault"}
)

func (b *leadsBenchFlags) add(fs *pflag.FlagSet) {
	p := &b.parts
	p.given = fs.Changed
	fs.BoolVar(&b.on, "bench", false, "to practise: the built-in bench in place of engine, cable and sound card; it moves the clips by itself")
	fs.StringVar(&p.source, "source", "100ohm", "of the output that gives the tone, where it is known, and of the bench")
	fs.StringVar(&p.input, "input", "10kohm", "of the input, with --series or --load, and of the bench")
	fs.StringVar(&p.series, "series", "100ohm", "resistor of the cable between the output and the points, where it is known, and of the bench")
	fs.StringVar(&p.load, "load", "", "resistor of the cable between tip and screen of the input, where it is known, and of the bench\n"+
		"(default: 47ohm in line, none across)")
	fs.StringVar(&p.condenser, "condenser", "0.22uF", "of the bench: across the points, or none")
	fs.StringVar(&p.contact, "contact", "0.2ohm", "of the bench: of the closed points")
	fs.StringVar(&p.coil, "coil", "", "of the bench: primary of a battery coil still on the points, as 8mH/2ohm")
	fs.StringVar(&p.coilEnd, "coil-end", "battery", "of the bench: where its far end goes: battery, nothing, or to earth through a resistance")
	fs.StringVar(&p.sourceCoil, "source-coil", "", "of the bench: source coil of a magneto that stays on the points, as 2mH/0.5ohm")
	fs.StringVar(&p.eddy, "eddy-loss", "15deg", "of the bench: loss of the source coil, its angle at 1 kHz or a resistance beside it")
	fs.StringSliceVar(&b.faults, "fault", nil, "of the bench, to find out what it is like: "+strings.Join(faultNames(), ", "))
}

// check refuses what does not go together.
func (b *leadsBenchFlags) check() error {
	if !b.on {
		for _, name := range benchOnly {
			if b.parts.given(name) {
				return fail(ExitUsage, "add --bench, or leave it out", "--%s is of the bench: the cable itself shows what is connected", name)
			}
		}
		return nil
	}
	for _, name := range []string{"device", "frames"} {
		if b.parts.given(name) {
			return fail(ExitUsage, "leave out --"+name, "--%s is given together with --bench, which is in place of a sound card", name)
		}
	}
	for _, name := range b.faults {
		if !slices.Contains(faultNames(), name) {
			return fail(ExitUsage, "leave it out, or use "+strings.Join(faultNames(), ", "), "--fault, got %q: the bench has no such fault", name)
		}
	}
	return nil
}

// circuit reads the cable, and what the bench has at the points.
func (b *leadsBenchFlags) circuit(wired detect.Wiring) (circuit.Circuit, error) {
	p := &b.parts
	c := circuit.Circuit{Lead: 0.2, LeadC: 0.3e-9}
	if wired == detect.Shunt {
		c.Wiring = circuit.Shunt
	} else if !p.given("load") {
		c.Load = 47
	}
	for _, v := range []struct {
		flag, text string
		kind       electric
		to         *float64
	}{
		{"--source", p.source, resistance, &c.Source}, {"--input", p.input, load, &c.Input}, {"--series", p.series, resistance, &c.Series},
		{"--condenser", p.condenser, condenser, &c.Condenser}, {"--contact", p.contact, resistance, &c.Contact}, {"--load", p.load, load, &c.Load},
	} {
		if v.text == "" && !p.given(strings.TrimPrefix(v.flag, "--")) {
			continue
		}
		var err error
		if *v.to, err = v.kind.parse(v.flag, v.text); err != nil {
			return c, err
		}
	}
	if kind, err := p.coils(&c); err != nil {
		return c, err
	} else if kind == anySourceCoil {
		return c, fail(ExitUsage, "give one, as 2mH/0.5ohm", "--source-coil, got %q: the bench needs to know it", p.sourceCoil)
	}
	if err := c.Validate(); err != nil {
		return c, fail(ExitUsage, "correct the resistors: --series 100ohm --load 47ohm are usual", "%w", err)
	}
	return c, nil
}

// cableKnown tells that somebody has said what the cable is made of.
func (b *leadsBenchFlags) cableKnown() bool { return slices.ContainsFunc(cableFlags, b.parts.given) }

// benchFault is something that is wrong at the bench.
type benchFault struct {
	name string
	set  func(*bench.CableConfig)
	held map[leads.Step]bench.Clips // what the clips are on in place of what the step wants
}

// benchFaults are all that can be tried.
func benchFaults() []benchFault {
	everywhere := func(on bench.Clips) map[leads.Step]bench.Clips {
		return map[leads.Step]bench.Clips{leads.Apart: on, leads.Together: on, leads.Known: on, leads.Closed: on, leads.Open: on}
	}
	return []benchFault{
		{name: "gain-control", set: func(c *bench.CableConfig) { c.Auto = bench.AutoGain{Target: 0.1, Attack: 0.05, Release: 1.5, Most: 30} }},
		{name: "noise-suppression", set: func(c *bench.CableConfig) { c.Suppress = bench.Suppress{By: 30, After: 1.5, Over: 2} }},
		{name: "hum", set: func(c *bench.CableConfig) { c.Hum = bench.Hum{Hz: 50, Level: 0.3, Harmonics: 7} }},
		{name: "noise", set: func(c *bench.CableConfig) { c.Noise = 0.02 }},
		{name: "clipping", set: func(c *bench.CableConfig) { c.Gain = 40 }},
		{name: "crosstalk", set: func(c *bench.CableConfig) { c.Leak = 0.1 }},
		{name: "lost-sound", set: func(c *bench.CableConfig) {
			for at := int64(c.SampleRate); at < 60*int64(c.SampleRate); at += 2 * int64(c.SampleRate) {
				c.Losses = append(c.Losses, bench.Loss{At: at, Frames: 512, Kind: bench.Silent})
			}
		}},
		{name: "broken-lead", held: everywhere(bench.ClipsApart)},
		{name: "plug-out", held: everywhere(bench.PlugOut)},
		{name: "clips-touch", held: map[leads.Step]bench.Clips{leads.Apart: bench.ClipsTogether}},
		{name: "points-stay-closed", held: map[leads.Step]bench.Clips{leads.Open: bench.PointsClosed}},
		{name: "points-never-close", held: map[leads.Step]bench.Clips{leads.Closed: bench.PointsOpen}},
		{name: "other-wiring", set: func(c *bench.CableConfig) {
			if c.Circuit.Wiring = 1 - c.Circuit.Wiring; c.Circuit.Wiring == circuit.Shunt {
				c.Circuit.Load = 0
			}
		}},
	}
}

func faultNames() (out []string) {
	for _, f := range benchFaults() {
		out = append(out, f.name)
	}
	return out
}

// cards are those of the bench. fast: it plays as fast as it is heard.
func (b *leadsBenchFlags) cards(env Env, c circuit.Circuit, resistor float64, fast bool) Cards {
	return Cards{
		Invented: true,
		List:     benchDevices,
		Open: func(o live.Options) (Card, error) {
			cfg := bench.CableConfig{SampleRate: o.Rate, Channels: 1, Frames: bench.Endless, Circuit: c, Resistor: resistor, Delay: o.Rate / 50, Noise: benchNoise, Seed: demoSeed}
			card := &cableCard{held: map[leads.Step]bench.Clips{}}
			for _, f := range benchFaults() {
				if !slices.Contains(b.faults, f.name) {
					continue
				}
				if f.set != nil {
					f.set(&cfg)
				}
				for step, on := range f.held {
					card.held[step] = on
				}
			}
			var err error
			if card.Cable, err = bench.NewCable(cfg); err != nil {
				return nil, err
			}
			if !fast {
				card.pace = newPace(env, o.Rate)
			}
			return card, card.Play(audio.Chord{Hz: []float64{o.Tone.Hz}, Level: o.Tone.Level})
		},
	}
}

// cableCard is a sound card with the cable of the bench. It has no loudspeaker.
type cableCard struct {
	*bench.Cable
	pace *pace // nil: as fast as it is read
	held map[leads.Step]bench.Clips
}

func (c *cableCard) Sound()                          {}
func (c *cableCard) Hush()                           {}
func (c *cableCard) AlertErr() error                 { return nil }
func (c *cableCard) ToneFrom() int64                 { return 0 }
func (c *cableCard) Entered(int64) (time.Time, bool) { return time.Time{}, false }
func (c *cableCard) Nudge() {
	if c.pace != nil {
		c.pace.nudged.Store(true)
	}
}

// Read waits until the next frames would have come from a sound card.
func (c *cableCard) Read(dst []float32) (int, error) {
	n := min(len(dst), c.Format().SampleRate/50)
	if c.pace != nil && n > 0 {
		n = c.pace.wait(n)
	}
	return c.Cable.Read(dst[:n])
}

// Hold puts the clips on what a step wants, or where a fault has them instead.
func (c *cableCard) Hold(s leads.Step) {
	on, wrong := c.held[s]
	if !wrong {
		on = [leads.Steps]bench.Clips{bench.ClipsApart, bench.ClipsTogether, bench.ClipsKnown, bench.PointsClosed, bench.PointsOpen}[s]
	}
	c.Clip(on)
}

// benchSays tells what is on the bench.
func (b *leadsBenchFlags) says(c circuit.Circuit) string {
	text := fmt.Sprintf("the bench: no engine, no cable, no sound card; condenser %s, points closed %s", faradText(c.Condenser), ohmText(c.Contact))
	if c.Coil != nil {
		text += fmt.Sprintf(", a coil of %s and %s", figures(c.Coil.L*1e3)+" mH", ohmText(c.Coil.R))
	}
	if len(b.faults) > 0 {
		text += "; at fault: " + strings.Join(b.faults, ", ")
	}
	return text
}
