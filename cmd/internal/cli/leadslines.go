package cli

import (
	"context"
	"fmt"
	"io"
	"strings"

	"breakcue/cmd/internal/session"
)

// leadsLines shows a check as lines, and takes lines for keys.
type leadsLines struct {
	*leadsRun
	w     io.Writer
	lines <-chan string // nil: the input has ended
	waits bool          // nothing sounds while a line is waited for: the bench, which has no clock then

	begun bool
	at    int  // where the guide stood when it was last shown
	busy  bool // it measured then
	asked bool // the prompt was printed
	more  bool // the list of steps was printed
	made  int  // measurements told
}

func (l *leadsLines) ends() bool { return true }

// show tells what is new.
func (l *leadsLines) show() {
	g := l.guide
	if !l.begun {
		l.begun, l.at = true, -2
		l.say("", l.flags.heading(l.card))
		if l.flags.bench.on {
			l.say("", l.flags.bench.says(l.flags.made))
		}
	}
	if g.measuring && !l.busy {
		fmt.Fprintln(l.w, "  measuring, some seconds: keep still")
	}
	if l.busy && !g.measuring {
		l.asked = false
		l.tellMeasured()
	}
	l.busy = g.measuring
	if g.note != "" {
		l.say("  ", g.note)
		g.note, l.asked = "", false
	}
	if g.more != l.more {
		if l.more = g.more; g.more {
			fmt.Fprint(l.w, strings.Join(l.moreLines(), "\n"), "\n")
		}
		l.asked = false
	}
	if l.at != g.at {
		l.at, l.asked = g.at, false
		l.tellStep()
	}
}

// say writes a sentence.
func (l *leadsLines) say(indent, text string) {
	wrappedWithin(l.w, l.env.columns(), indent, session.Printable(text))
}

// tellStep says what to do at the step at hand.
func (l *leadsLines) tellStep() {
	g := l.guide
	s, ok := g.step()
	switch {
	case g.at < 0:
		fmt.Fprintf(l.w, "step 1 of %d: make it safe\n", len(g.steps)+1)
		for _, care := range leadsCare {
			l.say("  ", "! "+care)
		}
	case ok:
		fmt.Fprintf(l.w, "step %d of %d: %s\n", g.at+2, len(g.steps)+1, leadsTitle(s))
		l.say("  ", leadsDo(s, l.check.Result().Wiring))
	}
}

// tellMeasured says what the step that was measured came to.
func (l *leadsLines) tellMeasured() {
	g := l.guide
	if len(g.order) == l.made {
		fmt.Fprintln(l.w, "  left off")
		return
	}
	l.made = len(g.order)
	s := g.order[l.made-1]
	fmt.Fprintf(l.w, "  %s: %s\n", leadsTitle(s), l.flags.backWords(g.done[s].Power))
	for _, f := range g.told[s] {
		l.say("  ", "! "+f.Text+doWords(f))
	}
}

// key takes a line when one is asked for.
func (l *leadsLines) key(ctx context.Context) (key string, ok bool, err error) {
	busy := l.guide.measuring && l.env.InTTY // somebody may leave off, and an Enter that came too early must not measure the next step
	if !busy && !l.waiting() || l.guide.over() {
		return "", false, nil
	}
	if !busy && !l.asked {
		l.asked = true
		fmt.Fprint(l.w, l.prompt())
	}
	if l.waits {
		select {
		case <-ctx.Done():
			return "", false, context.Cause(ctx)
		case line, open := <-l.lines:
			return l.line(line, open)
		}
	}
	select {
	case line, open := <-l.lines:
		return l.line(line, open)
	default:
		return "", false, nil
	}
}

func (l *leadsLines) line(line string, open bool) (string, bool, error) {
	if !l.env.InTTY || !open {
		fmt.Fprintln(l.w) // nobody has typed Enter here
	}
	if !open {
		return "", false, io.EOF
	}
	return strings.TrimSpace(line), true, nil
}

// prompt says what the keys do.
func (l *leadsLines) prompt() string {
	g := l.guide
	hears := fmt.Sprintf("  comes back now: %s\n", l.hears())
	switch {
	case g.more:
		return "a digit: "
	case g.at < 0:
		return keysLeadsSafe + ": "
	case len(g.wrong()) > 0:
		return hears + keysLeadsWrong + "  q: end: "
	}
	return hears + keysLeadsStep + ": "
}
