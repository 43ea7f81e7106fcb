//go:build cgo && !nolive && unix

package live

import (
	"os"

	"golang.org/x/sys/unix"
)

// quietly calls f while file descriptor 2 leads nowhere: ALSA and JACK print dozens of lines there, which no setting
// turns off. When the descriptor cannot be moved away, f is called all the same.
func quietly(f func() error) error {
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		return f()
	}
	defer null.Close()
	const stderr = 2
	saved, err := unix.FcntlInt(stderr, unix.F_DUPFD_CLOEXEC, stderr+1)
	if err != nil {
		return f()
	}
	defer unix.Close(saved)
	if err := unix.Dup2(int(null.Fd()), stderr); err != nil {
		return f()
	}
	defer unix.Dup2(saved, stderr)
	return f()
}
