package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// sessionFlags are the flags of session, as typed.
type sessionFlags struct {
	rec                            recordingFlags
	live                           liveFlags
	engine, dial                   string
	input, readings, logDir, title string
	resume                         string
	approach                       string
	within                         float64 // what approach says [s]; negative for auto
	asJSON, budget, steps          bool
	noGuide, bench                 bool
}

func newSession(env Env) *cobra.Command {
	var f sessionFlags
	c := &cobra.Command{
		Use:   "session",
		Short: "The whole job: openings paired with dial readings, the error worked out, the log kept",
		Long: `Pair each opening of the points with a dial reading, work out how far they open from their mark, and keep both in the
log. The openings are heard live, through the sound card, or found in a recording (--input FILE).

Live, at a terminal, it leads through the whole job step by step: make the engine safe, clip the cable on, find TDC,
measure as found, set, measure as left, put all back together. The keys of a number pad do for everything:

  Enter               ticks what is marked and goes on, or takes what was typed
  +                   the whole step is done
  -                   one thing back
  *                   what else: skip, repeat, another step, throw away, leave;
                      in a reading: wipes out what was typed

The big screen shows the points, readings are typed as they come, and the sound is recorded beside the log. What was left
is gone on with by --resume, on another day too. --no-guide takes readings only. --bench is to practise: no engine, no
cable, no sound card.

With a recording, readings come from a file (--readings FILE, or - for standard input), one a line in the order of the
openings, or are asked for one by one. A line is

  2.03/1.98           last reading with points closed / first with points open
  2.03/               the last one with points closed alone; the next reading
                      is the first with points open
  1.98  1,98  0.078in one reading after stopping
  1+98                revolution counter and pointer as the dial shows them
  0.05  -0.05         on a dial zeroed at the mark: 0.05 = before the mark;
                      -0.05 = past it, nearer TDC
  -                   no reading for this opening
  3*2.03/1.98         the reading of opening 3, in any order; it replaces one
                      typed before, which stays in the log; 3*- takes it away
  # left as_found     cylinder and phase (as_found or as_left) of the readings
                      that follow

What a microphone at the second input channel hears is recorded beside the tone: readings said aloud can be typed in
afterwards, with --input. Each opening is asked for with its instant in the recording.`,
		Example: "  breakcue session --bench\n" +
			"  breakcue session --engine twin.toml --dial dial.toml\n" +
			"  breakcue session --resume\n" +
			"  breakcue session --engine twin.toml --dial dial.toml --input take-01.wav --readings readings.txt",
		Args: func(c *cobra.Command, args []string) error {
			if f.resume != "" {
				return f.checkResume(args)
			}
			return exactArgs(0, "no argument")(c, args)
		},
		RunE: func(c *cobra.Command, _ []string) error {
			if f.steps {
				return f.printSteps(env)
			}
			if f.input == "" {
				return f.runLive(c, env)
			}
			if err := f.onlyLive(c.Flags()); err != nil {
				return err
			}
			return f.run(c.Context(), env)
		},
	}
	flags := c.Flags()
	flags.StringVar(&f.engine, "engine", "", "engine sheet")
	flags.StringVar(&f.dial, "dial", "", "dial sheet")
	flags.StringVar(&f.input, "input", "", "recording of the test tone (WAV), or - for standard input (default: live sound)")
	flags.StringVar(&f.readings, "readings", "", "file of readings, or - for standard input (default: ask for each)")
	flags.StringVar(&f.approach, "approach", "0", "openings with the points closed for less than this in between, such as 300ms, belong to one\n"+
		"approach and take one reading; 0: each opening stands for itself; auto: 300ms when that makes as\n"+
		"many approaches as there are readings, or when readings are asked for and openings come so close")
	flags.StringVar(&f.resume, "resume", "", "go on with the newest session that was not finished, or with --resume=SESSION: live, with its sheets, where it stopped")
	flags.Lookup("resume").NoOptDefVal = resumeNewest
	flags.StringVar(&f.title, "name", "", "short name of the session in the log (default: the engine's)")
	flags.BoolVar(&f.bench, "bench", false, "live, to practise: the built-in bench in place of cable and sound card, and a hand that turns an invented engine")
	flags.BoolVar(&f.noGuide, "no-guide", false, "live: readings only, without the steps; * goes on to the next cylinder or phase")
	flags.BoolVar(&f.steps, "steps", false, "print the whole job for this engine and dial step by step, as a list to tick, and end")
	flags.BoolVar(&f.budget, "budget", false, "print what makes each result uncertain, and what would make it less so")
	flags.BoolVar(&f.asJSON, "json", false, "print one JSON object")
	logDirFlag(c, &f.logDir)
	f.rec.add(flags)
	f.live.addCard(flags)
	f.live.levels.add(flags)
	flags.Lookup("wiring").Usage = "how the cable is wired: series (in line with the points) or shunt (across them); series is assumed, " +
		"or shunt where the engine sheet says that a source coil stays on"
	return c
}

