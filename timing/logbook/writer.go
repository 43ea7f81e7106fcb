package logbook

import (
	"errors"
	"fmt"
	"io"
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
	f       file
	lock    *os.File
	seq     int64
	newline bool // the file does not end in a newline: the next entry must bring one
}

// file is what a Writer needs of the journal file; *os.File is one.
type file interface {
	io.WriteCloser
	Stat() (fs.FileInfo, error)
	Sync() error
	Truncate(size int64) error
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
	if err := WantFile(filepath.Join(dir, FileName)); err != nil {
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

// Append writes d as the next entry and returns it once it is on the disk. Numbers in d must be finite. After an error the
// entry is not in the file: what was written of it is taken back, and the next one can be tried. Where that fails too, the
// error says that the entry may be there, whole or in part; the entries before and after it are sound.
func (w *Writer) Append(d Data) (Entry, error) {
	e, err := w.AppendAll(d)
	if err != nil {
		return Entry{}, err
	}
	return e[0], nil
}

// AppendAll writes several entries of which none is to be there without the others, as Append does one.
func (w *Writer) AppendAll(data ...Data) ([]Entry, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.f == nil {
		return nil, fmt.Errorf("logbook: session %s: %w", w.ID(), fs.ErrClosed)
	}
	var entries []Entry
	var lines []byte
	if w.newline {
		lines = append(lines, '\n')
	}
	last := w.seq
	for _, d := range data {
		last++
		e := Entry{Seq: last, Time: w.now().Truncate(time.Millisecond), Data: d}
		line, err := encode(e)
		if err != nil {
			return nil, err
		}
		entries, lines = append(entries, e), append(lines, line...)
	}
	before, err := w.f.Stat()
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	if _, err = w.f.Write(lines); err == nil {
		err = w.f.Sync()
	}
	if err == nil {
		w.seq, w.newline = last, false
		return entries, nil
	}
	if left := w.takeBack(before.Size()); left != nil {
		w.seq, w.newline = last, true
		return nil, fmt.Errorf("logbook: %w; it may be in the file nevertheless, whole or in part, as entry %d: %w", err, last, left)
	}
	return nil, fmt.Errorf("logbook: %w", err)
}

// takeBack cuts the file to the size that it had before a write that failed.
func (w *Writer) takeBack(size int64) error {
	if err := w.f.Truncate(size); err != nil {
		// Windows does not let a file be cut that is open for adding alone (from memory); by its name it can be.
		if os.Truncate(filepath.Join(w.dir, FileName), size) != nil {
			return err
		}
	}
	return w.f.Sync()
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
