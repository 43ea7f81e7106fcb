package cli

import (
	"bytes"

	"github.com/spf13/cobra"
)

// circuitFlags are the flags of circuit, as typed.
type circuitFlags struct {
	wiring                     string
	source, input, level       string // of the sound card
	noise                      string
	series, load, block        string // of the cable
	lead, shared, leadC        string
	condenser, contact         string // of the engine
	coil, coilEnd, sourceCoil  string
	eddy, tone, sweep, picture string
	engine                     string
	json                       bool
	given                      func(name string) bool
}

func newCircuit(env Env) *cobra.Command {
	var flags circuitFlags
	c := &cobra.Command{
		Use:   "circuit",
		Short: "Tell beforehand what a cable, the condenser and a coil will do to the tone, and whether the cable will do",
		Long: `Tell beforehand what comes back of the test tone with the points closed and open, how far apart the two are, what a lead that
falls off looks like, and whether the cable will do: for points that are dirty too, and a condenser and a coil that are not just what they
should be.

Without --wiring the two recommended cables are set side by side, one in line with the points (series) and one across them (shunt).
'breakcue circuit cables' tells how they are made. What is not given is taken as usual: see the flags.

A source coil is the winding of a magneto that often cannot be taken off the points: --source-coil 2mH/0.5ohm, or --source-coil
unknown for all that are likely, 0.8 to 4 mH.

How far closed and open are apart is told as the margin: their distance, with size and phase, over what blurs them, which is the
noise at the input and a wander of the level by 2 % of itself, as a clip makes that shifts. 20 dB or more at worst will do; from 14 to 20 dB is
poor. At worst means points of 0.05 to 5 ohm, and condenser and coil off by 20 % either way.

A verdict is a result: the exit code is 0, whatever it says. Which cable to trust at the engine is for the maker's manual, and for what you
measure there.`,
		Example: `  breakcue circuit
  breakcue circuit --engine twin.toml
  breakcue circuit --source-coil unknown
  breakcue circuit --wiring series --series 100ohm --load 1kohm --condenser 0.22uF
  breakcue circuit --coil 8mH/2ohm --coil-end battery
  breakcue circuit --sweep --source-coil 2mH/0.5ohm --plot sweep.svg
  breakcue circuit cables`,
		Args: exactArgs(0, "no argument (values stand behind flags, what is gone through as --sweep=contact)"),
		RunE: func(*cobra.Command, []string) error { return flags.run(env) },
	}
	flags.add(c)
	c.AddCommand(newCircuitCables(env))
	return c
}

func (f *circuitFlags) add(c *cobra.Command) {
	flags := c.Flags()
	f.given = flags.Changed
	flags.StringVar(&f.engine, "engine", "", "engine sheet that tells whether a source coil stays on the points")
	flags.StringVar(&f.wiring, "wiring", "", "how the cable is wired: series (in line with the points) or shunt (across them); both when left out")
	flags.StringVar(&f.source, "source", "100ohm", "of the output that gives the tone, in `OHM`")
	flags.StringVar(&f.level, "level", "200mV", "of the tone at the output with nothing connected, `VOLTS` rms or dBV")
	flags.StringVar(&f.input, "input", "10kohm", "of the input, in `OHM`")
	flags.StringVar(&f.noise, "noise", "0.1mV", "at the input over its whole band, `VOLTS` rms or dBV")
	flags.StringVar(&f.tone, "tone", "", "test tone in `HZ` (default: about 1000 in line, 3250 across, off the harmonics of the mains)")
	flags.StringVar(&f.series, "series", "100ohm", "resistor of the cable between the output and the points, in `OHM`")
	flags.StringVar(&f.load, "load", "", "resistor of the cable between tip and screen of the input, in `OHM` (default: 47ohm in line, none across)")
	flags.StringVar(&f.block, "block", "none", "capacitor in the lead to the input that keeps a bias off the points, in `UF`")
	flags.StringVar(&f.lead, "lead", "0.2ohm", "of the leads that drive and sense do not share, in `OHM`")
	flags.StringVar(&f.shared, "shared-lead", "0ohm", "of the leads that they share, one clip for both among them, in `OHM`")
	flags.StringVar(&f.leadC, "lead-capacitance", "0.3nF", "between the leads to the points, `NF` or pF")
	flags.StringVar(&f.condenser, "condenser", "0.22uF", "across the points, in `UF`, or none")
	flags.StringVar(&f.contact, "contact", "0.2ohm", "of the closed points, in `OHM`")
	flags.StringVar(&f.coil, "coil", "", "primary of a battery coil still on the points, `MH/OHM`, as 8mH/2ohm")
	flags.StringVar(&f.coilEnd, "coil-end", "battery", "`WHERE` its far end goes: battery (also other loads), nothing, or to earth through a resistance")
	flags.StringVar(&f.sourceCoil, "source-coil", "", "source coil of a magneto that stays on the points, `MH/OHM`, as 2mH/0.5ohm, or unknown")
	flags.StringVar(&f.eddy, "eddy-loss", "15deg", "`LOSS` in the source coil: an angle at 1 kHz, or a resistance beside it")
	flags.StringVar(&f.sweep, "sweep", "", "a table over a `QUANTITY`: tone, contact, condenser, load or series")
	flags.Lookup("sweep").NoOptDefVal = "tone"
	flags.StringVar(&f.picture, "plot", "", "draw the sweep to this `FILE`, .svg or .png, which must not be there yet")
	flags.BoolVar(&f.json, "json", false, "print one JSON object, not rounded")
}

// run works everything out and prints it.
func (f *circuitFlags) run(env Env) error {
	job, err := f.job()
	if err != nil {
		return err
	}
	out, err := job.result()
	if err != nil {
		return err
	}
	if f.picture != "" {
		if err := out.draw(f.picture); err != nil {
			return err
		}
		note(env, "%s is drawn", f.picture)
	}
	if f.json {
		return printJSON(env.Out, out)
	}
	var page bytes.Buffer
	out.print(&page)
	_, err = page.WriteTo(env.Out)
	return err
}
