package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The session that the README shows is run, and must print what the README says.
func TestTheSessionInTheReadme(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "README.md"))
	require.NoError(t, err)
	_, block, ok := strings.Cut(string(text), "<!-- session -->")
	require.True(t, ok)
	block, _, _ = strings.Cut(block, "<!-- /session -->")
	var args []string
	for line := range strings.SplitSeq(block, "\n") {
		if cmd, ok := strings.CutPrefix(strings.TrimSpace(line), "$ bin/breakcue "); ok {
			args = strings.Fields(cmd)
		}
		if file, ok := strings.CutPrefix(strings.TrimSpace(line), "$ cat "); ok {
			want, err := os.ReadFile(filepath.Join("..", "..", "..", file))
			require.NoError(t, err)
			assert.Contains(t, strings.ReplaceAll(block, "\n    ", "\n"), string(want), "what the file holds")
		}
	}
	require.NotEmpty(t, args)
	_, want, ok := strings.Cut(block, "```\n")
	require.True(t, ok)
	want, _, _ = strings.Cut(want, "```")

	t.Chdir(filepath.Join("..", "..", ".."))
	var out, errs bytes.Buffer
	env := Env{In: strings.NewReader(""), Out: &out, Err: &errs, Getenv: func(string) string { return "" }, Now: time.Now}
	code := Main(context.Background(), append(args, "--dir", t.TempDir()), env)
	assert.Equal(t, ExitOK, code, errs.String())
	assert.Equal(t, want, out.String())
}
