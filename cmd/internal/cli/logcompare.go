package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"time"

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
			since, err := compareSessions(c.Context(), env, folders, dir)
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

// side is one of two sessions that are compared.
type side struct {
	folder  string
	begin   logbook.Begin
	journal logbook.Journal
}

func (s side) id() string { return filepath.Base(s.folder) }

// begun is when the session was begun.
func (s side) begun() time.Time { return s.journal.Entries[0].Time }

// compareSessions compares two sessions in the order of their time, or one with the one before it.
func compareSessions(ctx context.Context, env Env, folders []string, dir string) (session.Since, error) {
	list := "run '" + logCommand("list", dir) + "' for the sessions of each engine"
	var sides []side
	for i := 0; i < len(folders); i++ {
		_, j, err := readReport(ctx, env, folders[i], dir)
		if err != nil {
			return session.Since{}, err
		}
		begin, _ := j.Begin() // there is one, or there would be no report
		sides = append(sides, side{folders[i], begin, j})
		if len(folders) == 1 {
			before, err := sessionBefore(ctx, sides[0], list)
			if err != nil {
				return session.Since{}, err
			}
			folders = append(folders, before)
		}
	}
	if err := different(sides[0], sides[1], list); err != nil {
		return session.Since{}, err
	}
	slices.SortStableFunc(sides, func(a, b side) int { return a.begun().Compare(b.begun()) })
	since, err := session.SinceLast(sides[0].journal, sides[1].journal)
	if err != nil {
		return since, fail(ExitFailed, list, "%s cannot be compared with %s: %w", sides[1].id(), sides[0].id(), err)
	}
	return since, nil
}

// different refuses one session twice. What tells is how it began, not what its folder is called: a copy can be renamed, and two
// computers can give two sessions one name.
func different(a, b side, hint string) error {
	if a.begin != b.begin || !a.begun().Equal(b.begun()) {
		return nil
	}
	first, err := os.Stat(a.folder)
	second, err2 := os.Stat(b.folder)
	if err == nil && err2 == nil && os.SameFile(first, second) {
		return fail(ExitUsage, hint, "%s is compared with itself", a.id())
	}
	return fail(ExitUsage, hint, "%s and %s are the same session, begun on %s: one is a copy of the other", a.folder, b.folder,
		a.begun().Format("2006-01-02 15:04:05"))
}

// sessionBefore returns the folder of the last session before one, of an engine of the same name, in which anything was measured.
// Copies of it are passed over.
func sessionBefore(ctx context.Context, of side, hint string) (string, error) {
	list, err := logbook.List(ctx, filepath.Dir(of.folder))
	if cancelled(err) {
		return "", err
	}
	if err != nil {
		return "", &Failure{Code: ExitFailed, Err: err, Hint: "name the other session too"}
	}
	at := slices.IndexFunc(list, func(s logbook.Summary) bool { return s.ID == of.id() })
	for i := at - 1; i >= 0; i-- {
		s := list[i]
		isCopy := s.Begin.Session == of.begin.Session && s.Time.Equal(of.begun())
		if s.Begin.Engine == list[at].Begin.Engine && s.Passes > 0 && !isCopy {
			return s.Dir, nil
		}
	}
	return "", fail(ExitFailed, hint, "%s: no session of %q before it", of.id(), of.begin.Engine)
}
