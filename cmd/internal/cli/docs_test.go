package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The two documents quote commands, flags, make targets and paths. Each must be one that exists.
func TestDocuments(t *testing.T) {
	root := filepath.Join("..", "..", "..")
	makefile, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	for _, doc := range []string{"README.md", "DEVELOPERS.md"} {
		text, err := os.ReadFile(filepath.Join(root, doc))
		require.NoError(t, err)
		seen := 0
		for _, code := range codeIn(string(text)) {
			if m := regexp.MustCompile(`(?:^|[ /])breakcue ([^|>]+)`).FindStringSubmatch(code); m != nil {
				seen++
				assert.NoError(t, parses(strings.Fields(m[1])), "%s: %s", doc, code)
			}
			if m := regexp.MustCompile(`(?:^| )make ([a-z-]+)`).FindStringSubmatch(code); m != nil {
				seen++
				assert.Regexp(t, `(?m)^`+m[1]+`:`, string(makefile), "%s: %s", doc, code)
			}
			if m := regexp.MustCompile(`^--([a-z-]+)`).FindStringSubmatch(code); m != nil {
				assert.True(t, anyHasFlag(newRoot(Env{}), m[1]), "%s: no command has %s", doc, code)
			}
			if regexp.MustCompile(`^[a-zA-Z.][\w.-]*/[\w./-]*$`).MatchString(code) && code != "bin/breakcue" {
				_, err := os.Stat(filepath.Join(root, code))
				assert.NoError(t, err, doc)
			}
		}
		assert.Greater(t, seen, 5, "%s: the commands were not found", doc)
	}
}

// The README names every command and every exit code, and no other code.
func TestTheReadmeIsWhole(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "README.md"))
	require.NoError(t, err)
	text := string(data)
	for _, c := range commands(Env{}) {
		assert.Regexp(t, `(?m)^    breakcue `+c.Name()+`\b`, text)
	}
	var codes []string
	for _, m := range regexp.MustCompile(`(?m)^\| (\d+) \|`).FindAllStringSubmatch(text, -1) {
		codes = append(codes, m[1])
	}
	var want []string
	for _, code := range []int{ExitOK, ExitFailed, ExitUsage, ExitInconclusive, ExitAudio, ExitInterrupted, ExitTerminated} {
		want = append(want, strconv.Itoa(code))
	}
	assert.Equal(t, want, codes)
}

// codeIn returns the lines of indented and fenced blocks, comments and descriptions cut off, and the inline code.
func codeIn(text string) []string {
	var list []string
	fenced := false
	for line := range strings.SplitSeq(text, "\n") {
		if strings.HasPrefix(line, "```") {
			fenced = !fenced
			continue
		}
		if block, ok := strings.CutPrefix(line, "    "); ok || fenced {
			block = strings.TrimPrefix(strings.TrimSpace(block), "$ ")
			block, _, _ = strings.Cut(block, "  ")
			block, _, _ = strings.Cut(block, " #")
			list = append(list, block)
			continue
		}
		for _, m := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(line, -1) {
			list = append(list, m[1])
		}
	}
	return list
}

// parses tells whether args name a command, with flags and arguments that it takes. It runs nothing.
func parses(args []string) error {
	if args[0] == "COMMAND" { // stands for any
		args = []string{"review", "x.wav"}
	}
	c, rest, err := newRoot(Env{}).Find(args)
	if err != nil {
		return err
	}
	if !c.HasParent() {
		return fail(ExitUsage, "", "no command %q", args[0])
	}
	if err := c.ParseFlags(rest); err != nil {
		return err
	}
	if err := c.ValidateRequiredFlags(); err != nil {
		return err
	}
	return c.ValidateArgs(c.Flags().Args())
}

func anyHasFlag(c *cobra.Command, name string) bool {
	if c.Flags().Lookup(name) != nil || name == "help" || name == "version" {
		return true
	}
	for _, sub := range c.Commands() {
		if anyHasFlag(sub, name) {
			return true
		}
	}
	return false
}
