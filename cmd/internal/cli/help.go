package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
)

// fitHelp keeps what --help prints of a command, and of those below it, within the width of a terminal: the sentences of the
// long text are filled anew, and the flags broken beside their names.
func fitHelp(c *cobra.Command) {
	c.Long = fill(c.Long)
	for _, sub := range c.Commands() {
		fitHelp(sub)
	}
}

// usageTemplate is the usual one with the flags broken at the width of a terminal.
func usageTemplate(usual string) string {
	return strings.ReplaceAll(usual, ".FlagUsages", fmt.Sprintf(".FlagUsagesWrapped %d", session.Columns))
}

// fill breaks every run of lines that begin at the left edge anew. Indented lines are lists and commands, and stay as they are.
func fill(text string) string {
	var out, words []string
	flush := func() {
		out = append(out, session.Wrap(words, " ", session.Columns)...)
		words = nil
	}
	for _, line := range strings.Split(text, "\n") {
		if line == "" || strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t") {
			flush()
			out = append(out, line)
			continue
		}
		words = append(words, strings.Fields(line)...)
	}
	flush()
	return strings.Join(out, "\n")
}
