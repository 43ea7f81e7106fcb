package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// resumeNewest is what --resume stands for without a name.
const resumeNewest = "newest"

// resumed is a session that is gone on with: everything is as it was when it stopped, however it did.
type resumed struct {
	dir    string
	sheets session.Sheets
	take   int // number of the recording that comes now
	place  logbook.Place
	half   session.Typed // the last reading with the points closed that waits for its first open one
	passes int           // that results rest on

	entries []logbook.Entry // of its journal, amendments applied
}

// checkResume refuses what the log knows, or what is for another way of working.
func (f *sessionFlags) checkResume(args []string) error {
	if len(args) > 0 && f.resume == resumeNewest {
		return fail(ExitUsage, "write --resume="+args[0]+", with the equals sign", "session needs no argument, got %q", args[0])
	}
	for _, given := range []struct{ value, flag string }{{f.engine, "--engine"}, {f.dial, "--dial"}, {f.title, "--name"}} {
		if given.value != "" {
			return fail(ExitUsage, "leave it out: the log of the session has it", "%s is given together with --resume", given.flag)
		}
	}
	if f.input != "" {
		return fail(ExitUsage, "leave out --input: a session is gone on with live", "--input is given together with --resume")
	}
	return nil
}

// findResumed reads the session that --resume means.
func (f *sessionFlags) findResumed(env Env) (resumed, error) {
	root, err := logRoot(env, f.logDir)
	if err != nil {
		return resumed{}, err
	}
	hint := "run '" + logCommand("list", f.logDir) + "' for the names"
	var r resumed
	if f.resume == resumeNewest {
		r.dir, err = f.newestUnfinished(root, hint)
	} else {
		r.dir, err = findSession(root, f.resume, hint)
	}
	if err != nil {
		return resumed{}, err
	}
	j, err := logbook.Read(r.dir)
	if err != nil {
		return resumed{}, &Failure{Code: ExitFailed, Err: err, Hint: "copy the session folder to a sound disk and try again with its path"}
	}
	noteJournal(env, filepath.Base(r.dir), j)
	if r.sheets, err = session.SheetsOf(j); err != nil {
		return resumed{}, fail(ExitFailed, "begin a new session with --engine and --dial", "%s cannot be gone on with: %w", filepath.Base(r.dir), err)
	}
	if name := filepath.Base(r.dir); practised(j) != f.bench {
		if f.bench {
			return resumed{}, fail(ExitUsage, "leave out --bench", "%s was not made on the built-in bench", name)
		}
		return resumed{}, fail(ExitUsage, "give --bench too, or begin a session for the engine that is before you", "%s was made on the built-in bench, to practise", name)
	}
	r.stand(j)
	return r, nil
}

// stand finds out where the session stands.
func (r *resumed) stand(j logbook.Journal) {
	r.place = session.NewTypist(r.sheets.Engine.Cylinders).Place
	r.entries, _ = j.Current()
	for _, e := range r.entries {
		switch d := e.Data.(type) {
		case logbook.Take:
			r.take = max(r.take, d.Take)
		case logbook.LastClosed:
			if d.Unusable == "" {
				r.half = session.Typed{Text: d.Text, Place: logbook.Place{Cylinder: d.Cylinder, Phase: d.Phase}}
			}
		case logbook.Reading:
			if d.Unusable == "" || d.Text == timing.NoReading {
				r.half = session.Typed{}
			}
		case logbook.Place:
			if slices.Contains(r.sheets.Engine.Cylinders, d.Cylinder) {
				r.place = d
			}
		}
	}
	r.passes = logbook.Summarize(j).Passes
	r.take++
	for { // a recording that no entry tells of is not written over
		if _, err := os.Stat(filepath.Join(r.dir, takeFile(r.take))); errors.Is(err, os.ErrNotExist) {
			return
		}
		r.take++
	}
}

// practised tells that a session was made on the built-in bench.
func practised(j logbook.Journal) bool {
	begin, _ := j.Begin()
	return begin.Input == builtInBench
}

// newestUnfinished returns the folder of the newest session that was not finished: of those that were made to practise, or of the
// others.
func (f *sessionFlags) newestUnfinished(root, hint string) (string, error) {
	list, err := logbook.List(context.Background(), root)
	if err != nil {
		return "", &Failure{Code: ExitFailed, Err: err, Hint: "check the name of the folder given by --dir"}
	}
	other := ""
	for _, s := range slices.Backward(list) {
		j, err := logbook.Read(s.Dir)
		switch {
		case err != nil || finished(j):
		case practised(j) == f.bench:
			return s.Dir, nil
		case other == "":
			other = filepath.Base(s.Dir)
		}
	}
	if other != "" && f.bench {
		hint = "leave out --bench to go on with " + other
	} else if other != "" {
		hint = "give --bench too to go on with " + other + ", which is practice"
	}
	return "", fail(ExitFailed, hint+"; --resume=NAME goes on with one that was finished", "no session in %s was left unfinished", root)
}

// finished tells that the last thing that happened in a session was that it was finished.
func finished(j logbook.Journal) bool {
	if len(j.Entries) == 0 {
		return false
	}
	for _, e := range slices.Backward(j.Entries) {
		switch d := e.Data.(type) {
		case logbook.Amend:
			continue // corrected afterwards
		case logbook.End:
			return d.Reason == logbook.Finished
		}
		return false
	}
	return false
}

// takeFile is the name of a live recording in a session's folder.
func takeFile(take int) string { return fmt.Sprintf("take-%02d.wav", take) }

// read tells that readings were taken before, or a half of one.
func (r resumed) read() bool {
	return slices.ContainsFunc(r.entries, func(e logbook.Entry) bool {
		switch e.Data.(type) {
		case logbook.Reading, logbook.LastClosed:
			return true
		}
		return false
	})
}

// open goes on with the journal.
func (r resumed) open(env Env) (*logbook.Writer, error) {
	w, err := logbook.OpenAppend(r.dir, env.Now)
	if err != nil {
		return nil, &Failure{Code: ExitFailed, Err: err, Hint: "end the other program that writes to this session, or check the folder"}
	}
	fmt.Fprintf(env.Err, "breakcue: going on with %s: %s so far, at %s, %s\n", w.Dir(), pump.Count(r.passes, "pass", "passes"),
		session.Printable(r.place.Cylinder), phaseWords(r.place.Phase))
	return w, nil
}
