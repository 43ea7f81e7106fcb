package cli

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"breakcue/audio/bench"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing/handturn"
	"breakcue/timing/logbook"
)

// The sheets of the demonstration.
var (
	//go:embed demo/engine.toml
	demoEngine string
	//go:embed demo/dial.toml
	demoDial string
)

const (
	demoTake     = "take-01.wav"
	demoApproach = 0.3 // time within which openings are one approach [s]: points turned by hand chatter
)

func newDemo(env Env) *cobra.Command {
	var dir string
	var fast bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "See the whole job on the built-in bench: no engine, no cable, no sound card",
		Long: `See the whole job on the built-in bench: no engine, no cable, no sound card.

An invented twin is turned by a simulated hand. The sound of its points goes the way that the sound from a cable goes:
detector, readings, errors, log. The log and the recording stay, to be looked at with the commands named at the end.`,
		Example: "  breakcue demo\n  breakcue demo --fast --dir sessions",
		Args:    exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			root, err := logRoot(env, dir)
			if err != nil {
				return err
			}
			pause := env.Sleep
			if fast {
				pause = func(time.Duration) {}
			}
			d := demo{env: env, out: &demoPrinter{w: env.Out, pause: pause}}
			return d.run(c.Context(), root)
		},
	}
	logDirFlag(c, &dir)
	c.Flags().BoolVar(&fast, "fast", false, "show everything at once")
	return c
}

// demo is the demonstration in progress.
type demo struct {
	env    Env
	out    *demoPrinter
	sheets session.Sheets
	job    handturn.Run
	cfg    detect.Config // what the cable check found

	journal *logbook.Writer
	rec     *session.Recorder
	take    *wav.Writer

	events []detect.Event // settled
	passes []demoPass
	next   int   // pass whose reading is still to be typed
	cue    int64 // ID of the opening shown for it; 0 for none
}

// demoPass is a pass of the hand, and where it belongs.
type demoPass struct {
	handturn.Pass
	place       logbook.Place
	n, of       int
	first, last bool // of the stage
}

// run does the job from first to last.
func (d *demo) run(ctx context.Context, root string) (err error) {
	if d.sheets, err = session.ParseSheets("demo/engine.toml", demoEngine, "demo/dial.toml", demoDial); err != nil {
		return err
	}
	if err := d.turn(); err != nil {
		return err
	}
	d.cautions()
	if err := d.checkCable(ctx); err != nil {
		return err
	}
	begin := d.sheets.Begin("breakcue demo")
	begin.Input, begin.SampleRate, begin.Channels = "built-in bench", demoRate, 1
	if d.journal, err = logbook.Create(root, "demo", begin, d.env.Now); err != nil {
		return &Failure{Code: ExitFailed, Err: err, Hint: "name another folder with --dir"}
	}
	defer func() { err = errors.Join(err, d.journal.Close()) }()
	take := logbook.Take{Take: 1, File: demoTake, ApproachS: demoApproach}
	if d.rec, err = session.NewRecorder(d.journal, d.sheets.Setup, take, nil, nil); err != nil {
		return err
	}
	if err := d.listen(ctx); err != nil {
		if errors.Is(err, context.Canceled) || ctx.Err() != nil {
			fmt.Fprintf(d.env.Err, "breakcue: interrupted; what was heard and read is kept: breakcue log show %s\n", shellWord(d.journal.Dir()))
			_, ended := d.journal.Append(logbook.End{Reason: "interrupted"})
			return errors.Join(err, ended)
		}
		return d.stopped(err)
	}
	if err := d.finish(); err != nil {
		return d.stopped(err)
	}
	return nil
}

// stopped adds to an error where the log is, for what can be done.
func (d *demo) stopped(err error) error {
	if f := (*Failure)(nil); errors.As(err, &f) {
		return err
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: "make room or choose another disk with --dir; what was written before is kept in " + d.journal.Dir()}
}

// listen lets the whole job sound, records it, and takes the readings as the hand types them.
func (d *demo) listen(ctx context.Context) (err error) {
	src, err := bench.New(demoSound(d.job))
	if err != nil {
		return err
	}
	defer src.Close()
	det, err := detect.New(d.cfg)
	if err != nil {
		return err
	}
	d.take, err = wav.Create(filepath.Join(d.journal.Dir(), demoTake), wav.Spec{SampleRate: demoRate, Channels: 1, Room: 100})
	if err != nil {
		return &Failure{Code: ExitFailed, Err: err, Hint: "name another folder with --dir"}
	}
	defer func() { err = errors.Join(err, d.take.Close()) }()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	_, err = pump.Run(ctx, src, []pump.Hearer{det}, pump.Span{}, pump.Taps{
		Block: d.take.Write,
		Event: func(e detect.Event) {
			if err := d.hear(e.Instant(det.EdgeModel())); err != nil {
				stop(err)
			}
		},
		After: func() {
			if err := d.read(float64(det.Frame()) / demoRate); err != nil {
				stop(err)
			}
		},
	})
	if err == nil {
		err = d.read(d.job.Duration + 1)
	}
	return err
}

