package logbook

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// lockName is the file whose lock the writer of a session holds. It stays when the lock is gone: the operating system
// frees the lock of a program that was killed, and removing the file could free somebody else's.
const lockName = "journal.lock"

// HeldError says that another writer has the session open.
type HeldError struct {
	Session string
	Holder  string // "process 123 on host since TIME", or empty when not known
}

// Error implements error.
func (e *HeldError) Error() string {
	who := e.Holder
	if who == "" {
		who = "another program"
	}
	return fmt.Sprintf("logbook: session %s is being written by %s, want one writer at a time", e.Session, who)
}

// takeLock returns the lock file of dir, locked, with the holder's name in it.
func takeLock(dir string, now time.Time) (*os.File, error) {
	path := filepath.Join(dir, lockName)
	if err := WantFile(path); err != nil && !isAbsent(err) {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	held, err := tryLock(f)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("logbook: lock session %s: %w", filepath.Base(dir), err)
	}
	if held {
		who, _ := io.ReadAll(io.LimitReader(f, 200))
		f.Close()
		return nil, &HeldError{Session: filepath.Base(dir), Holder: strings.TrimSpace(strings.ToValidUTF8(string(who), "?"))}
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this computer"
	}
	if err := f.Truncate(0); err != nil {
		f.Close()
		return nil, fmt.Errorf("logbook: %w", err)
	}
	// The name only serves the message of HeldError: a full disk must not keep a session from being opened.
	_, _ = fmt.Fprintf(f, "process %d on %s since %s\n", os.Getpid(), host, now.Format(time.RFC3339))
	return f, nil
}

// dropLock wipes the holder's name and frees the lock.
func dropLock(f *os.File) error {
	_ = f.Truncate(0)
	return f.Close()
}
