package logbook

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// Summary is one session in a list.
type Summary struct {
	ID        string    // name of the folder
	Dir       string    // the folder itself
	Time      time.Time // of the first entry; zero when there is none
	Begin     Begin
	Cylinders []string // in the order of their first readings
	Openings  int
	Passes    int    // usable readings that belong to an opening
	Ended     bool   // closed by an End entry
	Reason    string // of that End; empty without one
	Damaged   []DamagedLine
	Err       error // the journal could not be read, or not to its end
}

// Folders returns the session folders in root, by name: those with a journal, be it one that cannot be read. A root that does not exist holds none.
func Folders(root string) ([]string, error) {
	names, err := namesIn(root)
	if err != nil {
		return nil, err
	}
	var dirs []string
	for _, n := range names {
		if dir := filepath.Join(root, n.Name()); Holds(dir) {
			dirs = append(dirs, dir)
		}
	}
	return dirs, nil
}

// namesIn returns what is in root; one that does not exist holds nothing.
func namesIn(root string) ([]fs.DirEntry, error) {
	names, err := os.ReadDir(root)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	return names, nil
}

// List returns the sessions in root, oldest first. Folders without a journal are passed over. A root that does not exist
// holds no sessions. The journals are skimmed: the sheets in Begin stay empty, and damage within a line that no Summary needs
// goes unnoticed; Check tells of all. A context that is done is an error.
func List(ctx context.Context, root string) ([]Summary, error) {
	names, err := namesIn(root)
	if err != nil {
		return nil, err
	}
	all := make([]*Summary, len(names))
	var next atomic.Int64
	var readers sync.WaitGroup
	for range min(len(names), runtime.GOMAXPROCS(0)) {
		readers.Go(func() {
			var buf bytes.Buffer
			for i := next.Add(1) - 1; i < int64(len(names)) && ctx.Err() == nil; i = next.Add(1) - 1 {
				all[i] = summaryOf(ctx, filepath.Join(root, names[i].Name()), &buf)
			}
		})
	}
	readers.Wait()
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	var list []Summary
	for _, s := range all {
		if s != nil {
			list = append(list, *s)
		}
	}
	slices.SortStableFunc(list, func(a, b Summary) int {
		return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.ID, b.ID))
	})
	return list, nil
}

// maxSkim is the longest journal [bytes] that is read at once.
const maxSkim = 8 << 20

// summaryOf returns the summary of a folder, nil when it has no journal. buf is for its use.
func summaryOf(ctx context.Context, dir string, buf *bytes.Buffer) *Summary {
	f, err := openJournal(dir)
	if err != nil {
		if isAbsent(err) {
			return nil
		}
		return &Summary{ID: filepath.Base(dir), Dir: dir, Err: fmt.Errorf("logbook: %w", err)}
	}
	defer f.Close()
	buf.Reset()
	var j Journal
	if _, err = buf.ReadFrom(io.LimitReader(f, maxSkim)); err != nil {
		err = fmt.Errorf("logbook: %w", err)
	}
	if buf.Len() < maxSkim {
		j = skim(buf.Bytes())
	} else {
		j, err = Parse(whileWanted{ctx, io.MultiReader(buf, f)})
	}
	s := Summarize(j)
	s.ID, s.Dir, s.Err = filepath.Base(dir), dir, err
	return &s
}

// Summarize counts what a journal holds, amendments applied. ID, Dir and Err stay empty.
func Summarize(j Journal) Summary {
	var s Summary
	entries, _ := j.Current()
	for i, e := range entries {
		if i == 0 {
			s.Time = e.Time
		}
		switch d := e.Data.(type) {
		case Begin:
			if s.Begin.Session == "" {
				s.Begin = d
			}
		case Take:
			s.Ended, s.Reason = false, "" // gone on with
		case Opening:
			s.Openings++
		case Reading:
			if !slices.Contains(s.Cylinders, d.Cylinder) {
				s.Cylinders = append(s.Cylinders, d.Cylinder)
			}
			if d.Opening > 0 && d.Unusable == "" {
				s.Passes++
			}
		case End:
			s.Ended, s.Reason = true, d.Reason
		}
	}
	s.Damaged = j.Damaged
	return s
}
