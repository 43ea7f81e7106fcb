package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// amendFlags is what `log amend` was asked to do.
type amendFlags struct {
	dir, why, who string
	asJSON        bool

	// what to correct: one of them
	entry, opening int64
	pass           string
	take           int
	// how
	reading, place, field, to string
	toOpening                 int64
	throwAway, bringBack      bool
	ask                       bool

	given *pflag.FlagSet
}

func newLogAmend(env Env) *cobra.Command {
	var f amendFlags
	c := &cobra.Command{
		Use:   "amend SESSION",
		Short: "Correct a session: a reading, where it belongs, whether it counts",
		Long: `Correct a session. Nothing that was written is changed: the correction is a new entry that says who changed what, from
what to what, and why. "breakcue log show" then shows the new result and every correction.

What to correct is one of
  --pass "left as_found 2"   a pass, as "breakcue log show" numbers it
  --opening 5                an opening that has no reading, by its number
  --entry 12                 any entry, by its number in "log show --entries"
and how is one of
  --reading 2.03/1.98        what the dial did show
  --place "right as_left"    another cylinder or phase; with --opening and
                             --reading where it belongs, unless the steps
                             of a guided session tell
  --to-opening 6             another opening
  --throw-away, --bring-back take the pass out, or in again
  --field NAME --to VALUE    any field of what was typed or told to the program;
                             what was heard and worked out stays

Readings that are still on paper, or were spoken into the recording, are asked for one after the other with --ask: those of
the openings that have none, each with its instant in its take. They may come from a pipe, one a line:
  2.03/1.98                  the reading of the opening that is asked for
  2.03/                      its first half; the next line is the other
  -                          it has none
  (an empty line)            skip it for now
  3*2.03/1.98                the reading of opening 3, whichever is asked for;
                             it replaces one that it has, and 3*- takes it out
  # right as_left            go on to that cylinder and phase
  q                          that is all
Each is on the disk before the next is asked for. --place and --take ask for those of one place or take alone.`,
		Example: "  breakcue log amend 2026-05-04-1011-twin --ask\n" +
			"  breakcue log amend 2026-05-04-1011-twin --pass \"left as_found 2\" --reading 2.31/2.28 --why \"figures swapped\"\n" +
			"  breakcue log amend 2026-05-04 --opening 5 --place \"left as_left\" --reading 1.98 --why \"was on the paper only\"\n" +
			"  breakcue log amend 2026-05-04 --pass \"left as_found 3\" --throw-away --why \"the dial slipped\"",
		Args: exactArgs(1, "one session"),
		RunE: func(c *cobra.Command, args []string) error {
			f.given = c.Flags()
			if err := f.check(env); err != nil {
				return err
			}
			root, err := logRoot(env, f.dir)
			if err != nil {
				return err
			}
			folder, err := findSession(root, args[0], "run '"+logCommand("list", f.dir)+"' for the names")
			if err != nil {
				return err
			}
			return f.run(c.Context(), env, folder, typed(args[0]))
		},
	}
	flags := c.Flags()
	flags.StringVar(&f.pass, "pass", "", "correct this pass: cylinder, phase and number, as \"left as_found 2\"")
	flags.Int64Var(&f.opening, "opening", 0, "give a reading to this opening, by its number")
	flags.IntVar(&f.take, "take", 0, "take of the opening, when several have one of that number")
	flags.Int64Var(&f.entry, "entry", 0, "correct this entry, by its number")
	flags.StringVar(&f.reading, "reading", "", "what the dial showed: last closed/first open, as 2.03/1.98")
	flags.StringVar(&f.place, "place", "", "cylinder and phase it belongs to, as \"left as_found\"")
	flags.Int64Var(&f.toOpening, "to-opening", 0, "opening that the reading belongs to, by its number")
	flags.BoolVar(&f.throwAway, "throw-away", false, "take the pass out of the figures")
	flags.BoolVar(&f.bringBack, "bring-back", false, "take a pass that was thrown away into the figures again")
	flags.StringVar(&f.field, "field", "", "field of the entry to change, with --to")
	flags.StringVar(&f.to, "to", "", "what that field is to say")
	flags.BoolVar(&f.ask, "ask", false, "ask for the reading of each opening that has none")
	flags.StringVar(&f.why, "why", "", "why it is corrected; needed but with --ask (default there: \""+givenAfterwards+"\")")
	flags.StringVar(&f.who, "who", "", "who corrects it (default: this computer's name of the user)")
	flags.BoolVar(&f.asJSON, "json", false, "print one JSON object")
	logDirFlag(c, &f.dir)
	return c
}

