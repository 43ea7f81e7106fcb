//go:build unix

package live

import (
	"fmt"
	"os"
	"runtime/debug"
	"sync"

	"golang.org/x/sys/unix"
)

// stderr counts who wants file descriptor 2 to lead nowhere, and keeps where it led before.
var stderr struct {
	sync.Mutex
	users int
	saved *os.File
}

// mute makes file descriptor 2 lead nowhere: ALSA and JACK print dozens of lines there, which no setting turns off. The last
// of the functions returned brings it back; each may be called more than once. The traces of crashes, those in a C library too, go where
// it led before. When the descriptor cannot be moved away, it stays where it is.
func mute() (unmute func(), err error) {
	stderr.Lock()
	defer stderr.Unlock()
	if stderr.users == 0 {
		null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
		if err != nil {
			return func() {}, err
		}
		defer null.Close()
		fd, err := unix.FcntlInt(2, unix.F_DUPFD_CLOEXEC, 3)
		if err != nil {
			return func() {}, fmt.Errorf("live: save standard error: %w", err)
		}
		stderr.saved = os.NewFile(uintptr(fd), "/dev/stderr")
		if err := debug.SetCrashOutput(stderr.saved, debug.CrashOptions{}); err != nil {
			stderr.saved.Close()
			return func() {}, fmt.Errorf("live: lead crashes to standard error: %w", err)
		}
		if err := unix.Dup2(int(null.Fd()), 2); err != nil {
			debug.SetCrashOutput(nil, debug.CrashOptions{})
			stderr.saved.Close()
			return func() {}, fmt.Errorf("live: silence standard error: %w", err)
		}
	}
	stderr.users++
	return sync.OnceFunc(func() {
		stderr.Lock()
		defer stderr.Unlock()
		if stderr.users--; stderr.users == 0 {
			unix.Dup2(int(stderr.saved.Fd()), 2)
			debug.SetCrashOutput(nil, debug.CrashOptions{})
			stderr.saved.Close()
		}
	}), nil
}

// Quiet keeps what C libraries print on standard error off the screen until restore is called: they print not only while
// a stream opens, but whenever a server dies or a buffer runs dry. Everything else that is meant for standard error must go
// to saved meanwhile, which leads where it led before; restore closes it. The traces of panics and other crashes, of any
// goroutine, go there too, so they need no care.
//
// Where the libraries print nothing, saved is simply a second standard error.
func Quiet() (saved *os.File, restore func(), err error) {
	unmute, err := mute()
	if err != nil {
		return nil, nil, err
	}
	stderr.Lock()
	fd, err := unix.FcntlInt(stderr.saved.Fd(), unix.F_DUPFD_CLOEXEC, 3)
	stderr.Unlock()
	if err != nil {
		unmute()
		return nil, nil, fmt.Errorf("live: save standard error: %w", err)
	}
	saved = os.NewFile(uintptr(fd), "/dev/stderr")
	return saved, sync.OnceFunc(func() {
		unmute()
		saved.Close()
	}), nil
}
