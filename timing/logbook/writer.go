package logbook

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// Writer adds entries to the journal of one session. It may be used from several goroutines.
type Writer struct {
	dir string
	now func() time.Time

	mu      sync.Mutex
	f       *os.File
	lock    *os.File
	seq     int64
	newline bool // the file does not end in a newline: the next entry must bring one
}

// Create makes the folder of a new session in root, and root itself when missing, and writes begin as its first entry.
// The folder is called after the time and the name: "2026-05-04-1011-twin", with -2, -3 … added when there is one
// already. now is the clock of all entries. After an error there is no such folder.
func Create(root, name string, begin Begin, now func() time.Time) (*Writer, error) {
	if err := os.MkdirAll(root, 0o755); err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	dir, err := makeDir(root, folderName(name, now()))
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	w, err := open(dir, now, os.O_CREATE|os.O_EXCL)
	if err != nil {
		discard(dir)
		return nil, err
	}
	begin.Session, begin.Name = filepath.Base(dir), name
	if _, err := w.Append(begin); err != nil {
		err = errors.Join(err, w.Close())
		discard(dir)
		return nil, err
	}
	syncDir(dir)
	syncDir(root)
	return w, nil
}

// discard removes the folder of a session that could not be begun: it holds nothing, and would be listed as a session.
func discard(dir string) {
	for _, name := range []string{FileName, lockName, ""} {
		_ = os.Remove(filepath.Join(dir, name))
	}
}

// OpenAppend opens an existing session to go on with it. The error is a *HeldError when another program writes to it.
func OpenAppend(dir string, now func() time.Time) (*Writer, error) {
	if _, err := os.Stat(filepath.Join(dir, FileName)); err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	w, err := open(dir, now, 0)
	if err != nil {
		return nil, err
	}
	j, err := Read(dir)
	if err != nil {
		return nil, errors.Join(err, w.Close())
	}
	w.seq, w.newline = j.seq, j.open
	return w, nil
}

// open takes the lock and then the file.
func open(dir string, now func() time.Time, flag int) (*Writer, error) {
	lock, err := takeLock(dir, now())
	if err != nil {
		return nil, err
	}
	f, err := os.OpenFile(filepath.Join(dir, FileName), os.O_WRONLY|os.O_APPEND|flag, 0o644)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("logbook: %w", err), dropLock(lock))
	}
	return &Writer{dir: dir, now: now, f: f, lock: lock}, nil
}

// Dir returns the session folder.
func (w *Writer) Dir() string { return w.dir }

// ID returns the name of the session folder.
func (w *Writer) ID() string { return filepath.Base(w.dir) }

// Next returns the number that the next entry will have.
func (w *Writer) Next() int64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.seq + 1
}

// Append writes d as the next entry and returns it once it is on the disk. Numbers in d must be finite. After an error
// the entry may be missing or damaged in the file; the entries before and after it are not.
func (w *Writer) Append(d Data) (Entry, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.f == nil {
		return Entry{}, fmt.Errorf("logbook: session %s: %w", w.ID(), fs.ErrClosed)
	}
	e := Entry{Seq: w.seq + 1, Time: w.now().Truncate(time.Millisecond), Data: d}
	line, err := encode(e)
	if err != nil {
		return Entry{}, err
	}
	if w.newline {
		line = append([]byte{'\n'}, line...)
	}
	w.seq++ // even when the write fails: part of the line may be in the file
	w.newline = true
	if _, err := w.f.Write(line); err != nil {
		return Entry{}, fmt.Errorf("logbook: %w", err)
	}
	w.newline = false
	if err := w.f.Sync(); err != nil {
		return Entry{}, fmt.Errorf("logbook: %w", err)
	}
	return e, nil
}

// Close ends writing and gives the session free for others. It may be called more than once.
func (w *Writer) Close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.f == nil {
		return nil
	}
	err := errors.Join(w.f.Close(), dropLock(w.lock))
	w.f = nil
	return err
}

// syncDir asks that new names in dir are on the disk too. Not every system can; the entries are safe either way.
func syncDir(dir string) {
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync()
		_ = d.Close()
	}
}
