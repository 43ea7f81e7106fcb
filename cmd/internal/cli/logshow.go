package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"unicode"

	"github.com/spf13/cobra"

	"breakcue/timing/logbook"
)

func newLogShow(env Env) *cobra.Command {
	var dir string
	var entries bool
	c := &cobra.Command{
		Use:   "show SESSION",
		Short: "Show one session: what was found, read and noted",
		Long: `Show one session: what was found, read and noted, with later corrections applied.

SESSION is its name as "breakcue log list" gives it, the beginning of that name, or a session folder.`,
		Example: "  breakcue log show 2026-05-04-1011-twin\n  breakcue log show 2026-05-04 --entries",
		Args:    exactArgs(1, "one session"),
		RunE: func(c *cobra.Command, args []string) error {
			root, err := logRoot(env, dir)
			if err != nil {
				return err
			}
			folder, err := findSession(root, args[0])
			if err != nil {
				return err
			}
			j, err := logbook.Read(folder)
			if err != nil {
				return &Failure{Code: ExitFailed, Err: err, Hint: "copy the session folder to a sound disk and try again with its path"}
			}
			noteDamage(env, filepath.Base(folder), j.Damaged)
			if entries {
				return printEntries(env.Out, j)
			}
			now, problems := j.Current()
			for _, p := range problems {
				fmt.Fprintf(env.Err, "breakcue: note: %s: %v\n", filepath.Base(folder), p)
			}
			printSession(env.Out, filepath.Base(folder), now)
			return nil
		},
	}
	logDirFlag(c, &dir)
	c.Flags().BoolVar(&entries, "entries", false, "print every entry as it was written, corrections not applied")
	return c
}

// findSession returns the folder of the session that name means: a folder with a journal, a session in root, or the only
// one in root whose name begins like this.
func findSession(root, name string) (string, error) {
	for _, dir := range []string{name, filepath.Join(root, name)} {
		if _, err := os.Stat(filepath.Join(dir, logbook.FileName)); err == nil {
			return dir, nil
		}
	}
	list, err := os.ReadDir(root)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", &Failure{Code: ExitFailed, Err: err, Hint: "check the name of the folder given by --dir"}
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
		return "", fail(ExitFailed, "run 'breakcue log list' for the names", "no session %q in %s", name, root)
	}
	return "", fail(ExitUsage, "give more of the name", "session %q could be %s", name, strings.Join(found, " or "))
}

// printEntries writes every entry as it was written, one a line.
func printEntries(w io.Writer, j logbook.Journal) error {
	for _, e := range j.Entries {
		data, err := json.Marshal(e.Data)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%4d  %s  %-8s  %s\n", e.Seq, e.Time.Format("2006-01-02 15:04:05.000"), e.Data.Kind(), data)
	}
	return nil
}

// printSession writes a session for people.
func printSession(w io.Writer, id string, entries []logbook.Entry) {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	defer tw.Flush()
	fmt.Fprintf(tw, "session\t%s\n", id)
	openings := map[[2]int64]logbook.Opening{} // by take and ID
	var place logbook.Place
	for _, e := range entries {
		switch d := e.Data.(type) {
		case logbook.Begin:
			fmt.Fprintf(tw, "begun\t%s\n", e.Time.Format("2006-01-02 15:04:05"))
			field(tw, "name", d.Name)
			field(tw, "engine", d.Engine)
			field(tw, "recording", d.Input)
			field(tw, "program", d.Tool)
		case logbook.Opening:
			openings[[2]int64{int64(d.Take), d.ID}] = d
		case logbook.Reading:
			if p := (logbook.Place{Cylinder: d.Cylinder, Phase: d.Phase}); p != place {
				place = p
				fmt.Fprintf(tw, "\n%s, %s\n", printable(d.Cylinder), strings.ReplaceAll(string(d.Phase), "_", " "))
				fmt.Fprintln(tw, "reading\tpoints open at\tbounce")
			}
			at, bounce := "no opening", ""
			if o, ok := openings[[2]int64{int64(d.Take), d.Opening}]; ok {
				at, bounce = fmt.Sprintf("%.6f s", o.TimeS), fmt.Sprint(o.Reclosures)
			}
			fmt.Fprintf(tw, "%s\t%s\t%s%s\n", printable(d.Text), at, bounce, notUsed(d.Unusable))
		case logbook.Caveat:
			fmt.Fprintf(tw, "\nnote: %s\n", printable(d.Message))
		case logbook.Amend:
			fmt.Fprintf(tw, "\nentry %d corrected by %s: %s from %s to %s: %s\n", d.Seq, printable(d.Who), printable(d.Field), d.From, d.To, printable(d.Why))
		case logbook.End:
			fmt.Fprintf(tw, "\n%s at %s\n", printable(d.Reason), e.Time.Format("15:04:05"))
		}
	}
}

func field(w io.Writer, name, value string) {
	if value != "" {
		fmt.Fprintf(w, "%s\t%s\n", name, printable(value))
	}
}

func notUsed(why string) string {
	if why == "" {
		return ""
	}
	return "\tnot used: " + printable(why)
}

// printable keeps control characters of a file out of the terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return '\ufffd'
		}
		return r
	}, s)
}
