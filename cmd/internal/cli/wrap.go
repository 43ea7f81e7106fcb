package cli

import (
	"fmt"
	"io"

	"breakcue/cmd/internal/session"
)

// wrapped writes a sentence over as many lines of a terminal as it needs, the first one indented as given.
func wrapped(w io.Writer, indent, format string, args ...any) {
	wrappedWithin(w, session.Columns, indent, session.Printable(fmt.Sprintf(format, args...)))
}

// wrappedWithin does so for a terminal of so many columns.
func wrappedWithin(w io.Writer, columns int, indent, text string) {
	for _, line := range session.SentenceWithin(columns, indent, text) {
		fmt.Fprintln(w, line)
	}
}

// columns is how wide sentences may be on the terminal: as it is, where it is narrower than usual.
func (e Env) columns() int {
	if e.Columns == nil {
		return session.Columns
	}
	if n := e.Columns(); n >= leastColumns && n < session.Columns {
		return n
	}
	return session.Columns
}

// leastColumns is how many a terminal has in which a sentence can be read.
const leastColumns = 20
