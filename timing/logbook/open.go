package logbook

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// Holds tells whether a folder is that of a session: something in it is called like a journal, even if it cannot be read.
func Holds(dir string) bool {
	_, err := os.Lstat(filepath.Join(dir, FileName))
	return err == nil || !isAbsent(err)
}

// isAbsent tells that there is no such name.
func isAbsent(err error) bool {
	return errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR)
}

// openJournal opens the journal of a session folder for reading. What is no file, such as a named pipe, may never end, or
// hold up whoever opens it: it is opened without waiting, and told what it is.
func openJournal(dir string) (*os.File, error) {
	path := filepath.Join(dir, FileName)
	f, err := os.OpenFile(path, os.O_RDONLY|noWait, 0)
	if err != nil {
		if what := (*NotFileError)(nil); errors.As(WantFile(path), &what) {
			return nil, what
		}
		return nil, err
	}
	st, err := f.Stat()
	if err == nil && !st.Mode().IsRegular() {
		err = &NotFileError{path, kindOf(st.Mode())}
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// NotFileError says that a name where a file is wanted stands for something else.
type NotFileError struct {
	Path string
	What string // "a named pipe"
}

// Error implements error.
func (e *NotFileError) Error() string { return e.Path + " is " + e.What + ", want a file" }

// WantFile returns a *NotFileError when a path names something that is no file, and the error of the system when it cannot tell.
// It opens nothing.
func WantFile(path string) error {
	st, err := os.Stat(path)
	if err == nil && !st.Mode().IsRegular() {
		return &NotFileError{path, kindOf(st.Mode())}
	}
	if err != nil && isAbsent(err) {
		if link, err := os.Lstat(path); err == nil && link.Mode()&fs.ModeSymlink != 0 {
			return &NotFileError{path, "a link to what is not there"}
		}
	}
	return err
}

func kindOf(mode fs.FileMode) string {
	switch {
	case mode.IsDir():
		return "a folder"
	case mode&fs.ModeNamedPipe != 0:
		return "a named pipe"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	case mode&fs.ModeDevice != 0:
		return "a device"
	}
	return "something else"
}