// run is one session: sheets, readings that are there already, the recording; then the journal, and from it the report.
func (f *sessionFlags) run(ctx context.Context, env Env) error {
	opt, err := f.check(env)
	if err != nil {
		return err
	}
	sheets, err := f.loadSheets()
	if err != nil {
		return err
	}
	opt.Wiring = f.wired(sheets, opt.Wiring)
	typed, named, err := f.typed(env, sheets)
	if err != nil {
		return err
	}
	a, err := analyse(ctx, env, f.input, opt)
	if err != nil {
		_, kept := f.keep(env, sheets, &a, typed, err)
		return errors.Join(err, kept)
	}
	if a.Refused != nil {
		dir, kept := f.keep(env, sheets, &a, typed, a.Refused)
		if f.asJSON {
			r := session.Refused(sheets, f.name(sheets), f.input, caveatsOf(&a))
			r.Session = dir
			kept = errors.Join(kept, printJSON(env.Out, r))
		}
		return errors.Join(&Failure{Code: ExitInconclusive, Err: fmt.Errorf("%s: %w", f.input, a.Refused), Hint: a.Hint()}, kept)
	}
	w, err := f.create(env, sheets, &a)
	if err != nil {
		f.tellLost(env, typed)
		return err
	}
	err = errors.Join(f.record(ctx, env, w, sheets, &a, typed, named), w.Close())
	if f := (*Failure)(nil); err == nil || errors.As(err, &f) || errors.Is(err, context.Canceled) {
		return err
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: "make room or choose another disk with --dir; what was written before is kept in " + w.Dir()}
}

// sheetError says what is wrong with the sheets, and what to do. Of swapped ones every line is wrong: then only that is said.
func sheetError(engine, dial string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return &Failure{Code: ExitFailed, Err: err, Hint: "check the names given by --engine and --dial"}
	}
	if _, err := session.LoadSheets(dial, engine); err == nil {
		return fail(ExitFailed, fmt.Sprintf("try --engine %s --dial %s", shellWord(dial), shellWord(engine)),
			"the two sheets look swapped: %s is a dial sheet, %s an engine sheet", engine, dial)
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: "correct the sheet and try again; 'breakcue sheet check FILE' tells all that is wrong with it"}
}

// keep writes readings that came from standard input, and so are nowhere else, into a journal, though there is nothing to
// pair them with because of err. It returns the name of its folder; empty when there is nothing to keep.
func (f *sessionFlags) keep(env Env, sheets session.Sheets, a *pump.Analysis, typed []session.Typed, because error) (string, error) {
	if f.readings != "-" || len(typed) == 0 {
		return "", nil
	}
	if a.Format.SampleRate == 0 {
		a.Frames = -1 // not even opened
	}
	w, err := f.create(env, sheets, a)
	if err != nil {
		f.tellLost(env, typed)
		return "", err
	}
	said := append(caveatsOf(a), timing.Caveat{Code: "refused", Message: fmt.Sprintf("refused, so nothing was worked out from what was typed: %v", because)})
	rec, err := session.NewRecorder(w, sheets.Setup, logbook.Take{Take: 1, File: f.input}, nil, said)
	for len(typed) > 0 && err == nil {
		if _, err = rec.Reading(typed[0]); err == nil {
			typed = typed[1:]
		}
	}
	f.tellLost(env, typed)
	if err == nil {
		reason := "refused"
		if cancelled(because) {
			reason = "interrupted"
		}
		_, err = w.Append(logbook.End{Reason: reason})
	}
	return filepath.Base(w.Dir()), errors.Join(err, w.Close())
}

