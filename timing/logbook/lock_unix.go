//go:build !windows

package logbook

import (
	"errors"
	"os"
	"syscall"
)

// noWait opens a named pipe that nobody writes to without waiting for somebody (POSIX, open; from memory).
const noWait = syscall.O_NONBLOCK

// tryLock locks f without waiting; held tells that somebody else has it. Closing f frees the lock.
func tryLock(f *os.File) (held bool, err error) {
	for {
		err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if !errors.Is(err, syscall.EINTR) {
			break
		}
	}
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return true, nil
	}
	return false, err
}
