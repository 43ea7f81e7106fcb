package cli

import (
	"fmt"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// tellLost prints readings that came from standard input, and so are nowhere else, and that could not be written into the log: as
// lines that can be put into a file.
func (f *sessionFlags) tellLost(env Env, typed []session.Typed) {
	if f.readings != "" && f.readings != standardInput || len(typed) == 0 {
		return
	}
	note(env, "these readings are not in the log; keep them in a file for --readings:")
	at := logbook.Place{}
	for _, t := range typed {
		if t.Place != at {
			fmt.Fprintf(env.Err, "# %s %s\n", session.Printable(t.Place.Cylinder), session.Printable(string(t.Place.Phase)))
			at = t.Place
		}
		if t.Number > 0 {
			fmt.Fprintf(env.Err, "%d*", t.Number)
		}
		fmt.Fprintln(env.Err, session.Printable(t.Text))
	}
}
