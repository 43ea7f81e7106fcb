package cli

import (
	"context"
	"math"
	"math/cmplx"
	"time"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/cmd/internal/pump"
	"breakcue/timing"
	"breakcue/timing/handturn"
	"breakcue/timing/logbook"
)

const (
	demoRate  = 48000  // [frames/s]
	demoTone  = 1010.0 // [Hz]: on no multiple of 50 or 60
	demoLevel = -2.0   // of the tone source [dBFS]
	demoSNR   = 30.0   // of the tone with the points closed [dB]
	demoSeed  = 54     // any other gives another hand
)

// turn lets the simulated hand do the whole job.
func (d *demo) turn() error {
	engine, dial := d.sheets.Engine, d.sheets.Dial
	mark := engine.Target.Angle
	s := handturn.Scenario{
		Crank: engine.Crank, Dial: dial.Dial, Breaker: handturn.TypicalBreaker(engine.Breaker.CamRatio), Hand: handturn.CarefulHand(), Seed: demoSeed,
	}
	// How far from the mark the points open, before and after the work [crank degrees].
	off := [][2]timing.Angle{{1.4, 0.05}, {-1.2, -0.05}}
	for k, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
		for i := range engine.Cylinders { // all of them as found before any plate is moved: the base plate moves both
			s.Stages = append(s.Stages, handturn.Stage{Cylinder: i + 1, Phase: string(phase), Opens: mark + off[i%len(off)][k], Mark: mark, Passes: 3})
		}
	}
	var err error
	if d.job, err = s.Run(); err != nil {
		return err
	}
	for _, st := range d.job.Stages {
		for i, p := range st.Passes {
			d.passes = append(d.passes, demoPass{
				Pass: p, place: logbook.Place{Cylinder: engine.Cylinders[st.Cylinder-1], Phase: logbook.Phase(st.Phase)},
				n: i + 1, of: len(st.Passes), first: i == 0, last: i == len(st.Passes)-1,
			})
		}
	}
	return nil
}

// demoCable is a cable in line with the points: low load, so that the condenser matters little.
func demoCable() circuit.Circuit {
	return circuit.Circuit{Source: 100, Load: 47, Condenser: 0.22e-6, Contact: 0.1}
}

// demoBench returns the sound of the contacts for a time [s].
func demoBench(changes []bench.Change, seconds float64, seed uint64) bench.Config {
	levels, err := demoCable().At(demoTone)
	if err != nil {
		panic("cli: " + err.Error()) // the cable is a constant
	}
	return bench.Config{
		SampleRate: demoRate, Channels: 1, Frames: int64(math.Ceil(seconds * demoRate)),
		Tone: demoTone, PPM: 35, Level: demoLevel, Closed: levels.Closed, Open: levels.Open, Changes: changes, BandLimited: true,
		Noise: bench.NoiseFor(bench.Amplitude(demoLevel)*cmplx.Abs(levels.Closed), demoSNR),
		Ticks: bench.Ticks{Rate: 0.5, Length: 1e-4, Level: 0.05}, Seed: seed,
	}
}

// demoSound returns the sound of the whole job.
func demoSound(job handturn.Run) bench.Config {
	changes := make([]bench.Change, len(job.Changes))
	for i, c := range job.Changes {
		changes[i] = bench.Change(c)
	}
	return demoBench(changes, job.Duration+0.5, demoSeed)
}

// cautions says in short what comes before the cable.
func (d *demo) cautions() {
	d.out.line("The whole job on the built-in bench. Engine, dial and hand are invented;")
	d.out.line("no sound card is used.")
	d.out.title("FIRST, ON A REAL ENGINE")
	d.out.line("  Battery ignition: switch off, battery disconnected, coil lead off the points.")
	d.out.line("  Magneto: stop switch open, or its wire off the points.")
	d.out.line("  Plugs out and earthed. Cable off before anything is kicked or cranked.")
	d.out.line("  Find TDC with the dial, zero it there; never a full turn with the dial in.")
	d.out.rest(1500 * time.Millisecond)
}

// checkCable opens and closes the points twice and learns the levels from that.
func (d *demo) checkCable(ctx context.Context) error {
	changes := []bench.Change{{At: 0.6}, {At: 1.2, Closed: true}, {At: 1.8}, {At: 2.4, Closed: true}}
	a, err := pump.Analyse(ctx, func() (audio.Source, error) { return bench.New(demoBench(changes, 3, demoSeed+1)) }, pump.Options{})
	if err == nil {
		err = a.Refused
	}
	if err != nil {
		return err
	}
	d.cfg = a.Config // with the angle between the levels: the very first opening of the job is as clear as the others
	closed, open := pump.DBFS(a.Levels.Closed), pump.DBFS(a.Levels.Open)
	d.out.title("CABLE CHECK: points closed and opened twice")
	d.out.line("  test tone %.1f Hz, %s wiring (in line with the points)", d.cfg.Profile.Tone, a.Wiring())
	d.out.line("  points closed %.1f dBFS, points open %.1f dBFS: contrast %.1f dB", closed, open, closed-open)
	d.out.line("  tone %.0f dB above the noise", a.SNR())
	d.out.line("")
	d.out.line("Specified mark: %s before TDC, tolerance ±%s.", d.sheets.Engine.Timing.Value, d.sheets.Engine.Timing.Tolerance)
	d.out.line("The crank is turned forward slowly, again and again. A reading is typed as")
	d.out.line("last with points closed / first with points open.")
	d.out.rest(1500 * time.Millisecond)
	return nil
}
