package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// checkFlags is what `log check` was asked to do.
type checkFlags struct {
	dir                 string
	all, repair, asJSON bool
}

func newLogCheck(env Env) *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use:   "check SESSION | --all",
		Short: "Check the journal of a session line by line, and repair it",
		Long: `Check the journal of a session: whether every line can be understood, the numbers rise, what an entry refers to is
there, and the recordings are there and whole.

--repair takes damaged lines out: a damaged line costs that line alone, and a note in the session tells of it. The journal
as it was is kept beside it, as journal.jsonl.damaged-1. What refers to something that is not there is for "breakcue log
amend". Exits with 0 when all is sound or repaired, with 1 when something is wrong.`,
		Example: "  breakcue log check --all\n  breakcue log check 2026-05-04-1011-twin --repair",
		Args: func(c *cobra.Command, args []string) error {
			if want := 1; f.all && len(args) > 0 || !f.all && len(args) != want {
				return fail(ExitUsage, "run 'breakcue log check --help' for an example", "log check needs one session, or --all, got %d arguments", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return f.run(c.Context(), env, args) },
	}
	logDirFlag(c, &f.dir)
	c.Flags().BoolVar(&f.all, "all", false, "check every session")
	c.Flags().BoolVar(&f.repair, "repair", false, "take damaged lines out; the journal as it was is kept")
	c.Flags().BoolVar(&f.asJSON, "json", false, "print one JSON object")
	return c
}

// checkedSession is one session of `log check --json`.
type checkedSession struct {
	Session  string         `json:"session"`
	Sound    bool           `json:"sound"` // now, after any repair
	Findings []checkFinding `json:"findings"`
	Repaired int            `json:"repaired_lines"`
	Kept     string         `json:"kept,omitempty"` // file with the journal before the repair

	damaged bool // before any repair
}

// checkFinding is what is wrong, or a note when nothing is.
type checkFinding struct {
	Line     int    `json:"line"` // of the journal, 0 when it is about none
	What     string `json:"what"`
	Note     bool   `json:"note"`
	Repaired bool   `json:"repaired"`
}

func (f *checkFlags) run(ctx context.Context, env Env, args []string) error {
	root, err := logRoot(env, f.dir)
	if err != nil {
		return err
	}
	folders, err := f.folders(root, args)
	if err != nil {
		return err
	}
	sessions := make([]checkedSession, 0, len(folders))
	var failed []error
	unsound := 0
	for _, folder := range folders {
		s, err := f.check(ctx, env, folder)
		if cancelled(err) { // what was checked, and perhaps repaired, is told
			failed = append(failed, err)
			break
		}
		if err != nil {
			failed = append(failed, err)
		}
		if !s.Sound {
			unsound++
		}
		sessions = append(sessions, s)
	}
	if f.asJSON {
		err = printJSON(env.Out, struct {
			Schema   string           `json:"schema"`
			Dir      string           `json:"dir"`
			Sessions []checkedSession `json:"sessions"`
		}{"breakcue.log-check/1", root, sessions})
	} else {
		var page bytes.Buffer
		if len(sessions) == 0 {
			fmt.Fprintf(&page, "no sessions in %s\n", session.Printable(root))
		}
		printChecked(&page, sessions)
		_, err = page.WriteTo(env.Out)
	}
	if unsound > 0 {
		hint := "what is damaged can be taken out with --repair; the journal as it was is kept"
		damaged := slices.ContainsFunc(sessions, func(s checkedSession) bool { return s.damaged })
		switch {
		case len(failed) > 0:
			hint = "see to what is said above, then check again; nothing was lost"
		case f.repair, !damaged:
			hint = "what is left is for 'breakcue log amend', or the recording is to be put back in its place"
		}
		failed = append(failed, fail(ExitFailed, hint, "%d of %s not sound", unsound, pump.Count(len(sessions), "session is", "sessions are")))
	}
	return errors.Join(append(failed, err)...)
}

// folders returns the folders of the sessions to be checked.
func (f *checkFlags) folders(root string, args []string) ([]string, error) {
	if !f.all {
		folder, err := findSession(root, args[0], "run '"+logCommand("list", f.dir)+"' for the names")
		return []string{folder}, err
	}
	folders, err := logbook.Folders(root)
	if err != nil {
		return nil, noList(err)
	}
	return folders, nil
}

