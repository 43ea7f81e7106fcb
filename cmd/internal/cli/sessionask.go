package cli

import (
	"bufio"
	"context"
	"fmt"
	"io"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// ask asks for the reading of each opening on standard error and takes a line of standard input for it; one that names an opening
// by its number may come in between. What cannot be used is kept, and asked for again. note, if any, is said first. named tells that cylinder and phase were typed before the first reading. The error is
// that of the journal, or context.Canceled.
func ask(ctx context.Context, env Env, rec *session.Recorder, sheets session.Sheets, note string) (named bool, err error) {
	lines := linesOf(env.In)
	cylinders := sheets.Engine.Cylinders
	t := session.NewTypist(cylinders)
	named = true
	fmt.Fprintf(env.Err, "Type the dial reading of each opening: last closed/first open, as 2.03/1.98, or - for none.\n"+
		"3*2.03/1.98 is the reading of opening 3, whichever is asked for; 3*- takes it away.\n"+
		"Type # and cylinder and phase, as \"# %s as_left\", to go on to these. End with Ctrl-D.\n", cylinders[0])
	if sheets.Setup.Dial.Zero == timing.ZeroMark {
		fmt.Fprintln(env.Err, "The dial is zeroed at the mark: 0.05 = before the mark; -0.05 = past it, nearer TDC.")
	}
	if note != "" {
		fmt.Fprintf(env.Err, "breakcue: note: %s\n", note)
	}
	for {
		rec.At(t.Place)
		a, n, of, ok := rec.Next()
		switch elsewhere := rec.Elsewhere(); {
		case ok:
			fmt.Fprintf(env.Err, "opening %d of %d, points open at %s; %s, %s: %s", n, of, instant(rec, a, n), t.Place.Cylinder, phaseWords(t.Place.Phase), rec.Half())
		case elsewhere > 0:
			fmt.Fprintf(env.Err, "no opening of the points of %s is left, %d of the others: type # and another cylinder and phase to go on to these: ",
				session.Printable(t.Place.Cylinder), elsewhere)
		default:
			return named, nil
		}
		var line string
		select {
		case <-ctx.Done():
			return named, ctx.Err()
		case line, ok = <-lines:
		}
		if !ok {
			fmt.Fprintln(env.Err)
			return named, nil
		}
		typed, ok, err := t.Line(line)
		if err != nil {
			fmt.Fprintf(env.Err, "%v\n", err)
		}
		if !ok {
			continue
		}
		named = named && t.Named
		unusable, err := rec.Reading(typed)
		if err != nil {
			return named, fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
		}
		switch {
		case unusable != "" && unusable != session.NoReading:
			fmt.Fprintf(env.Err, "kept, but not used: %s\nType the reading again, or - for none.\n", unusable)
			if !session.IsLastClosed(line) {
				rec.Again()
			}
		case typed.Number > 0 && !session.IsLastClosed(line):
			fmt.Fprintln(env.Err, taken(rec, typed.Number))
		}
	}
}

// linesOf gives the lines of in; the channel is closed at its end. The goroutine behind it lives until then, which for a
// terminal may be as long as the process.
func linesOf(in io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		r := bufio.NewReader(in)
		for {
			line, err := r.ReadString('\n')
			if line != "" {
				lines <- line
			}
			if err != nil {
				return
			}
		}
	}()
	return lines
}

// instant says when the points open, and when they do next: between the two lies what was said aloud to a recording.
func instant(rec *session.Recorder, a session.Approach, n int) string {
	out := fmt.Sprintf("%.3f s%s", a.TimeS, together(a))
	if next, ok := rec.Opening(n + 1); ok {
		out += fmt.Sprintf(", next at %.3f s", next.TimeS)
	}
	return out
}

// taken says what an opening has that was named by its number, and where it is counted: what was measured before keeps its place.
func taken(rec *session.Recorder, n int) string {
	a, _ := rec.Opening(n)
	place, _ := rec.PlaceOf(a.ID)
	return fmt.Sprintf("opening %d at %.3f s: taken, as of %s, %s", n, a.TimeS, session.Printable(place.Cylinder), phaseWords(place.Phase))
}

// together says of how many openings an approach is, when there are several.
func together(a session.Approach) string {
	if n := len(a.Openings); n > 1 {
		return fmt.Sprintf(", first of %d in this approach", n)
	}
	return ""
}

func phaseWords(p logbook.Phase) string {
	return session.Printable(p.Words())
}