// hear shows an opening the moment it is decided, and writes down what has settled.
func (d *demo) hear(e detect.Event) error {
	switch {
	case e.Stage == detect.Decided && e.Kind == detect.KindOpen && d.cue == 0 && d.next < len(d.passes):
		d.cue = e.ID
		d.heading()
		d.out.cue(fmt.Sprintf("POINTS OPEN   no. %d", d.next+1), fmt.Sprintf("%.3f s", float64(e.Frame)/demoRate))
	case e.Stage == detect.Withdrawn && e.ID == d.cue:
		d.cue = 0
		d.out.line("  taken back: the points are closed")
	case e.Stage == detect.Settled && (e.Kind == detect.KindOpen || e.Kind == detect.KindClose):
		d.events = append(d.events, e)
		all := session.Changes(d.events, demoRate)
		c := all[len(all)-1]
		if c.Open {
			if err := d.take.Mark(c.Frame, fmt.Sprintf("points open %d", c.ID)); err != nil {
				return err
			}
		}
		return d.rec.Hear(c)
	}
	return nil
}

// heading names the cylinder and phase that begin with the next pass.
func (d *demo) heading() {
	if p := d.passes[d.next]; p.first {
		d.out.title(strings.ToUpper(fmt.Sprintf("%s cylinder, %s", p.place.Cylinder, phaseWords(p.place.Phase))))
	}
}

// read types the readings that are due at an instant of the sound [s]: the hand has read the dial, and the opening has
// settled or the pass is over.
func (d *demo) read(now float64) error {
	for d.next < len(d.passes) {
		p := d.passes[d.next]
		_, _, _, heard := d.rec.Next()
		if now < p.ReadAt || !heard && now < p.To {
			return nil
		}
		if _, err := d.rec.Reading(session.Typed{Text: p.Reading, Place: p.place}); err != nil {
			return err
		}
		d.next, d.cue = d.next+1, 0
		if err := d.result(p); err != nil {
			return err
		}
	}
	return nil
}

// result shows what the readings of a cylinder and phase say up to now.
func (d *demo) result(p demoPass) error {
	r, err := d.report()
	if err != nil {
		return err
	}
	d.out.line("  pass %d of %d, dial reading typed: %s", p.n, p.of, p.Reading)
	if ph, ok := r.Phase(p.place); ok {
		words := ph.Words()
		d.out.line("  %s", words[0])
		if len(words) > 1 {
			d.out.line("  %s", words[1])
		}
		if p.last {
			d.out.line("  %s", words[len(words)-1])
		}
	}
	d.out.rest(500 * time.Millisecond)
	if p.place.Phase == logbook.AsFound && d.next < len(d.passes) && d.passes[d.next].place.Phase == logbook.AsLeft {
		d.out.line("")
		if r.Advice != nil && d.out.err == nil {
			d.out.err = r.Advice.Print(d.out.w)
			d.out.rest(1200 * time.Millisecond)
			d.out.line("")
		}
		d.out.line("The plates are moved, the screws are tightened. That may have moved the\nsetting, so it is measured again.")
		d.out.rest(700 * time.Millisecond)
	}
	return d.out.err
}

// report works out what the journal says up to now.
func (d *demo) report() (session.Report, error) {
	j, err := logbook.Read(d.journal.Dir())
	if err != nil {
		return session.Report{}, err
	}
	return session.FromJournal(j)
}

// finish prints the table and where everything is.
func (d *demo) finish() error {
	r, err := d.report()
	if err != nil {
		return err
	}
	d.out.title("RESULT")
	d.out.line("The scatter of all passes of the job counts now, so an interval can be a")
	d.out.line("little narrower than the one shown above.")
	d.out.line("")
	if d.out.err == nil {
		d.out.err = r.Print(d.out.w, false)
	}
	if err := errors.Join(d.out.err, d.rec.Finish(r, logbook.Finished)); err != nil {
		return err
	}
	folder := d.journal.Dir()
	d.out.line("")
	d.out.line("The log and the recording are in %s", folder)
	d.out.line("Look at them with")
	d.out.line("  breakcue log show %s", shellWord(folder))
	d.out.line("  breakcue review %s", shellWord(filepath.Join(folder, demoTake)))
	d.out.line("(review counts each opening of slowly parting points by itself)")
	return d.out.err
}

// shellWord quotes a path that a shell would not take as one word.
func shellWord(s string) string {
	if strings.ContainsAny(s, " \t'\"\\$&()*;<>?`|~") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// demoPrinter writes plain lines at the pace of a reader. It keeps the first error.
type demoPrinter struct {
	w     io.Writer
	pause func(time.Duration)
	err   error
}

func (p *demoPrinter) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", args...)
	}
}

func (p *demoPrinter) rest(d time.Duration) {
	if p.err == nil {
		p.pause(d)
	}
}

func (p *demoPrinter) title(text string) {
	p.line("")
	p.line("%s", text)
	p.line("")
}

// cue is the line that nobody can miss.
func (p *demoPrinter) cue(text, where string) {
	const width = 64
	p.line("%s", strings.Repeat("=", width))
	p.line("  %-*s%s", width-14, text, where)
	p.line("%s", strings.Repeat("=", width))
	p.rest(400 * time.Millisecond)
}
