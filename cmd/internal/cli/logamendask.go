package cli

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// asker asks for the readings that openings of a session do not have, and writes each before it asks for the next.
type asker struct {
	env      Env
	f        *amendFlags
	w        *logbook.Writer
	journal  logbook.Journal
	correct  *session.Corrector // of journal
	id, name string             // of the session, and as it was typed

	typist  *session.Typist
	only    *logbook.Place // that alone is asked for
	skipped map[spotKey]bool
	half    string // the last reading with the points closed, which waits for its first open one; empty for none
	halfOf  session.Spot

	written           []logbook.Data
	given, none, kept int // lines
}

// spotKey names an approach by its first opening.
type spotKey struct {
	take int
	id   int64
}

func keyOf(s session.Spot) spotKey { return spotKey{s.Take, s.ID} }

// errEnough ends the asking.
var errEnough = errors.New("enough")

// askAll asks until nothing awaits a reading, or nobody gives one any more, and says what came of it.
func (f *amendFlags) askAll(ctx context.Context, env Env, k *asker, before session.Report) error {
	sheets, err := session.SheetsOf(k.journal)
	if err != nil {
		return fail(ExitFailed, "run '"+logCommand("check "+k.name, f.dir)+"'", "%s: %w", k.id, err)
	}
	k.typist, k.skipped = session.NewTypist(sheets.Engine.Cylinders), map[spotKey]bool{}
	if f.count("place") == 1 {
		at, err := k.correct.Place(f.place)
		if err != nil {
			return fail(ExitUsage, "give cylinder and phase, as --place \""+k.correct.AnyPlace()+"\"", "%w", err)
		}
		k.only = &at
	}
	asked := k.ask(ctx)
	after, err := session.FromJournal(k.journal)
	if err == nil {
		err = k.print(before, after)
	}
	return errors.Join(asked, err)
}

// again is the command that goes on with what still waits.
func (k *asker) again() string { return logCommand("amend "+k.name+" --ask", k.f.dir) }