// check looks for what is missing or does not go together.
func (f *amendFlags) check(env Env) error {
	help := "run 'breakcue log amend --help' for examples"
	if f.ask {
		if f.count("pass", "opening", "entry", "reading", "throw-away", "bring-back", "to-opening", "field", "to") > 0 {
			return fail(ExitUsage, "give --ask alone, or with --place, --take, --why and --who", "--ask asks what to correct and how, so it goes with no flag that says so")
		}
		if f.count("why") == 0 {
			f.why = givenAfterwards
		}
		return f.named(env)
	}
	if n := f.count("pass", "opening", "entry"); n != 1 {
		return fail(ExitUsage, help, "say what to correct by one of --pass, --opening and --entry, got %d of them", n)
	}
	switch how := f.count("reading", "throw-away", "bring-back", "to-opening", "field"); {
	case how == 0 && f.count("place") == 0:
		return fail(ExitUsage, help, "say how: by --reading, --place, --to-opening, --throw-away, --bring-back, or --field and --to")
	case how > 1, how == 1 && f.count("place") == 1 && f.count("reading") == 0:
		return fail(ExitUsage, "make one correction after the other", "these corrections do not go together")
	case f.count("field") != f.count("to"):
		return fail(ExitUsage, help, "--field and --to go together")
	case f.count("field") == 1 && f.count("entry") == 0:
		return fail(ExitUsage, help, "--field needs --entry")
	case f.count("opening") == 1 && f.count("reading") == 0:
		return fail(ExitUsage, help, "--opening needs --reading: what the dial showed at it")
	case f.count("take") == 1 && f.count("opening", "to-opening") == 0:
		return fail(ExitUsage, help, "--take goes with --opening or --to-opening")
	}
	return f.named(env)
}

// givenAfterwards is why a reading is given with --ask, unless another reason is told.
const givenAfterwards = "given afterwards"

// named looks for the reason of a correction and for who makes it.
func (f *amendFlags) named(env Env) error {
	if strings.TrimSpace(f.why) == "" {
		return fail(ExitUsage, "add --why, as --why \"figures swapped\"", "a correction needs its reason")
	}
	if f.who == "" {
		f.who = userName(env)
	}
	if strings.TrimSpace(f.who) == "" {
		return fail(ExitUsage, "add --who and your name", "this computer does not say who corrects it")
	}
	return nil
}

// count returns how many of these flags were given.
func (f *amendFlags) count(names ...string) int {
	n := 0
	for _, name := range names {
		if f.given.Changed(name) {
			n++
		}
	}
	return n
}

// userName returns the name of the user as the system has it, empty when it has none.
func userName(env Env) string {
	for _, key := range []string{"USER", "USERNAME", "LOGNAME"} {
		if name := env.Getenv(key); name != "" {
			return name
		}
	}
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return ""
}

