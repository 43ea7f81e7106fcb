package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

func newLogShow(env Env) *cobra.Command {
	var dir string
	var entries bool
	var how shownAs
	c := &cobra.Command{
		Use:   "show SESSION",
		Short: "Show one session: readings, errors and verdicts",
		Long: `Show one session: readings, errors and verdicts, worked out anew from the log with later corrections applied.

SESSION is its name as "breakcue log list" gives it, the beginning of that name, or a session folder.`,
		Example: "  breakcue log show 2026-05-04-1011-twin\n  breakcue log show 2026-05-04 --entries",
		Args:    exactArgs(1, "one session"),
		RunE: func(c *cobra.Command, args []string) error {
			if how.json && entries {
				return fail(ExitUsage, "give one of them", "--json and --entries do not go together")
			}
			root, err := logRoot(env, dir)
			if err != nil {
				return err
			}
			folder, err := findSession(root, args[0], "run '"+logCommand("list", dir)+"' for the names")
			if err != nil {
				return err
			}
			j, err := readJournal(c.Context(), folder)
			if err != nil {
				return err
			}
			id := filepath.Base(folder)
			noteJournal(env, id, j)
			if entries {
				return printEntries(env.Out, j)
			}
			return showResults(env.Out, id, j, how, "run '"+logCommand("show "+typed(args[0])+" --entries", dir)+"' for what was written")
		},
	}
	logDirFlag(c, &dir)
	c.Flags().BoolVar(&how.json, "json", false, "print one JSON object, as session --json does")
	c.Flags().BoolVar(&how.budget, "budget", false, "print what makes each result uncertain, and what would make it less so")
	c.Flags().BoolVar(&entries, "entries", false, "print every entry as it was written, corrections not applied")
	return c
}

// shownAs is how results are wanted.
type shownAs struct{ json, budget bool }

// showResults writes what the journal comes to; without results, what was typed, and hint tells how to see more.
func showResults(w io.Writer, id string, j logbook.Journal, how shownAs, hint string) error {
	r, unknown := session.FromJournal(j)
	if unknown != nil {
		unknown = fail(ExitFailed, hint, "%s: %w", id, unknown)
	}
	if how.json {
		if unknown != nil {
			return unknown
		}
		return printJSON(w, r)
	}
	var page bytes.Buffer
	printHeader(&page, id, j)
	if unknown != nil {
		printReadings(&page, j)
	} else {
		if err := r.Print(&page, how.budget); err != nil {
			return err
		}
		printFooter(&page, j)
	}
	if _, err := page.WriteTo(w); err != nil {
		return err
	}
	return unknown
}

// findSession returns the folder of the session that name means: a folder with a journal, a session in root, or the only
// one in root whose name begins like this. hint tells where the names are.
func findSession(root, name, hint string) (string, error) {
	if name == "" {
		return "", fail(ExitUsage, hint, "the name of the session is empty")
	}
	for _, dir := range []string{name, filepath.Join(root, name)} {
		if logbook.Holds(dir) {
			if here := filepath.Base(dir); here == "." || here == ".." { // the folder has a name, by which the session is called
				if abs, err := filepath.Abs(dir); err == nil {
					return abs, nil
				}
			}
			return dir, nil
		}
	}
	list, err := os.ReadDir(root)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", noList(err)
	}
	var found []string
	for _, d := range list {
		if d.IsDir() && strings.HasPrefix(d.Name(), name) {
			found = append(found, d.Name())
		}
	}
	switch len(found) {
	case 1:
		return filepath.Join(root, found[0]), nil
	case 0:
		return "", fail(ExitFailed, hint, "no session %q in %s", name, root)
	}
	const most = 5
	could := strings.Join(found[:min(len(found), most)], " or ")
	if more := len(found) - most; more > 0 {
		could += fmt.Sprintf(" or %d more", more)
	}
	return "", fail(ExitUsage, "give more of the name", "session %q could be %s", name, could)
}

// printEntries writes every entry as it was written, one a line.
func printEntries(w io.Writer, j logbook.Journal) error {
	for _, e := range j.Entries {
		data, err := json.Marshal(e.Data)
		if err != nil {
			return err
		}
		when := e.Time.Format("2006-01-02 15:04:05.000")
		if _, err := fmt.Fprintf(w, "%4d  %s  %-11s  %s\n", e.Seq, when, session.Printable(e.Data.Kind()), data); err != nil {
			return err
		}
	}
	return nil
}

// printHeader says which session it is.
func printHeader(w io.Writer, id string, j logbook.Journal) {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	field(tw, "session", id)
	if b, ok := j.Begin(); ok {
		field(tw, "begun", j.Entries[0].Time.Format("2006-01-02 15:04:05"))
		field(tw, "name", b.Name)
		field(tw, "recording", b.Input)
		field(tw, "program", b.Tool)
	}
	tw.Flush()
	fmt.Fprintln(w)
}

func field(w io.Writer, name, value string) {
	if value != "" {
		fmt.Fprintf(w, "%s\t%s\n", name, session.Printable(value))
	}
}

// printReadings writes what was typed, for a session whose results cannot be worked out.
func printReadings(w io.Writer, j logbook.Journal) {
	entries, _ := j.Current()
	for _, e := range entries {
		if r, ok := e.Data.(logbook.Reading); ok {
			fmt.Fprintf(w, "reading, %s %s: %s\n", session.Printable(r.Cylinder), phaseWords(r.Phase), session.Printable(r.Text))
		}
	}
}

// printFooter says what was corrected and how the session ended.
func printFooter(w io.Writer, j logbook.Journal) {
	const notEnded = "not ended: cut short, or still being written"
	end := notEnded
	fmt.Fprintln(w)
	entries, _ := j.Current()
	var done []correction
	for i, e := range entries {
		switch d := e.Data.(type) {
		case logbook.Amend:
			next := correction{at: i, entry: e, changes: []logbook.Amend{d}}
			if last := len(done) - 1; last >= 0 && done[last].takes(next) {
				done[last].at, done[last].changes = i, append(done[last].changes, d)
			} else {
				done = append(done, next)
			}
		case logbook.Take:
			end = notEnded // gone on with
		case logbook.End:
			end = session.Printable(d.Reason) + " at " + e.Time.Format("15:04:05")
		}
	}
	for _, c := range done {
		fmt.Fprintln(w, c)
	}
	fmt.Fprintln(w, end)
}

// correction is what somebody corrected at once in one entry: as many entries as there are fields.
type correction struct {
	at      int // where the last of these entries stands
	entry   logbook.Entry
	changes []logbook.Amend
}

// takes tells whether the next entry, of another field, belongs to the same correction.
func (c correction) takes(next correction) bool {
	a, b := c.changes[0], next.changes[0]
	return next.at == c.at+1 && a.Seq == b.Seq && a.Who == b.Who && a.Why == b.Why && c.when() == next.when() &&
		!slices.ContainsFunc(c.changes, func(had logbook.Amend) bool { return had.Field == b.Field })
}

func (c correction) when() string { return c.entry.Time.Format("2006-01-02 15:04") }

// String says who changed what, and why, in a line.
func (c correction) String() string {
	first := c.changes[0]
	words := amendWords(first, " %s from %s to %s")
	for _, more := range c.changes[1:] {
		if first.Field == "text" && more.Field == "unusable" && string(more.To) == `""` {
			continue // why the old text could not be used
		}
		words += "," + amendWords(more, " %s from %s to %s")
	}
	return fmt.Sprintf("entry %d corrected by %s on %s:%s: %s", first.Seq, session.Printable(first.Who), c.when(), words, session.Printable(first.Why))
}