// check looks for what is missing or does not go together.
func (f *sessionFlags) check(env Env) (pump.Options, error) {
	if err := f.checkSheets(); err != nil {
		return pump.Options{}, err
	}
	if f.readings == "-" && env.InTTY && f.input != "-" {
		f.readings = "" // they are typed: then each is asked for, and safe at once
	}
	if err := f.checkApproach(); err != nil {
		return pump.Options{}, err
	}
	switch {
	case f.input == "-" && f.readings == "-":
		return pump.Options{}, fail(ExitUsage, "put one of them into a file", "recording and readings cannot both come from standard input")
	case f.readings == "" && (!env.InTTY || f.input == "-"):
		return pump.Options{}, fail(ExitUsage, "give --readings FILE, or --readings - to read them from standard input",
			"standard input is no terminal that can be asked for the readings")
	}
	return f.rec.options()
}

// checkApproach reads --approach.
func (f *sessionFlags) checkApproach() error {
	f.within = -1
	if f.approach == "auto" {
		return nil
	}
	d, err := time.ParseDuration(f.approach)
	if err != nil || d < 0 {
		return fail(ExitUsage, "slowly parting points chatter for tenths of a second: 300ms is usual", "--approach %s, want auto, or a time of 0 or more, such as 300ms", f.approach)
	}
	f.within = d.Seconds()
	return nil
}

// checkSheets looks for missing sheets.
func (f *sessionFlags) checkSheets() error {
	for _, need := range []struct{ value, flag, what string }{
		{f.engine, "--engine", "an engine sheet"}, {f.dial, "--dial", "a dial sheet"},
	} {
		if need.value == "" {
			return fail(ExitUsage, "run 'breakcue session --help' for an example", "session needs %s: give %s FILE", need.what, need.flag)
		}
	}
	return nil
}

// typed returns the readings of --readings; without that flag there are none yet. What cannot be read from standard input is
// kept in a journal.
func (f *sessionFlags) typed(env Env, sheets session.Sheets) (typed []session.Typed, named bool, err error) {
	var in io.Reader = env.In
	var raw strings.Builder
	name := f.readings
	switch f.readings {
	case "":
		return nil, true, nil
	case "-":
		in, name = io.TeeReader(env.In, &raw), "standard input"
	default:
		file, err := os.Open(f.readings)
		if err != nil {
			return nil, false, fail(ExitFailed, "check the name given by --readings", "%w", err)
		}
		defer file.Close()
		in = file
	}
	cylinders := sheets.Engine.Cylinders
	typed, named, err = session.ReadTyped(name, in, cylinders)
	if err == nil {
		return typed, named, nil
	}
	failed := &Failure{Code: ExitFailed, Err: err, Hint: "check the name given by --readings"}
	if line := (*session.LineError)(nil); errors.As(err, &line) {
		failed.Hint = "correct this line of the readings and try again; nothing was recorded"
	}
	if f.readings != "-" {
		return nil, false, failed
	}
	_, _ = io.CopyN(io.Discard, in, maxKept-int64(raw.Len())) // the rest, for the journal
	dir, kept := f.keep(env, sheets, &pump.Analysis{}, session.RawLines(raw.String(), cylinders), err)
	if dir != "" {
		failed.Hint = "correct this line and try again; what was typed is kept in the log"
	}
	return nil, false, errors.Join(failed, kept)
}

// maxKept is how much of standard input is kept when it cannot be read [bytes].
const maxKept = 1 << 20

// name returns the name of the session.
func (f *sessionFlags) name(sheets session.Sheets) string {
	if f.title != "" {
		return f.title
	}
	return sheets.Engine.Name
}

// create begins the journal.
func (f *sessionFlags) create(env Env, sheets session.Sheets, a *pump.Analysis) (*logbook.Writer, error) {
	root, err := logRoot(env, f.logDir)
	if err != nil {
		return nil, err
	}
	begin := sheets.Begin("breakcue")
	begin.Input, begin.SampleRate, begin.Channels, begin.Frames = f.input, a.Format.SampleRate, a.Format.Channels, a.Frames
	w, err := logbook.Create(root, f.name(sheets), begin, env.Now)
	if err != nil {
		return nil, &Failure{Code: ExitFailed, Err: err, Hint: "make room, or name another folder with --dir"}
	}
	fmt.Fprintf(env.Err, "breakcue: log: %s\n", w.Dir())
	return w, nil
}

