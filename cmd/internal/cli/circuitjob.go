package cli

import (
	"math"
	"path/filepath"
	"slices"
	"strings"

	"breakcue/audio/circuit"
	"breakcue/detect"
	"breakcue/timing/sheet"
)

const (
	circuitRate = 48000 // frames/s that the tone is chosen for
)

// circuitJob is what circuit works out: one cable or two on the same points.
type circuitJob struct {
	hearing circuit.Hearing
	cables  []circuitCable
	sweep   *circuitSweep // nil for none
	engine  *sheet.Engine // nil without a sheet
}

// circuitCable is a cable on the points of an engine.
type circuitCable struct {
	circuit.Circuit
	tone float64
	coil coilKind
	all  []circuit.Circuit // what it may turn out to be
}

// coilKind says which coil is on the points.
type coilKind uint8

const (
	noCoil coilKind = iota
	batteryCoil
	sourceCoil
	anySourceCoil
)

// job reads the flags.
func (f *circuitFlags) job() (circuitJob, error) {
	var job circuitJob
	var c circuit.Circuit
	var tone float64
	job.hearing.Wander = circuit.UsualWander
	for _, v := range []struct {
		flag, text string
		kind       electric
		to         *float64
	}{
		{"--source", f.source, resistance, &c.Source}, {"--input", f.input, load, &c.Input}, {"--series", f.series, resistance, &c.Series},
		{"--block", f.block, blocking, &c.Block}, {"--lead", f.lead, resistance, &c.Lead}, {"--shared-lead", f.shared, resistance, &c.Common},
		{"--lead-capacitance", f.leadC, leadC, &c.LeadC}, {"--condenser", f.condenser, condenser, &c.Condenser},
		{"--contact", f.contact, resistance, &c.Contact}, {"--level", f.level, volts, &job.hearing.Tone}, {"--noise", f.noise, volts, &job.hearing.Noise},
		{"--tone", f.tone, hertz, &tone}, {"--load", f.load, load, &c.Load},
	} {
		if v.text == "" && !f.given(strings.TrimPrefix(v.flag, "--")) {
			continue
		}
		var err error
		if *v.to, err = v.kind.parse(v.flag, v.text); err != nil {
			return job, err
		}
	}
	if c.Input == 0 {
		return job, fail(ExitUsage, "1kohm to 50kohm is usual", "--input, got %q: an input takes something", f.input)
	}
	if err := f.checkPicture(); err != nil {
		return job, err
	}
	var err error
	if job.engine, err = f.sheet(); err != nil {
		return job, err
	}
	kind, err := f.coils(&c)
	if err != nil {
		return job, err
	}
	wirings := []circuit.Wiring{circuit.Series, circuit.Shunt}
	switch {
	case f.given("wiring"):
		w, err := wiringOf(f.wiring)
		if err != nil {
			return job, err
		}
		wirings = wirings[:1]
		if w == detect.Shunt {
			wirings[0] = circuit.Shunt
		}
	case f.given("load"):
		return job, fail(ExitUsage, "add --wiring series or --wiring shunt", "--load belongs to one cable, and two are compared")
	}
	for _, w := range wirings {
		k := circuitCable{Circuit: c, tone: tone, coil: kind}
		k.Wiring = w
		if w == circuit.Series && !f.given("load") {
			k.Load = 47
		}
		if tone == 0 {
			k.tone = liveTone(detectWiring(w), circuitRate)
		}
		if err := k.Validate(); err != nil {
			return job, fail(ExitUsage, "give the cable a resistor: --series 100ohm", "%w", err)
		}
		k.all = k.possible(f.given("condenser"))
		job.cables = append(job.cables, k)
	}
	if f.sweep != "" || f.picture != "" {
		if job.sweep, err = sweepOf(f.sweep); err != nil {
			return job, err
		}
	}
	return job, nil
}

// detectWiring is the detector's name for a wiring.
func detectWiring(w circuit.Wiring) detect.Wiring {
	if w == circuit.Shunt {
		return detect.Shunt
	}
	return detect.Series
}

// checkPicture refuses a name that says no kind of picture.
func (f *circuitFlags) checkPicture() error {
	if !f.given("plot") || slices.Contains([]string{".svg", ".png"}, strings.ToLower(filepath.Ext(f.picture))) {
		return nil
	}
	return fail(ExitUsage, "call it something.svg or something.png", "--plot, got %q: its ending says no kind of picture that can be drawn", f.picture)
}

// sheet reads the engine sheet, if there is one. Where a magneto's source coil is not said to come off, and no coil is given, one that is
// unknown is taken as given.
func (f *circuitFlags) sheet() (*sheet.Engine, error) {
	if f.engine == "" {
		return nil, nil
	}
	e, err := sheet.LoadEngine(f.engine)
	if err != nil {
		return nil, fail(ExitFailed, "correct the engine sheet and try again", "%w", err)
	}
	if f.sourceCoil != "" && (e.Ignition == sheet.Battery || e.SourceCoil == sheet.ComesOff) {
		return nil, fail(ExitUsage, "leave out --source-coil, or correct the sheet", "--source-coil: by %s no source coil stays on the points", f.engine)
	}
	if e.Ignition == sheet.Magneto && e.SourceCoil != sheet.ComesOff && f.sourceCoil == "" && f.coil == "" {
		f.sourceCoil = "unknown"
	}
	return &e, nil
}