// run makes the correction. The session is held from before it is read until the correction is in it.
func (f *amendFlags) run(ctx context.Context, env Env, folder, name string) (err error) {
	w, err := logbook.OpenAppend(folder, env.Now)
	if err != nil {
		return heldOrFailed(err)
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	j, err := readJournal(ctx, folder)
	if err != nil {
		return err
	}
	id := filepath.Base(folder)
	correct, err := session.NewCorrector(j)
	if err != nil {
		hint := "run '" + logCommand("show "+name+" --entries", f.dir) + "' for what was written"
		if len(j.Damaged) > 0 {
			hint = "run '" + logCommand("check "+name+" --repair", f.dir) + "' first"
		}
		return fail(ExitFailed, hint, "%s: %w", id, err)
	}
	before, err := session.FromJournal(j)
	if err != nil {
		return fail(ExitFailed, "run '"+logCommand("check "+name, f.dir)+"'", "%s: %w", id, err)
	}
	if f.ask {
		return f.askAll(ctx, env, &asker{env: env, f: f, w: w, journal: j, correct: correct, id: id, name: name}, before)
	}
	show := "run '" + logCommand("show "+name+f.showHow(), f.dir) + "' for what there is"
	of, err := f.plan(correct)
	if err != nil {
		return fail(ExitFailed, show, "%s: %w", id, err)
	}
	if len(of.Changes) == 0 {
		return fail(ExitFailed, show, "%s: nothing to correct, it says so already", id)
	}
	data, after, err := correct.Entries(of, w.Next(), f.why, f.who)
	if err != nil {
		return fail(ExitFailed, show, "%s: not corrected: %w", id, err)
	}
	if _, err := w.AppendAll(data...); err != nil {
		return fail(ExitFailed, "make room on the disk and try again; run '"+logCommand("show "+name+" --entries", f.dir)+"' for what was written", "%s: not corrected: %w", id, err)
	}
	return f.print(env.Out, id, data, before, after)
}

// heldOrFailed says what to do about a session that cannot be opened.
func heldOrFailed(err error) error {
	hint := "check the folder and its permissions"
	if held := (*logbook.HeldError)(nil); errors.As(err, &held) {
		hint = "wait until that session has ended"
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: hint}
}

// showHow is how to see what may be corrected.
func (f *amendFlags) showHow() string {
	if f.count("entry", "opening", "to-opening") > 0 {
		return " --entries"
	}
	return ""
}

// plan works out the correction.
func (f *amendFlags) plan(c *session.Corrector) (of session.Correction, err error) {
	var place *logbook.Place
	if f.count("place") == 1 {
		at, err := c.Place(f.place)
		if err != nil {
			return of, err
		}
		place = &at
	}
	switch {
	case f.count("pass") == 1:
		of.Seq, err = f.findPass(c)
	case f.count("opening") == 1:
		of, err = c.Opening(f.take, f.opening, place)
		if errors.Is(err, session.ErrNoPlace) {
			err = fmt.Errorf("%w: add --place, as --place \"%s\"", err, c.AnyPlace())
		}
	default:
		of.Seq = f.entry
	}
	if err != nil {
		return of, err
	}
	switch {
	case f.count("reading") == 1:
		err = c.Read(&of, f.reading)
	case f.throwAway:
		err = c.ThrowAway(&of)
	case f.bringBack:
		err = c.BringBack(&of)
	case f.count("to-opening") == 1:
		err = c.Pair(&of, f.take, f.toOpening)
	case f.count("field") == 1:
		err = f.setField(c, &of)
	}
	if err == nil && place != nil && of.New == nil {
		err = c.Move(&of, *place)
	}
	return of, err
}

// findPass reads --pass: cylinder, phase and number.
func (f *amendFlags) findPass(c *session.Corrector) (int64, error) {
	words := strings.Fields(f.pass)
	if len(words) < 2 {
		return 0, fmt.Errorf("pass, got %q, want cylinder, phase and number, as \"%s 2\"", f.pass, c.AnyPlace())
	}
	last := words[len(words)-1]
	n, err := strconv.Atoi(last)
	if err != nil {
		return 0, fmt.Errorf("pass, got %q, want a number last, as \"%s 2\"", f.pass, c.AnyPlace())
	}
	at, err := c.Place(strings.Join(words[:len(words)-1], " "))
	if err != nil {
		return 0, err
	}
	return c.Pass(at, n)
}

// setField takes the value as text where the field holds text, else as JSON.
func (f *amendFlags) setField(c *session.Corrector, of *session.Correction) error {
	err := c.Set(of, f.field, f.to)
	if err != nil && json.Valid([]byte(f.to)) {
		return c.Set(of, f.field, json.RawMessage(f.to))
	}
	return err
}

// amended is `log amend --json`.
type amended struct {
	Schema  string         `json:"schema"`
	Session string         `json:"session"`
	Written []logbook.Data `json:"written"`
	Before  session.Report `json:"before"`
	After   session.Report `json:"after"`
}

// print says what was changed, and what came of it.
func (f *amendFlags) print(w io.Writer, id string, data []logbook.Data, before, after session.Report) error {
	if f.asJSON {
		return printJSON(w, amended{"breakcue.log-amend/1", id, data, before, after})
	}
	var b strings.Builder
	for _, d := range data {
		switch d := d.(type) {
		case logbook.Reading:
			fmt.Fprintf(&b, "a reading was added to opening %d, %s, %s\n", d.Opening, session.Printable(d.Cylinder), phaseWords(d.Phase))
		case logbook.Amend:
			fmt.Fprintf(&b, "entry %d%s\n", d.Seq, amendWords(d, ": %s: %s -> %s"))
		}
	}
	printChanged(&b, before, after)
	if why := stillUnused(data, after); why != "" {
		wrapped(&b, "", "note: this reading is still not used: %s", why)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// printChanged says which results are others than before.
func printChanged(w io.Writer, before, after session.Report) {
	changed := 0
	for _, at := range placesOf(before, after) {
		was, now := resultAt(before, at), resultAt(after, at)
		if was == now {
			continue
		}
		changed++
		fmt.Fprintf(w, "%s, %s\n", session.Printable(at.Cylinder), phaseWords(at.Phase))
		wrapped(w, "  ", "before: %s", was)
		wrapped(w, "  ", "after: %s", now)
	}
	if changed == 0 {
		fmt.Fprintln(w, "no result changes")
	}
}

// amendWords says what a correction does: by a format for field, old and new value, or in words where it takes a reading out
// or in.
func amendWords(d logbook.Amend, format string) string {
	switch {
	case d.Field == "unusable" && string(d.To) == `""`:
		return " counts again"
	case d.Field == "unusable":
		return " is taken out of the figures"
	}
	return session.Printable(fmt.Sprintf(format, d.Field, brief(d.From), brief(d.To)))
}

// brief cuts a value that would fill the screen: a whole sheet.
func brief(value json.RawMessage) string {
	const most = 60
	if r := []rune(string(value)); len(r) > most {
		return fmt.Sprintf("%s… (%d characters)", string(r[:most]), len(r))
	}
	return string(value)
}

// stillUnused tells why a reading that got another text is not used nevertheless; empty when it is.
func stillUnused(data []logbook.Data, after session.Report) string {
	for _, d := range data {
		a, ok := d.(logbook.Amend)
		if !ok || a.Field != "text" {
			continue
		}
		for _, c := range after.Cylinders {
			for _, ph := range c.Phases {
				for _, p := range ph.Passes {
					if p.Entry == a.Seq {
						return p.Unused
					}
				}
			}
		}
	}
	return ""
}

// placesOf returns where any of the reports has a result, in their order.
func placesOf(reports ...session.Report) []logbook.Place {
	var out []logbook.Place
	for _, r := range reports {
		for _, c := range r.Cylinders {
			for _, p := range c.Phases {
				if at := (logbook.Place{Cylinder: c.Name, Phase: p.Phase}); !slices.Contains(out, at) {
					out = append(out, at)
				}
			}
		}
	}
	return out
}

// resultAt says a result in a line.
func resultAt(r session.Report, at logbook.Place) string {
	p, ok := r.Phase(at)
	if !ok {
		return "no pass"
	}
	return p.Brief("")
}
