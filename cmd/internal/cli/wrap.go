package cli

import (
	"fmt"
	"io"
	"strings"

	"breakcue/cmd/internal/session"
)

// wrapped writes sentences over as many lines of a terminal as they need, the first one indented as given and the others by
// two columns more.
func wrapped(w io.Writer, indent, format string, args ...any) {
	words := strings.Fields(session.Printable(fmt.Sprintf(format, args...)))
	for i, line := range session.Wrap(words, " ", screenColumns-len(indent)-2) {
		if i > 0 {
			line = "  " + line
		}
		fmt.Fprintln(w, indent+line)
	}
}
