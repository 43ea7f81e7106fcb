package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pages writes the manual and returns its pages by the name of their file.
func pages(t *testing.T) map[string]string {
	dir := filepath.Join(t.TempDir(), "man", "man1")
	var out, errs bytes.Buffer
	require.Equal(t, ExitOK, Main(t.Context(), []string{"manual", "--dir", dir}, Env{Out: &out, Err: &errs}))
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Equal(t, strconv.Itoa(len(files))+" pages in "+dir+"\n", out.String())
	list := map[string]string{}
	for _, f := range files {
		text, err := os.ReadFile(filepath.Join(dir, f.Name()))
		require.NoError(t, err)
		list[f.Name()] = string(text)
	}
	return list
}

// Every command that people are told of has a page with its flags, which names the pages above and below; the same program
// writes the same pages.
func TestEveryCommandHasAPage(t *testing.T) {
	all := pages(t)
	assert.Equal(t, all, pages(t))
	n := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		n++
		page, ok := all[pageName(c)+".1"]
		require.True(t, ok, c.CommandPath())
		for _, f := range flagsOf(c) {
			assert.Contains(t, page, `\fB\-\-`+hard(f.name)+`\fR`, c.CommandPath())
		}
		if c.HasParent() {
			assert.Contains(t, page, ".BR "+hard(pageName(c.Parent()))+" (1)")
		}
		for _, sub := range c.Commands() {
			if sub.Hidden || sub.Name() == "help" {
				continue
			}
			assert.Contains(t, page, ".BR "+hard(pageName(sub))+" (1)")
			walk(sub)
		}
	}
	walk(newRoot(Env{}))
	assert.Len(t, all, n, "and there is no other page")
}

// The pages keep to few macros of man(7), rightly nested, and nothing of a text is taken for one.
func TestThePagesAreWellFormed(t *testing.T) {
	known := []string{".TH", ".SH", ".TP", ".PP", ".nf", ".fi", ".BR"}
	escapes := regexp.MustCompile(`\\(.)`)
	for name, page := range pages(t) {
		lines := strings.Split(strings.TrimSuffix(page, "\n"), "\n")
		assert.Regexp(t, `^\.TH [A-Z-]+ 1 \d{4}-\d\d-\d\d breakcue "breakcue manual"$`, lines[0], name)
		literal := false
		for i, l := range lines {
			assert.NotContains(t, l, "\t", "%s:%d", name, i+1)
			for _, e := range escapes.FindAllStringSubmatch(l, -1) {
				assert.Contains(t, []string{"-", "f", "(", "e", "&"}, e[1], "%s:%d", name, i+1)
			}
			if !strings.HasPrefix(l, ".") {
				assert.False(t, strings.HasPrefix(l, "'"), "%s:%d: %s", name, i+1, l)
				assert.True(t, literal || l != "", "%s:%d: an empty line", name, i+1)
				continue
			}
			macro, _, _ := strings.Cut(l, " ")
			assert.True(t, slices.Contains(known, macro), "%s:%d: %s", name, i+1, l)
			switch macro {
			case ".nf":
				assert.False(t, literal, "%s:%d", name, i+1)
				literal = true
			case ".fi":
				assert.True(t, literal, "%s:%d", name, i+1)
				literal = false
			default:
				assert.False(t, literal, "%s:%d: %s", name, i+1, l)
			}
		}
		assert.False(t, literal, name)
	}
	session := pages(t)["breakcue-session.1"]
	assert.Contains(t, session, "\n  2.03/1.98           last reading with points closed / first with points open\n")
	assert.Contains(t, session, "\n  # left as_found     cylinder and phase (as_found or as_left) of the readings\n                      that follow\n.fi\n")
	assert.Contains(t, session, ".TP\n\\fB\\-\\-for\\fR \\fIDURATION\\fR\n")
	assert.Contains(t, session, ".TP\n\\fB\\-\\-resume\\fR\\fI[=STRING]\\fR\n")
	assert.Contains(t, session, ".TP\n\\fB\\-\\-json\\fR\nprint one JSON object\n")
}

func TestALineThatLooksLikeAMacro(t *testing.T) {
	p := &manPage{}
	p.text("'one' .. \\two~`^\n.three --four\n\n  .five '\\-six")
	assert.Equal(t, "\\(aqone\\(aq .. \\etwo\\(ti\\(ga\\(ha\n\\&.three \\-\\-four\n.PP\n.nf\n  .five \\(aq\\e\\-six\n.fi\n", p.String())
}

// What the exit codes mean stands in the README and in the manual alike.
func TestTheExitCodesOfTheManual(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "..", "README.md"))
	require.NoError(t, err)
	for _, e := range exitMeanings {
		assert.Contains(t, string(readme), "\n| "+strconv.Itoa(e.code)+" | "+e.means+" |\n")
	}
	assert.Contains(t, pages(t)["breakcue.1"], ".SH EXIT STATUS\n.TP\n\\fB0\\fR\ndone; ")
}

func TestTheManualRefused(t *testing.T) {
	var out, errs bytes.Buffer
	assert.Equal(t, ExitUsage, Main(t.Context(), []string{"manual"}, Env{Out: &out, Err: &errs}))
	assert.Contains(t, errs.String(), "manual needs a folder for the pages: --dir DIR")
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	assert.Equal(t, ExitFailed, Main(t.Context(), []string{"manual", "--dir", file}, Env{Out: &out, Err: &errs}))
	assert.Contains(t, errs.String(), "hint: name a folder that can be written")
	assert.Empty(t, out.String())
}