// record writes openings and readings, then works out and prints the report from what the journal holds.
func (f *sessionFlags) record(ctx context.Context, env Env, w *logbook.Writer, sheets session.Sheets, a *pump.Analysis, typed []session.Typed, named bool) error {
	file := f.input
	if abs, err := filepath.Abs(file); err == nil && file != "-" {
		file = abs
	}
	heard := session.Changes(a.Edges, a.Format.SampleRate)
	within, said := f.within, []timing.Caveat(nil)
	switch {
	case within >= 0:
	case f.readings == "":
		within, said = session.ApproachToAsk(heard)
	default:
		within, said = session.ApproachFor(heard, session.Whole(typed))
	}
	take := logbook.Take{Take: 1, File: file, ApproachS: within}
	if f.bySet(sheets) {
		take.Sets = 2
	}
	rec, err := session.NewRecorder(w, sheets.Setup, take, heard, append(caveatsOf(a), said...))
	if err != nil && len(typed) > 0 {
		f.tellLost(env, typed)
		return fmt.Errorf("reading %q and those after it are not in the log: %w", typed[0].Text, err)
	}
	if err != nil {
		return err
	}
	if f.bySet(sheets) {
		rec.BySet(sheets.SetOf)
	}
	reason := logbook.Finished
	if f.readings == "" {
		note := rec.Chatter()
		if len(said) > 0 {
			note = said[0].Message
		}
		named, err = ask(ctx, env, rec, sheets, note)
		if err != nil && !errors.Is(err, context.Canceled) {
			return err
		}
		if err != nil {
			reason = "interrupted"
			fmt.Fprintf(env.Err, "\nbreakcue: interrupted; what was typed is kept: breakcue log show %q\n", w.Dir())
		}
	}
	for i, t := range typed {
		if _, err := rec.Reading(t); err != nil {
			f.tellLost(env, typed[i:])
			return fmt.Errorf("reading %q and those after it are not in the log: %w", t.Text, err)
		}
	}
	if !named {
		if err := rec.Caveat(placeAssumed(sheets)); err != nil {
			return err
		}
	}
	return errors.Join(f.report(env, rec, w.Dir(), reason), ctx.Err())
}

// placeAssumed says that no line named where the readings belong.
func placeAssumed(sheets session.Sheets) timing.Caveat {
	first := session.NewTypist(sheets.Engine.Cylinders).Place
	return timing.Caveat{Code: "place_assumed", Message: fmt.Sprintf(
		"no line named cylinder and phase before the first reading: taken as %s, %s; write \"# %s %s\" before it",
		first.Cylinder, phaseWords(first.Phase), first.Cylinder, first.Phase)}
}

// report prints what the journal in dir says, then ends the session in it: no disk is so full that the result is not shown.
func (f *sessionFlags) report(env Env, rec *session.Recorder, dir, reason string) error {
	j, err := logbook.Read(dir)
	if err != nil {
		return err
	}
	r, err := session.FromJournal(j)
	if err != nil {
		return err
	}
	if f.asJSON {
		err = printJSON(env.Out, r)
	} else {
		err = r.Print(env.Out, f.budget)
	}
	err = errors.Join(err, rec.Finish(r, reason))
	if err == nil && !r.Measured() {
		return &Failure{Code: ExitInconclusive, Err: errNoResult, Hint: f.noResult(r)}
	}
	return err
}

// noResult tells what to do about a session without a result: where the guide knows which openings are passes, the readings may be
// on paper, or spoken into the recording.
func (f *sessionFlags) noResult(r session.Report) string {
	if r.Steps == nil || len(r.Unread) == 0 {
		return "look at the notes, and turn through the mark again reading the dial at each opening"
	}
	return "readings on paper, or spoken into the recording, are given to the openings afterwards: " + logCommand("amend "+typed(r.Session)+" --ask", f.logDir)
}

var errNoResult = errors.New("no result: there is no opening with a usable reading")

// caveatsOf returns what is to be said of a recording.
func caveatsOf(a *pump.Analysis) []timing.Caveat {
	out := make([]timing.Caveat, len(a.Caveats))
	for i, c := range a.Caveats {
		out[i] = timing.Caveat(c)
	}
	return out
}
