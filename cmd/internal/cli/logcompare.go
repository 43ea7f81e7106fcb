package cli

import (
	"bytes"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

func newLogCompare(env Env) *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use:   "compare SESSION [SESSION]",
		Short: "Compare a session with the one before of the same engine: drift and wear",
		Long: `Compare two sessions of one engine: each cylinder as it was found the later time against how it was left the earlier time,
with the interval of the change and what may be behind it. With one session, the one before it of an engine of the same name
in the same folder is taken.

The two sessions count as independent: each has its scatter, its zero and its graduation. With the same dial sheet in both,
what the dial does wrong in both alike falls out.`,
		Example: "  breakcue log compare 2026-05-04-1011-twin\n  breakcue log compare 2026-05-04 2025-04-20",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 && len(args) != 2 {
				return fail(ExitUsage, "run 'breakcue log compare --help' for an example", "log compare needs one session or two, got %d arguments", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			root, err := logRoot(env, dir)
			if err != nil {
				return err
			}
			folders := make([]string, 0, 2)
			for _, name := range args {
				folder, err := findSession(root, name, "run '"+logCommand("list", dir)+"' for the names")
				if err != nil {
					return err
				}
				folders = append(folders, folder)
			}
			since, err := compareSessions(env, folders, dir)
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(env.Out, since)
			}
			var page bytes.Buffer
			if err := since.Print(&page); err != nil {
				return err
			}
			_, err = page.WriteTo(env.Out)
			return err
		},
	}
	logDirFlag(c, &dir)
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

// compareSessions compares two sessions in the order of their time, or one with the one before it.
func compareSessions(env Env, folders []string, dir string) (session.Since, error) {
	list := "run '" + logCommand("list", dir) + "' for the sessions of each engine"
	if len(folders) == 1 {
		before, err := sessionBefore(folders[0], list)
		if err != nil {
			return session.Since{}, err
		}
		folders = append(folders, before)
	}
	type side struct {
		folder  string
		report  session.Report
		journal logbook.Journal
	}
	var sides []side
	for _, folder := range folders {
		r, j, err := readReport(env, folder, dir)
		if err != nil {
			return session.Since{}, err
		}
		sides = append(sides, side{folder, r, j})
	}
	if sides[0].report.Session == sides[1].report.Session {
		return session.Since{}, fail(ExitUsage, list, "%s is compared with itself", filepath.Base(folders[0]))
	}
	slices.SortStableFunc(sides, func(a, b side) int { return a.journal.Entries[0].Time.Compare(b.journal.Entries[0].Time) })
	since, err := session.SinceLast(sides[0].journal, sides[1].journal)
	if err != nil {
		return since, fail(ExitFailed, list, "%s cannot be compared with %s: %w", filepath.Base(sides[1].folder), filepath.Base(sides[0].folder), err)
	}
	return since, nil
}

// sessionBefore returns the folder of the last session before one, of an engine of the same name, in which anything was measured.
func sessionBefore(folder, hint string) (string, error) {
	list, err := logbook.List(filepath.Dir(folder))
	if err != nil {
		return "", &Failure{Code: ExitFailed, Err: err, Hint: "name the other session too"}
	}
	at := slices.IndexFunc(list, func(s logbook.Summary) bool { return s.ID == filepath.Base(folder) })
	for i := at - 1; i >= 0; i-- {
		if list[i].Begin.Engine == list[at].Begin.Engine && list[i].Passes > 0 {
			return list[i].Dir, nil
		}
	}
	engine := "this engine"
	if at >= 0 {
		engine = list[at].Begin.Engine
	}
	return "", fail(ExitFailed, hint, "%s: no session of %q before it", filepath.Base(folder), engine)
}
