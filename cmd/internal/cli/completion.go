package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
	"breakcue/timing/sheet"
)

// flagAnswers says what a shell offers behind each flag; behind one that is not here, nothing: numbers, names and lists.
var flagAnswers = map[string]cobra.CompletionFunc{
	"engine":   filesLike("toml"),
	"dial":     filesLike("toml"),
	"input":    filesLike("wav"),
	"record":   filesLike("wav"),
	"readings": anyFile,
	"points":   anyFile,
	"dir":      folders,
	"out":      anyFile,
	"profile":  anyFile,
	"fault":    oneOf(faultNames()...),
	"format":   oneOf("csv\ta table for a spreadsheet", "json\tan array of reports"),
	"decimal":  oneOf("point", "comma"),
	"wiring":   oneOf("series\tin line: points closed = tone", "shunt\tacross: points open = tone"),
	"sweep":    oneOf("tone\tthe test tone", "contact\tclosed points", "condenser", "load\tacross the input", "series\tbetween output and points"),
	"coil-end": oneOf("battery\talso other loads", "nothing"),
	"plot":     anyFile,
	"drawing":  filesLike("svg"),
	"approach": oneOf("auto\t300ms when that fits the readings", "0\teach opening stands for itself", "300ms\tusual for points that part slowly"),
}

// argumentAnswers says what a shell offers as arguments of commands, by their path; commands of the log whose usage names a
// SESSION offer those.
var argumentAnswers = map[string]cobra.CompletionFunc{
	"breakcue review":      filesLike("wav"),
	"breakcue sheet check": filesLike("toml"),
	"breakcue sheet new": func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		switch len(args) {
		case 0:
			return []string{string(sheet.EngineSheet), string(sheet.DialSheet)}, cobra.ShellCompDirectiveNoFileComp
		case 1:
			return []string{"toml"}, cobra.ShellCompDirectiveFilterFileExt
		}
		return nil, cobra.ShellCompDirectiveNoFileComp
	},
}

// addCompletions tells a shell what may stand behind the flags and commands of c and of those below it; what a command says of
// itself holds.
func addCompletions(env Env, c *cobra.Command) {
	c.LocalFlags().VisitAll(func(f *pflag.Flag) {
		if _, has := c.GetFlagCompletionFunc(f.Name); has || f.Value.Type() == "bool" {
			return
		}
		answer, ok := flagAnswers[f.Name]
		if f.Name == "resume" {
			answer, ok = unfinishedSessions(env), true
		}
		if !ok {
			answer = cobra.NoFileCompletions
		}
		_ = c.RegisterFlagCompletionFunc(f.Name, answer) // the flag is there, and has none yet
	})
	if c.ValidArgsFunction == nil && len(c.ValidArgs) == 0 {
		answer, ok := argumentAnswers[c.CommandPath()]
		switch n := strings.Count(c.Use, "SESSION"); {
		case ok:
		case n > 0:
			answer = sessionNames(env, n, strings.Contains(c.Use, "SESSION..."))
		default:
			answer = cobra.NoFileCompletions
		}
		c.ValidArgsFunction = answer
	}
	for _, sub := range c.Commands() {
		addCompletions(env, sub)
	}
}

// filesLike offers the files with an extension, and folders.
func filesLike(ext string) cobra.CompletionFunc {
	return cobra.FixedCompletions([]string{ext}, cobra.ShellCompDirectiveFilterFileExt)
}

// oneOf offers values, each with what it means behind a tab.
func oneOf(values ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp|cobra.ShellCompDirectiveKeepOrder)
}

func anyFile(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveDefault
}

func folders(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveFilterDirs
}

// inOrder is for names that stand in an order of their own; files are none of them.
const inOrder = cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder

// sessionNames offers the sessions of the log, those that are typed already not again. A command takes n of them, or more.
func sessionNames(env Env, n int, more bool) cobra.CompletionFunc {
	return func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
		if len(args) >= n && !more {
			return nil, inOrder
		}
		return sessionsOffered(env, c, begun, func(s logbook.Summary) bool { return !slices.Contains(args, s.ID) }), inOrder
	}
}

// unfinishedSessions offers the sessions that can be gone on with.
func unfinishedSessions(env Env) cobra.CompletionFunc {
	return func(c *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
		return sessionsOffered(env, c, begun, func(s logbook.Summary) bool { return s.Reason != logbook.Finished }), inOrder
	}
}

// sessionsOffered returns the sessions that are fit and whose names begin like this, newest first, each with its engine; none
// when they cannot be had, for a shell can tell nobody why.
func sessionsOffered(env Env, c *cobra.Command, begun string, fit func(logbook.Summary) bool) []string {
	dir := ""
	if f := c.Flag("dir"); f != nil {
		dir = f.Value.String()
	}
	root, err := logRoot(env, dir)
	if err != nil {
		return nil
	}
	list, err := logbook.List(c.Context(), root)
	if err != nil {
		return nil
	}
	var names []string
	for _, s := range slices.Backward(list) {
		if strings.HasPrefix(s.ID, begun) && fit(s) {
			names = append(names, cobra.CompletionWithDesc(s.ID, session.Printable(s.Begin.Engine)))
		}
	}
	return names
}
