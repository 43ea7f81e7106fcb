package logbook

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// noWait is nothing here: pipes have names of their own, in no folder.
const noWait = 0

// tryLock locks f without waiting; held tells that somebody else has it. Closing f frees the lock. It locks one byte far
// past the end, because on Windows a locked byte cannot be read and the holder's name must be.
func tryLock(f *os.File) (held bool, err error) {
	err = windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY,
		0, 1, 0, &windows.Overlapped{OffsetHigh: 1})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return true, nil
	}
	return false, err
}