// check looks at one session, and repairs it when asked to. An error is one of the disk, or of the lock.
func (f *checkFlags) check(ctx context.Context, env Env, folder string) (checkedSession, error) {
	s := checkedSession{Session: filepath.Base(folder), Findings: []checkFinding{}}
	j, err := readJournal(ctx, folder)
	if err != nil {
		return s, fmt.Errorf("%s: %w", s.Session, err)
	}
	var repaired logbook.Repaired
	if f.repair && len(j.Damaged) > 0 {
		if repaired, err = logbook.Repair(folder, env.Now); err != nil {
			err = notRepaired(s.Session, err)
		} else {
			s.Repaired, s.Kept = len(repaired.Lines), filepath.Base(repaired.Kept)
		}
	}
	found := append(logbook.Check(j), recordings(folder, j)...)
	if _, unknown := session.FromJournal(j); unknown != nil {
		found = append(found, logbook.Finding{What: "no result can be worked out: " + strings.ReplaceAll(unknown.Error(), "\n", "; ")})
	}
	s.damaged = len(j.Damaged) > 0
	s.Sound = logbook.Wrong(found)-s.Repaired == 0
	for _, one := range found {
		s.Findings = append(s.Findings, checkFinding{one.Line, one.What, one.Note, one.Damage && s.Repaired > 0})
	}
	return s, err
}

// notRepaired says what to do about a session that could not be repaired: it is as it was.
func notRepaired(session string, err error) error {
	hint := "make room on the disk and try again; the journal is as it was"
	switch held := (*logbook.HeldError)(nil); {
	case errors.As(err, &held):
		hint = "wait until that session has ended, then repair it"
	case errors.Is(err, fs.ErrPermission):
		hint = "ask for the right to write in that folder, or repair a copy of it; the journal is as it was"
	}
	return fail(ExitFailed, hint, "%s: %w", session, err)
}

// recordings looks at the recordings that a journal names: whether they are there, and reach as far as what was heard in
// them. One that lies outside the session folder may have been put away: no result needs it.
func recordings(folder string, j logbook.Journal) []logbook.Finding {
	entries, _ := j.Current()
	last := map[int]int64{} // frame of the last change of a take
	for _, e := range entries {
		switch d := e.Data.(type) {
		case logbook.Opening:
			last[d.Take] = max(last[d.Take], d.Frame)
		case logbook.Closing:
			last[d.Take] = max(last[d.Take], d.Frame)
		}
	}
	var found []logbook.Finding
	for _, e := range entries {
		take, ok := e.Data.(logbook.Take)
		if !ok || take.File == "-" || take.File == "" {
			continue
		}
		path, outside := take.File, filepath.IsAbs(take.File)
		if !outside {
			path = filepath.Join(folder, path)
		}
		if err := wholeRecording(path, last[take.Take]); err != nil {
			found = append(found, logbook.Finding{What: fmt.Sprintf("recording of take %d, %s: %v", take.Take, take.File, err), Note: outside})
		}
	}
	return found
}

// wholeRecording tells what is wrong with a recording in which something was heard at a frame.
func wholeRecording(path string, heard int64) error {
	not := (*logbook.NotFileError)(nil)
	switch err := logbook.WantFile(path); {
	case errors.As(err, &not):
		return fmt.Errorf("is %s, want a file", not.What)
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("is not there")
	}
	r, err := wav.Open(path)
	if err != nil {
		return err
	}
	defer r.Close()
	frames := r.Skip(math.MaxInt64)
	if _, err := r.Read(make([]float32, r.Format().Channels)); !errors.Is(err, io.EOF) {
		return fmt.Errorf("is cut: it ends after %d frames", frames)
	}
	if frames <= heard {
		return fmt.Errorf("is cut: it ends after %d frames, and points were heard at frame %d", frames, heard)
	}
	return nil
}

func printChecked(w io.Writer, sessions []checkedSession) {
	for _, s := range sessions {
		word := "sound"
		switch {
		case s.Sound && s.Repaired > 0:
			word = "repaired"
		case !s.Sound:
			word = "not sound"
		}
		fmt.Fprintf(w, "%s: %s\n", session.Printable(s.Session), word)
		for _, one := range s.Findings {
			kind := ""
			switch {
			case one.Note:
				kind = "note: "
			case one.Repaired:
				kind = "taken out: "
			}
			fmt.Fprintf(w, "  %s%s\n", kind, session.Printable(logbook.Finding{Line: one.Line, What: one.What}.String()))
		}
		if s.Kept != "" {
			fmt.Fprintf(w, "  the journal as it was is kept in %s\n", session.Printable(s.Kept))
		}
	}
}