// ask takes line after line. The error is that of the journal or of the input, or context.Canceled.
func (k *asker) ask(ctx context.Context) error {
	if len(k.waiting()) == 0 && k.env.InTTY {
		return nil
	}
	lines := linesOf(k.env.In)
	fmt.Fprint(k.env.Err, "Type the dial reading of each opening: last closed/first open, as 2.03/1.98, - for none; Enter alone skips it.\n"+
		"3*2.03/1.98 is the reading of opening 3, whichever is asked for; 3*- takes it away.\n"+
		"Type # and cylinder and phase, as \"# "+session.Printable(k.correct.AnyPlace())+"\", to go on to these. End with q or Ctrl-D.\n")
	for {
		s, due := k.due()
		if !due && k.env.InTTY && len(k.left()) == 0 {
			return nil
		}
		fmt.Fprint(k.env.Err, k.prompt(s, due))
		var line string
		ok := false
		select {
		case <-ctx.Done():
			fmt.Fprintln(k.env.Err)
			return ctx.Err()
		case line, ok = <-lines:
		}
		if !ok {
			fmt.Fprintln(k.env.Err)
			return nil
		}
		if !k.env.InTTY { // who reads it later sees what was taken for which opening
			fmt.Fprintln(k.env.Err, session.Printable(strings.TrimRight(line, "\r\n")))
		}
		if err := k.line(line, s, due); errors.Is(err, errEnough) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// waiting returns what awaits a reading, of the take that is wanted.
func (k *asker) waiting() (out []session.Spot) {
	for _, s := range k.correct.Awaiting() {
		if k.f.take == 0 || k.f.take == s.Take {
			out = append(out, s)
		}
	}
	return out
}

// left returns what is still to be asked for, at any place.
func (k *asker) left() (out []session.Spot) {
	for _, s := range k.waiting() {
		if !k.skipped[keyOf(s)] {
			out = append(out, s)
		}
	}
	return out
}

// due returns what a line without a number is the reading of.
func (k *asker) due() (session.Spot, bool) {
	if k.half != "" {
		return k.halfOf, true
	}
	for _, s := range k.left() {
		if k.only == nil || s.Place == nil || *s.Place == *k.only {
			return s, true
		}
	}
	return session.Spot{}, false
}

// prompt asks for a reading, or for what else there is to do.
func (k *asker) prompt(s session.Spot, due bool) string {
	switch {
	case due:
		words := k.where(s)
		if s.Next != nil {
			words += fmt.Sprintf(", next at %.3f s", *s.Next)
		}
		if at := k.placeOf(s); at == nil {
			words += ", cylinder and phase not known: type them first, as \"# " + k.correct.AnyPlace() + "\""
		}
		if s.Kept != "" {
			words += fmt.Sprintf(" (%q could not be used)", s.Kept)
		}
		return session.Printable(words) + ": " + k.half
	case len(k.left()) > 0:
		return fmt.Sprintf("no other opening of %s awaits a reading; Enter goes on to the others, q ends: ", placeWords(*k.only))
	}
	return "no other opening awaits a reading; q ends: "
}

// where says which opening it is, and where in which take.
func (k *asker) where(s session.Spot) string {
	words := fmt.Sprintf("opening %d", s.ID)
	if at := k.placeOf(s); at != nil {
		words += ", " + placeWords(*at) + ","
	}
	words += fmt.Sprintf(" at %.3f s of ", s.TimeS)
	if s.File == "" {
		words += fmt.Sprintf("take %d", s.Take)
	} else {
		words += filepath.Base(s.File)
	}
	return words + together(s.Approach)
}

// placeOf returns where the reading of an opening belongs, nil when nothing tells.
func (k *asker) placeOf(s session.Spot) *logbook.Place {
	if s.Place != nil {
		return s.Place
	}
	return k.only
}

// placeWords names a place as people do: "left, as found".
func placeWords(at logbook.Place) string {
	return session.Printable(at.Cylinder) + ", " + phaseWords(at.Phase)
}

// line takes a line; s is what was asked for, where something is due.
func (k *asker) line(line string, s session.Spot, due bool) error {
	switch text := strings.TrimSpace(line); {
	case strings.ContainsRune(text, 0):
		return fail(ExitUsage, "save the readings as UTF-8 text, one a line", "what was typed is not plain text")
	case text == "q", text == "Q":
		return errEnough
	case text == "" && due:
		k.skipped[keyOf(s)] = true
		return k.leaveHalf()
	case text == "":
		k.only = nil
		return nil
	}
	k.typist.Named = false
	typed, ok, err := k.typist.Line(line)
	switch {
	case err != nil:
		fmt.Fprintln(k.env.Err, session.Printable(err.Error()))
		return nil
	case k.typist.Named: // a place
		at := k.typist.Place
		k.only = &at
		return k.leaveHalf()
	case !ok:
		return nil
	case typed.Number > 0:
		named, err := k.numbered(typed.Number, s.Take)
		if err != nil {
			return k.keep(session.Spot{}, typed.Text, err.Error())
		}
		return k.take(named, typed.Text, true)
	case !due:
		return k.keep(session.Spot{}, typed.Text, "no opening was asked for")
	}
	return k.take(s, typed.Text, false)
}

// numbered returns the opening that a number means: in the take that was asked for last, where several have one.
func (k *asker) numbered(n, take int) (session.Spot, error) {
	if k.f.take > 0 {
		take = k.f.take
	}
	if s, err := k.correct.Spot(take, int64(n)); err == nil || k.f.take > 0 {
		return s, err
	}
	return k.correct.Spot(0, int64(n))
}

// take writes the reading of an opening.
func (k *asker) take(s session.Spot, text string, numbered bool) error {
	text = strings.TrimSpace(text)
	at := k.placeOf(s)
	if at == nil {
		return k.keep(session.Spot{}, text, "nothing tells its cylinder and phase: type these first, as \"# "+k.correct.AnyPlace()+"\"")
	}
	if session.IsLastClosed(text) {
		return k.takeHalf(s, *at, text)
	}
	own := k.half != "" && keyOf(k.halfOf) == keyOf(s)
	if own {
		text = session.Completed(k.half, text)
	}
	if why := k.correct.Unusable(text); why != "" && why != session.NoReading {
		return k.keep(s, text, why)
	}
	of, err := k.correct.Give(s.Take, s.ID, at, text)
	if err == nil && of.New == nil && len(of.Changes) == 0 {
		fmt.Fprintf(k.env.Err, "%s: it says so already\n", k.where(s))
		return nil
	}
	var data []logbook.Data
	if err == nil {
		data, _, err = k.correct.Entries(of, k.w.Next(), k.f.why, k.f.who)
	}
	if err != nil {
		return k.keep(session.Spot{}, text, err.Error())
	}
	if own {
		k.half = ""
	} else if k.half != "" { // it still waits: a reading came, but for another opening
		data = append(data, k.correct.Half(k.halfOf, *k.placeOf(k.halfOf), k.half))
	}
	if err := k.write(text, data...); err != nil {
		return err
	}
	if text == timing.NoReading {
		k.none++
	} else {
		k.given++
	}
	is, err := k.correct.Spot(s.Take, s.ID)
	switch {
	case err != nil:
		return err
	case is.Unused != "" && text != timing.NoReading:
		fmt.Fprintf(k.env.Err, "taken, but not used: %s\n", session.Printable(is.Unused))
	case numbered:
		fmt.Fprintf(k.env.Err, "%s: taken\n", k.where(is))
	}
	return nil
}

// takeHalf writes a last reading with the points closed, and lets it wait for its first open one.
func (k *asker) takeHalf(s session.Spot, at logbook.Place, text string) error {
	half := k.correct.Half(s, at, text)
	if err := k.write(text, half); err != nil {
		return err
	}
	if d, ok := half.(logbook.LastClosed); ok && d.Unusable != "" {
		k.kept++
		fmt.Fprintf(k.env.Err, "kept, but not used: %s\n", session.Printable(d.Unusable))
		return nil
	}
	if keyOf(k.halfOf) != keyOf(s) { // else it was read again while creeping on
		if err := k.leaveHalf(); err != nil {
			return err
		}
	}
	k.half, k.halfOf = text, s
	k.halfOf.Place = &at
	return nil
}

// leaveHalf keeps a first half without the other, so that its opening goes on waiting.
func (k *asker) leaveHalf() error {
	if k.half == "" {
		return nil
	}
	text := k.half
	k.half = ""
	return k.keep(k.halfOf, text, k.correct.Unusable(text))
}

// keep writes a reading that cannot be used; s is its opening, where it has one. A terminal is asked again, a pipe goes on to the
// next: its lines are one for each opening.
func (k *asker) keep(s session.Spot, text, why string) error {
	d := logbook.Reading{Text: strings.TrimSpace(text), Take: s.Take, Opening: s.ID, Unusable: why}
	at := k.placeOf(s)
	if at == nil {
		at = &k.typist.Place
	}
	d.Cylinder, d.Phase = at.Cylinder, at.Phase
	if err := k.write(d.Text, d); err != nil {
		return err
	}
	k.kept++
	fmt.Fprintf(k.env.Err, "kept, but not used: %s\n", session.Printable(why))
	if !k.env.InTTY && s.ID > 0 {
		k.skipped[keyOf(s)] = true
		if keyOf(k.halfOf) == keyOf(s) {
			k.half = ""
		}
	}
	return nil
}

// write writes entries, and works out anew what awaits a reading. text is what was typed, for the error.
func (k *asker) write(text string, data ...logbook.Data) error {
	entries, err := k.w.AppendAll(data...)
	if err != nil {
		return fail(ExitFailed, "make room on the disk; '"+k.again()+"' goes on with what still waits", "%s: reading %q is not in the log: %w", k.id, text, err)
	}
	k.journal.Entries = append(k.journal.Entries, entries...)
	k.written = append(k.written, data...)
	k.correct, err = session.NewCorrector(k.journal)
	return err
}

// print says what was given, what came of it, and what still waits.
func (k *asker) print(before, after session.Report) error {
	if k.f.asJSON {
		if k.written == nil {
			k.written = []logbook.Data{}
		}
		return printJSON(k.env.Out, amended{"breakcue.log-amend/1", k.id, k.written, before, after})
	}
	var b strings.Builder
	fmt.Fprintf(&b, "readings given: %d", k.given)
	if k.none > 0 {
		fmt.Fprintf(&b, "; none: %d", k.none)
	}
	if k.kept > 0 {
		fmt.Fprintf(&b, "; kept, but not used: %d", k.kept)
	}
	fmt.Fprintln(&b)
	if len(k.written) > 0 {
		printChanged(&b, before, after)
	}
	waiting := k.correct.Awaiting()
	k.only = nil // the place that was asked for is not known to be theirs
	if len(waiting) == 0 {
		fmt.Fprintln(&b, "no opening awaits a reading")
	}
	for _, s := range waiting {
		fmt.Fprintln(&b, session.Printable("still awaits a reading: "+k.where(s)))
	}
	if len(waiting) > 0 {
		fmt.Fprintf(&b, "'%s' asks for them\n", session.Printable(k.again()))
	}
	_, err := k.env.Out.Write([]byte(b.String()))
	return err
}
