package cli

import (
	"fmt"
	"io"

	"breakcue/cmd/internal/session"
)

// wrapped writes a sentence over as many lines of a terminal as it needs, the first one indented as given.
func wrapped(w io.Writer, indent, format string, args ...any) {
	for _, line := range session.Sentence(indent, session.Printable(fmt.Sprintf(format, args...))) {
		fmt.Fprintln(w, line)
	}
}
