package cli

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
)

// helpOf returns what --help prints of a command.
func helpOf(t *testing.T, path string) string {
	var out bytes.Buffer
	env := Env{Out: &out, Err: &out, Getenv: func(string) string { return "" }, Now: time.Now}
	require.Equal(t, ExitOK, Main(context.Background(), append(strings.Fields(path)[1:], "--help"), env))
	return out.String()
}

// What stands at the left edge is prose, and what stands under "Flags:" is about flags: both fit a terminal of the usual width.
func TestHelpFitsATerminal(t *testing.T) {
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		text := helpOf(t, c.CommandPath())
		assert.NotContains(t, text, "(default )", c.CommandPath())
		flags := false
		for line := range strings.Lines(text) {
			flags = flags && strings.HasPrefix(line, " ") || strings.HasPrefix(line, "Flags:")
			if flags || !strings.HasPrefix(line, " ") {
				assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), session.Columns, "%s: %s", c.CommandPath(), line)
			}
		}
		for _, sub := range c.Commands() {
			visit(sub)
		}
	}
	visit(newRoot(Env{Out: &bytes.Buffer{}, Err: &bytes.Buffer{}, Getenv: func(string) string { return "" }, Now: time.Now}))
}

func TestListsInHelpStayAsTheyAre(t *testing.T) {
	long := strings.Repeat("word ", 20)
	assert.Equal(t, strings.TrimSpace(strings.Repeat("word ", 16))+"\n"+strings.TrimSpace(strings.Repeat("word ", 4))+"\n\n  a  "+long+"\nend",
		fill(long+"\n\n  a  "+long+"\nend"))
}
