package cli

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
)

func newManual(env Env) *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use:   "manual",
		Short: "Write the manual pages of all commands",
		Long: `Write the manual pages of all commands, for the program man, into a folder; pages of before are replaced. They say what
--help says. In a folder of man's own, such as ~/.local/share/man/man1, "man breakcue" then shows the first one; elsewhere
"man -l breakcue.1" does.`,
		Example: "  breakcue manual --dir ~/.local/share/man/man1\n  man breakcue",
		Args:    exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if dir == "" {
				return fail(ExitUsage, "give it as --dir ~/.local/share/man/man1", "manual needs a folder for the pages: --dir DIR")
			}
			n, err := writePages(c.Root(), dir)
			if err != nil {
				return fail(ExitFailed, "name a folder that can be written with --dir", "%w", err)
			}
			_, err = fmt.Fprintf(env.Out, "%d pages in %s\n", n, session.Printable(dir))
			return err
		},
	}
	c.Flags().StringVar(&dir, "dir", "", "folder for the pages, made when it is not there")
	return c
}

// writePages writes the page of every command, and tells how many.
func writePages(root *cobra.Command, dir string) (n int, err error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return 0, err
	}
	for _, c := range withPages(root) {
		if err := os.WriteFile(filepath.Join(dir, pageName(c)+".1"), manualPage(c), 0o644); err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// withPages returns a command and all below it that people are told of.
func withPages(c *cobra.Command) []*cobra.Command {
	list := []*cobra.Command{c}
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			list = append(list, withPages(sub)...)
		}
	}
	return list
}

// pageName is the name of a command's page, as man is asked for it.
func pageName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// manualDate stands on every page, so that the same program writes the same pages whenever it is run.
const manualDate = "2026-11-28"

// exitMeanings are the exit codes and what they mean.
var exitMeanings = []struct {
	code  int
	means string
}{
	{ExitOK, `done; every verdict is a result, "out of tolerance" too`},
	{ExitFailed, "failed: a file, a sheet or the disk"},
	{ExitUsage, "wrong usage"},
	{ExitInconclusive, "open cannot be told from closed"},
	{ExitAudio, "no sound card, or no live audio in this build"},
	{ExitInterrupted, "interrupted (Ctrl-C)"},
	{ExitTerminated, "told to end by another program, or its window was closed"},
}

// manualPage returns the page of a command, in the macros of man(7).
func manualPage(c *cobra.Command) []byte {
	p := &manPage{}
	p.macro(".TH %s 1 %s breakcue \"breakcue manual\"", strings.ToUpper(pageName(c)), manualDate)
	p.macro(".SH NAME")
	p.macro("%s \\- %s", hard(pageName(c)), soft(c.Short))
	p.macro(".SH SYNOPSIS")
	path := c.CommandPath()
	args := strings.TrimSpace(strings.TrimPrefix(c.UseLine(), path))
	if args == "" && c.HasSubCommands() {
		args = "COMMAND"
	}
	p.macro("\\fB%s\\fR %s", hard(path), soft(args))
	p.macro(".SH DESCRIPTION")
	long := c.Long
	if long == "" {
		long = c.Short + "."
	}
	p.text(long)
	if subs := slices.DeleteFunc(slices.Clone(c.Commands()), func(sub *cobra.Command) bool { return !sub.IsAvailableCommand() }); len(subs) > 0 {
		p.macro(".SH COMMANDS")
		for _, sub := range subs {
			p.item("\\fB"+hard(sub.Name())+"\\fR", sub.Short)
		}
	}
	p.options(c)
	if c.Example != "" {
		p.macro(".SH EXAMPLES")
		p.literal(strings.Split(c.Example, "\n"))
	}
	if !c.HasParent() {
		p.macro(".SH EXIT STATUS")
		for _, e := range exitMeanings {
			p.item(fmt.Sprintf("\\fB%d\\fR", e.code), e.means)
		}
	}
	p.related(c)
	return p.Bytes()
}

// manPage is a page being written.
type manPage struct{ bytes.Buffer }

// macro writes a line as it is.
func (p *manPage) macro(format string, args ...any) { fmt.Fprintf(p, format+"\n", args...) }

// item writes a term and what it means.
func (p *manPage) item(term, means string) {
	p.macro(".TP\n%s", term)
	p.macro("%s", line(soft(strings.Join(strings.Fields(means), " "))))
}

// text writes a help text: its paragraphs flow, lines that are set in stay as they are.
func (p *manPage) text(long string) {
	lines := strings.Split(strings.Trim(long, "\n"), "\n")
	for i := 0; i < len(lines); {
		n := i
		for n < len(lines) && setIn(lines[n]) {
			n++
		}
		switch {
		case n > i:
			p.macro(".PP")
			p.literal(lines[i:n])
			i = n
			continue
		case lines[i] != "":
			p.macro("%s", line(soft(lines[i])))
		case i+1 < len(lines) && !setIn(lines[i+1]) && lines[i+1] != "":
			p.macro(".PP")
		}
		i++
	}
}

// setIn tells that a line of a help text is not one of a paragraph.
func setIn(line string) bool { return strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t") }

// literal writes lines that are set in, each as it is.
func (p *manPage) literal(lines []string) {
	p.macro(".nf")
	for _, l := range lines {
		p.macro("%s", line(hard(strings.ReplaceAll(l, "\t", "  "))))
	}
	p.macro(".fi")
}

// options writes the flags.
func (p *manPage) options(c *cobra.Command) {
	c.InitDefaultHelpFlag()
	c.InitDefaultVersionFlag()
	p.macro(".SH OPTIONS")
	for _, f := range flagsOf(c) {
		term := "\\fB\\-\\-" + hard(f.name) + "\\fR"
		if f.short != "" {
			term = "\\fB\\-" + hard(f.short) + "\\fR, " + term
		}
		switch {
		case strings.HasPrefix(f.value, "["):
			term += "\\fI" + hard(f.value) + "\\fR"
		case f.value != "":
			term += " \\fI" + hard(f.value) + "\\fR"
		}
		p.item(term, f.usage)
	}
}

// related names the pages of the command above and of those below.
func (p *manPage) related(c *cobra.Command) {
	var names []string
	if c.HasParent() {
		names = append(names, pageName(c.Parent()))
	}
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, pageName(sub))
		}
	}
	p.macro(".SH SEE ALSO")
	for i, name := range names {
		comma := ","
		if i == len(names)-1 {
			comma = ""
		}
		p.macro(".BR %s (1)%s", hard(name), comma)
	}
}

// soft protects a text from being taken for macros and escapes; hard also keeps its hyphens, to be copied into a shell.
func soft(s string) string {
	return strings.NewReplacer(`\`, `\e`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`, "--", `\-\-`).Replace(s)
}

func hard(s string) string {
	return strings.NewReplacer(`\`, `\e`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`, "-", `\-`).Replace(s)
}

// line keeps a line from being taken for a macro.
func line(s string) string {
	if strings.HasPrefix(s, ".") {
		return `\&` + s
	}
	return s
}
