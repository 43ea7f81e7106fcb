package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

func newLog(env Env) *cobra.Command {
	c := &cobra.Command{
		Use:   "log",
		Short: "The log of sessions: list, show, report, correct, check, export and compare them",
		Args:  cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return c.Help()
			}
			return fail(ExitUsage, "run 'breakcue log --help' for the list of commands", "unknown command %q for log", args[0])
		},
	}
	c.AddCommand(newLogList(env), newLogShow(env), newLogAmend(env), newLogCheck(env), newLogExport(env), newLogCompare(env), newLogReport(env))
	return c
}

// logDirFlag adds the flag that names the folder of all sessions.
func logDirFlag(c *cobra.Command, dir *string) {
	c.Flags().StringVar(dir, "dir", "", "folder of the sessions (default: the one of this user)")
}

// logRoot returns the folder of all sessions: dir when given, the user's own otherwise.
func logRoot(env Env, dir string) (string, error) {
	if dir != "" {
		return dir, nil
	}
	root, err := logbook.DefaultRoot(env.Getenv)
	if err != nil {
		return "", &Failure{Code: ExitFailed, Err: err, Hint: "name a folder with --dir"}
	}
	return root, nil
}

// noList says what to do when the folder of all sessions cannot be looked into.
func noList(err error) error {
	if cancelled(err) {
		return err
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: "check the name of the folder given by --dir"}
}

// readJournal reads the journal of a session folder, and says what to do when it cannot be read.
func readJournal(ctx context.Context, folder string) (logbook.Journal, error) {
	j, err := logbook.ReadContext(ctx, folder)
	if err == nil || cancelled(err) {
		return j, err
	}
	hint := "copy the session folder to a sound disk and try again with its path"
	switch not := (*logbook.NotFileError)(nil); {
	case errors.As(err, &not):
		hint = "put the journal of the session there, a file called " + logbook.FileName
	case errors.Is(err, fs.ErrPermission):
		hint = "ask for the right to read that file, or copy it as somebody who has it"
	}
	return j, &Failure{Code: ExitFailed, Err: err, Hint: hint}
}

// logCommand is what to type for a command of log that looks where this one did.
func logCommand(command, dir string) string {
	if dir != "" {
		command += " --dir " + typed(dir)
	}
	return "breakcue log " + command
}

// typed is a name as it is typed in a command line: in quotes when it has spaces or other characters that a shell takes for
// its own.
func typed(name string) string {
	switch {
	case strings.ContainsAny(name, "\"$`!"): // these a shell takes for its own between double quotes too
		return "'" + strings.ReplaceAll(name, "'", `'\''`) + "'"
	case name == "", strings.ContainsAny(name, " \t'&|;<>()*?[]#~{}"):
		return `"` + name + `"`
	}
	return name
}

// sessionSummary is one session of `log list --json`.
type sessionSummary struct {
	Session   string    `json:"session"`
	Time      time.Time `json:"time"`
	Name      string    `json:"name"`
	Engine    string    `json:"engine"`
	Cylinders []string  `json:"cylinders"`
	Openings  int       `json:"openings"`
	Passes    int       `json:"passes"` // openings with a usable reading
	Ended     bool      `json:"ended"`
	EndReason string    `json:"end_reason,omitempty"` // "finished", "left", "interrupted", …
	Damaged   int       `json:"damaged_lines"`
}

func newLogList(env Env) *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use:     "list",
		Short:   "List the sessions, oldest first",
		Example: "  breakcue log list\n  breakcue log list --dir sessions --json",
		Args:    exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			root, err := logRoot(env, dir)
			if err != nil {
				return err
			}
			list, err := logbook.List(c.Context(), root)
			if err != nil {
				return noList(err)
			}
			for _, s := range list {
				noteDamage(env, s.ID, s.Damaged)
				if s.Err != nil {
					note(env, "%s: %v", s.ID, s.Err)
				}
			}
			if asJSON {
				return printJSON(env.Out, listResult(root, list))
			}
			var page bytes.Buffer
			printList(&page, root, list)
			_, err = page.WriteTo(env.Out)
			return err
		},
	}
	logDirFlag(c, &dir)
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

func listResult(root string, list []logbook.Summary) any {
	sessions := make([]sessionSummary, 0, len(list))
	for _, s := range list {
		sessions = append(sessions, sessionSummary{
			Session: s.ID, Time: s.Time, Name: s.Begin.Name, Engine: s.Begin.Engine, Cylinders: append([]string{}, s.Cylinders...),
			Openings: s.Openings, Passes: s.Passes, Ended: s.Ended, EndReason: s.Reason, Damaged: len(s.Damaged),
		})
	}
	return struct {
		Schema   string           `json:"schema"`
		Dir      string           `json:"dir"`
		Sessions []sessionSummary `json:"sessions"`
	}{"breakcue.log-list/1", root, sessions}
}

func printList(w io.Writer, root string, list []logbook.Summary) {
	if len(list) == 0 {
		fmt.Fprintf(w, "no sessions in %s\n", session.Printable(root))
		return
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "date\tsession\tengine\tcylinders\tpasses")
	for _, s := range list {
		date, note := "unknown", ""
		if !s.Time.IsZero() {
			date = s.Time.Format("2006-01-02 15:04")
		}
		switch {
		case !s.Ended:
			note = "\tnot ended"
		case s.Reason != logbook.Finished:
			note = "\t" + session.Printable(s.Reason)
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%d%s\n", date, session.Printable(s.ID), session.Printable(s.Begin.Engine),
			session.Printable(strings.Join(s.Cylinders, ", ")), s.Passes, note)
	}
	tw.Flush()
}

// noteDamage reports the damaged lines of a journal on standard error; they are no failure. Of a file that is no journal at all
// every line is damaged: only the first few are named.
func noteDamage(env Env, id string, damaged []logbook.DamagedLine) {
	const most = 5
	for _, d := range damaged[:min(len(damaged), most)] {
		note(env, "%s: %s", id, d)
	}
	if more := len(damaged) - most; more > 0 {
		note(env, "%s: and %s; 'breakcue log check' names them all", id, pump.Count(more, "more damaged line", "more damaged lines"))
	}
}

// noteJournal reports on standard error what figures worked out from a journal leave out: what is damaged, and what a later
// version of the program wrote.
func noteJournal(env Env, id string, j logbook.Journal) {
	noteDamage(env, id, j.Damaged)
	if later := j.Later(); later > 0 {
		note(env, "%s: %s written by a later version of breakcue, and passed over here", id, pump.Count(later, "entry was", "entries were"))
	}
}

// note says something on standard error that is no failure.
func note(env Env, format string, args ...any) {
	fmt.Fprintf(env.Err, "breakcue: note: %s\n", session.Printable(fmt.Sprintf(format, args...)))
}
