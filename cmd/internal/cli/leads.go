package cli

import (
	"context"
	"errors"
	"io/fs"
	"math"
	"runtime"

	"github.com/spf13/cobra"

	"breakcue/audio/circuit"
	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/profiles"
	"breakcue/detect"
)

// leadsFlags are the flags of leads, as typed.
type leadsFlags struct {
	live     liveFlags
	bench    leadsBenchFlags
	resistor string
	file     string
	asJSON   bool

	ohms  float64          // of the resistor; 0: none
	cable *circuit.Circuit // what the cable is made of; nil: not known
	made  circuit.Circuit  // what is on the bench
	again string           // the command, to run it once more
}

func newLeads(env Env) *cobra.Command {
	var f leadsFlags
	c := &cobra.Command{
		Use:   "leads",
		Short: "Check the cable before the work: clips apart, together, on the points; find what is connected and the best tone",
		Long: `Check the cable before the work. It says what to hold where, measures each in a few seconds, and tells at once what is
wrong: with the clips apart, together, on a resistor of known value (--resistor, may be left out), on the points closed, and
on the points open. At the end it says whether the cable will do, what is connected at the points, which tone tells
closed from open best, and whether a lead that falls off can be told from an opening.

What it found is kept: 'breakcue listen' and 'breakcue session' on the same sound card then know both levels from
the first moment. The keys of a number pad do for everything:

  Enter               measures the step at hand; then goes on
  -                   one step back; while it measures: leave off
  +                   go on as it is, or skip the step; at the end the next page, where not all has room
  *                   the list of all steps, to make any of them again
  q                   end

Without a terminal each line of standard input stands for a key, an empty one for Enter. The first one says that the
engine is safe.

--bench is to practise: it has a cable, points and a sound card that only exist here, and moves the clips by itself.`,
		Example: "  breakcue leads\n" +
			"  breakcue leads --wiring shunt --resistor 47ohm\n" +
			"  breakcue leads --bench --source-coil 2mH/0.5ohm --wiring shunt\n" +
			"  printf '\\n\\n\\n\\n\\n' | breakcue leads --bench --fault hum",
		Args: exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if err := f.check(); err != nil {
				return err
			}
			f.again = sameCommand(c)
			return f.run(c.Context(), env)
		},
	}
	flags := c.Flags()
	f.live.addDevice(flags)
	f.live.addTone(flags)
	flags.Lookup("tone").Usage = "stay with this tone, in `HZ` (default: the one that tells closed from open best)"
	flags.Lookup("wiring").Usage = "how the cable is wired: series (in line with the points) or shunt (across them); found out when left out"
	flags.StringVar(&f.resistor, "resistor", "", "a resistor of known value, within 5 %, is measured too, such as 47ohm: then what is connected is told in ohms and µF")
	flags.StringVar(&f.file, "profile", "", "keep what was found in this `FILE` instead of where listen and session look for it")
	flags.BoolVar(&f.asJSON, "json", false, "print one JSON object; what to do is said on standard error")
	f.bench.add(flags)
	return c
}

// check looks for what cannot be, and reads what has units.
func (f *leadsFlags) check() error {
	if err := f.live.check(); err != nil {
		return err
	}
	if len(f.live.tones) > 1 {
		return fail(ExitUsage, "check one set of points after the other", "leads takes one --tone, got %d", len(f.live.tones))
	}
	if err := f.bench.check(); err != nil {
		return err
	}
	var err error
	if f.live.given("resistor") {
		if f.ohms, err = resistance.parse("--resistor", f.resistor); err == nil && f.ohms == 0 {
			err = fail(ExitUsage, "leave it out: clips together are a step of their own", "--resistor %s, want more than 0", f.resistor)
		}
		if err != nil {
			return err
		}
	}
	if f.made, err = f.bench.circuit(f.live.wired); err != nil {
		return err
	}
	if f.bench.cableKnown() && f.live.wiring != "" {
		cable := f.made
		if !f.bench.parts.given("source") {
			cable.Source = 0 // nobody knows what the output has
		}
		f.cable = &cable
	} else if f.bench.cableKnown() && !f.bench.on {
		return fail(ExitUsage, "add --wiring series or --wiring shunt", "the resistors of the cable are given, but not how it is wired")
	}
	if f.live.rate != 0 && (f.live.rate%25 != 0 || f.live.rate > 192000) {
		return fail(ExitUsage, "48000 is usual", "--rate %d, want a multiple of 25 up to 192000", f.live.rate)
	}
	return f.checkFile()
}

// checkFile refuses a file that is something else than a profile, before anything is measured.
func (f *leadsFlags) checkFile() error {
	if f.file == "" {
		return nil
	}
	if _, err := profiles.Read(f.file); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fail(ExitFailed, "choose another name: nothing but an older profile is ever overwritten", "--profile %s is something else than a profile (%w)", f.file, err)
	}
	return nil
}

// resistorU is the relative standard uncertainty of a resistor of 5 %, and of what a cable is made of: evenly likely within that, JCGM
// 100, 4.3.7.
var resistorU = 0.05 / math.Sqrt(3)

// options are those of the check.
func (f *leadsFlags) options(card *opened) leads.Options {
	o := leads.Options{Format: card.Format(), Channel: f.live.channel, Level: f.live.level, Resistor: f.ohms, Cable: f.cable, System: runtime.GOOS}
	if len(f.live.tones) > 0 {
		o.Tone = f.live.tones[0]
	}
	if f.ohms > 0 {
		o.Tolerance = resistorU
	}
	if o.Cable != nil {
		o.CableTolerance = resistorU
	}
	if f.live.wiring != "" {
		o.Wiring = leads.InLine
		if f.live.wired == detect.Shunt {
			o.Wiring = leads.Across
		}
	}
	return o
}

func (f *leadsFlags) run(ctx context.Context, env Env) (err error) {
	if f.bench.on {
		env.Cards = f.bench.cards(env, f.made, f.ohms, !env.InTTY)
	}
	base := &liveRun{env: env, flags: &f.live}
	r := &leadsRun{base: base, flags: f, guide: newLeadsGuide(f.ohms > 0, env.InTTY)}
	defer func() { err = r.ended(err) }()
	if err := base.quiet(); err != nil {
		return err
	}
	r.env = base.env
	if base.card, err = f.live.openCard(ctx, r.env, nil); err != nil {
		return err
	}
	r.card = base.card
	base.undo = append(base.undo, r.card.Close)
	if err := r.begin(); err != nil {
		return err
	}
	r.stayAwake(ctx)
	if !env.OutTTY || !env.InTTY || f.live.plain || f.asJSON {
		r.face = &leadsLines{leadsRun: r, w: r.env.Err, lines: linesOf(env.In), waits: f.bench.on && !env.InTTY}
		return r.loop(ctx)
	}
	screen, err := cue.OpenScreen(cue.Options{Getenv: env.Getenv, Now: env.Now, Screen: env.Screen})
	if err != nil {
		return &Failure{Code: ExitFailed, Err: err, Hint: "try --plain"}
	}
	base.screen, base.keys = screen, make(chan cue.Key, 64)
	base.undo = append(base.undo, screen.Close)
	r.face = &leadsScreen{leadsRun: r}
	return r.loop(ctx)
}
