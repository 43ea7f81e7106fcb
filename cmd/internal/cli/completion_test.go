package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// completed returns what a shell is told for a command line, the last argument being typed, and the directive.
func completed(t *testing.T, env Env, args ...string) (offered []string, directive string) {
	t.Helper()
	var out bytes.Buffer
	env.Out, env.Err = &out, &bytes.Buffer{}
	require.Equal(t, ExitOK, Main(t.Context(), append([]string{cobra.ShellCompRequestCmd}, args...), env))
	all := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
	return all[:len(all)-1], all[len(all)-1]
}

// The directives are those of cobra's shell scripts, which the numbers are sent to.
func TestCompletion(t *testing.T) {
	const anything, nothing, ext, dirs, inOrder = ":0", ":4", ":8", ":16", ":36"
	env := Env{Getenv: func(string) string { return "" }}
	for _, tc := range []struct {
		args      string
		offered   []string
		directive string
	}{
		{"dial --engine ", []string{"toml"}, ext},
		{"session --dial ", []string{"toml"}, ext},
		{"convert 2mm --engine ", []string{"toml"}, ext},
		{"session --input ", []string{"wav"}, ext},
		{"listen --record ", []string{"wav"}, ext},
		{"session --readings ", nil, anything},
		{"tdc --points ", nil, anything},
		{"log list --dir ", nil, dirs},
		{"listen --wiring ", []string{"series\tin line: points closed = tone", "shunt\tacross: points open = tone"}, inOrder},
		{"review x.wav --wiring s", []string{"series\tin line: points closed = tone", "shunt\tacross: points open = tone"}, inOrder},
		{"session --approach ", []string{"auto\t300ms when that fits the readings", "0\teach opening stands for itself", "300ms\tusual for points that part slowly"}, inOrder},
		{"session --name ", nil, nothing},
		{"circuit --coil-end ", []string{"battery\talso other loads", "nothing"}, inOrder},
		{"circuit cables across --drawing ", []string{"svg"}, ext},
		{"circuit --plot ", nil, anything},
		{"listen --rate ", nil, nothing},
		{"sheet check ", []string{"toml"}, ext},
		{"sheet check a.toml ", []string{"toml"}, ext},
		{"sheet new ", []string{"engine", "dial"}, nothing},
		{"sheet new engine ", []string{"toml"}, ext},
		{"sheet new engine x.toml ", nil, nothing},
		{"review ", []string{"wav"}, ext},
		{"dial ", nil, nothing},
		{"dia", []string{"dial\tTell what the dial must show at the mark, at each end of the tolerance and at top dead centre"}, nothing},
	} {
		args := strings.Split(tc.args, " ")
		offered, directive := completed(t, env, args...)
		assert.Equal(t, strings.Join(tc.offered, "\n"), strings.Join(offered, "\n"), tc.args)
		assert.Equal(t, tc.directive, directive, tc.args)
	}
	offered, _ := completed(t, env, "")
	for _, c := range commands(env) {
		assert.Contains(t, offered, c.Name()+"\t"+c.Short)
	}
}

// Sessions are offered newest first, with their engine, from the folder that --dir names.
func TestCompletionOfSessions(t *testing.T) {
	root := t.TempDir()
	for i, name := range []string{"punt", "twin", "hoist"} {
		now := func() time.Time { return time.Date(2026, 5, 4+i, 10, 0, 0, 0, time.UTC) }
		w, err := logbook.Create(root, name, logbook.Begin{Tool: "breakcue", Engine: "The " + name}, now)
		require.NoError(t, err)
		if reason := map[string]string{"twin": logbook.Finished, "hoist": "left"}[name]; reason != "" {
			_, err = w.Append(logbook.End{Reason: reason})
			require.NoError(t, err)
		}
		require.NoError(t, w.Close())
	}
	require.NoError(t, os.Mkdir(filepath.Join(root, "2026-05-08-no-session"), 0o755))
	env := Env{Getenv: func(string) string { return "" }}
	offered, directive := completed(t, env, "log", "show", "--dir", root, "")
	assert.Equal(t, ":36", directive, "kept in order, and no files")
	require.Len(t, offered, 3)
	assert.Regexp(t, `^2026-05-06-.*hoist\tThe hoist$`, offered[0])
	assert.Regexp(t, `^2026-05-05-.*twin\tThe twin$`, offered[1])
	assert.Regexp(t, `^2026-05-04-.*punt\tThe punt$`, offered[2])
	offered, _ = completed(t, env, "log", "show", "--dir", root, "2026-05-05")
	assert.Len(t, offered, 1)
	offered, _ = completed(t, env, "log", "show", "--dir", root, "2026-05-05", "")
	assert.Empty(t, offered, "it takes one")
	offered, directive = completed(t, env, "session", "--dir", root, "--resume=")
	assert.Equal(t, ":36", directive)
	require.Len(t, offered, 2, "those that were not finished")
	assert.Regexp(t, `^2026-05-06-.*hoist\tThe hoist$`, offered[0])
	offered, directive = completed(t, env, "log", "show", "--dir", filepath.Join(root, "none"), "")
	assert.Empty(t, offered)
	assert.Equal(t, ":36", directive)
	offered, _ = completed(t, env, "log", "show", "")
	assert.Empty(t, offered, "no folder of this user is known")
}

// No flag, and no command, is named in a table and nowhere else.
func TestNothingIsCompletedThatThereIsNot(t *testing.T) {
	paths, flags := map[string]bool{}, map[string]bool{}
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		paths[c.CommandPath()] = true
		c.LocalFlags().VisitAll(func(f *pflag.Flag) { flags[f.Name] = true })
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(Env{}))
	for name := range flagAnswers {
		assert.True(t, flags[name], name)
	}
	for path := range argumentAnswers {
		assert.True(t, paths[path], path)
	}
}

// The scripts for the shells are made without a fault.
func TestCompletionScripts(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		var out, errs bytes.Buffer
		assert.Equal(t, ExitOK, Main(t.Context(), []string{"completion", shell}, Env{Out: &out, Err: &errs}))
		assert.Contains(t, out.String(), "breakcue", shell)
		assert.Empty(t, errs.String())
	}
}