// coils reads the flags of the two kinds of coil.
func (f *circuitFlags) coils(c *circuit.Circuit) (coilKind, error) {
	switch {
	case f.coil != "" && f.sourceCoil != "":
		return noCoil, fail(ExitUsage, "leave one out", "--coil and --source-coil: points have a battery coil or a magneto's source coil")
	case f.given("coil-end") && f.coil == "":
		return noCoil, fail(ExitUsage, "add --coil 8mH/2ohm, or leave it out", "--coil-end is only for --coil")
	case f.given("eddy-loss") && f.sourceCoil == "":
		return noCoil, fail(ExitUsage, "add --source-coil 2mH/0.5ohm, or leave it out", "--eddy-loss is only for --source-coil")
	case f.given("coil"):
		l, r, err := coilText("--coil", f.coil)
		if err != nil {
			return noCoil, err
		}
		c.Coil = &circuit.Coil{L: l, R: r}
		switch strings.ToLower(f.coilEnd) {
		case "battery":
		case "nothing":
			c.Coil.Far = math.Inf(1)
		default:
			if c.Coil.Far, err = coilEnd.parse("--coil-end", f.coilEnd); err != nil {
				return noCoil, err
			}
		}
		return batteryCoil, nil
	case strings.EqualFold(f.sourceCoil, "unknown"):
		if f.given("eddy-loss") {
			return noCoil, fail(ExitUsage, "leave --eddy-loss out: all that is likely is tried", "--eddy-loss of a source coil that is unknown")
		}
		c.Coil = sourceCoilOf(2e-3, 0.45, 16)
		return anySourceCoil, nil
	case f.given("source-coil"):
		l, r, err := coilText("--source-coil", f.sourceCoil)
		if err != nil {
			return noCoil, err
		}
		c.Coil = sourceCoilOf(l, r, 0)
		_, unit, _ := numberWithUnit(strings.TrimSpace(f.eddy))
		if unit == "deg" || unit == "°" {
			angle, err := lossAngle.parse("--eddy-loss", f.eddy)
			if err != nil {
				return noCoil, err
			}
			c.Coil = sourceCoilOf(l, r, angle)
		} else if c.Coil.Eddy, err = eddyLoss.parse("--eddy-loss", f.eddy); err != nil {
			return noCoil, err
		}
		return sourceCoil, nil
	}
	return noCoil, nil
}

var (
	coilEnd   = electric{"where the coil's far end goes", ohms, 1, 0, 1e6, false, "battery, nothing or a resistance such as 10ohm"}
	lossAngle = electric{"a loss angle", map[string]float64{"deg": 1, "°": 1}, 0, 0, 80, false, "15deg (at 1 kHz), or 40ohm beside the coil"}
	eddyLoss  = electric{"eddy losses", ohms, 0, 0.1, 1e6, true, "15deg (a loss angle at 1 kHz), 40ohm (beside the coil), or none"}
)

// sourceCoilOf returns a source coil of inductance l [H] and resistance r [ohm] with a loss angle at 1 kHz [degrees], 0 for no losses.
func sourceCoilOf(l, r, loss float64) *circuit.Coil {
	c := &circuit.Coil{L: l, R: r}
	if loss > 0 {
		c.Eddy = 2 * math.Pi * 1000 * l / math.Tan(loss*math.Pi/180)
	}
	return c
}

// possible returns what the cable's circuit may turn out to be: by dirt and by what parts are off; with a source coil that is unknown, any
// that is likely (0.8 to 4 mH, 0.3 to 0.6 ohm, loss angles of 14 to 19 degrees at 1 kHz), and any condenser of 0.1 to 0.4 uF unless one is given.
func (k circuitCable) possible(condenserGiven bool) []circuit.Circuit {
	if k.coil != anySourceCoil {
		return k.Spread(circuit.UsualSpread)
	}
	condensers := []float64{0.1e-6, 0.22e-6, 0.4e-6}
	if condenserGiven {
		condensers = []float64{k.Condenser * (1 - circuit.UsualSpread), k.Condenser, k.Condenser * (1 + circuit.UsualSpread)}
	}
	var out []circuit.Circuit
	for _, condenser := range condensers {
		for _, l := range []float64{0.8e-3, 1.8e-3, 4e-3} {
			for _, coil := range []*circuit.Coil{sourceCoilOf(l, 0.3, 14), sourceCoilOf(l, 0.6, 19)} {
				c := k.Circuit
				c.Condenser, c.Coil = condenser, coil
				out = append(out, c.Spread(0)...)
			}
		}
	}
	return out
}
