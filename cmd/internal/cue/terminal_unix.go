//go:build unix

package cue

import (
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/gdamore/tcell/v2"
	"golang.org/x/term"
)

// fallback puts the terminal back where tcell cannot, because it waits for a write that never ends or was cut off by a
// panic. nil does nothing.
type fallback struct {
	tty   *os.File
	saved *term.State
}

// ownTerminal opens the terminal this process belongs to.
func ownTerminal() (tcell.Tty, *fallback, error) {
	const name = "/dev/tty"
	tty, err := tcell.NewDevTtyFromDev(name)
	if err != nil {
		return nil, nil, err
	}
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return nil, nil, err
	}
	saved, err := term.GetState(int(f.Fd()))
	if err != nil {
		return nil, nil, err
	}
	return tty, &fallback{f, saved}, nil
}

// restore sets the modes the terminal had. That is harmless where it has them.
func (b *fallback) restore() {
	if b != nil {
		_ = term.Restore(int(b.tty.Fd()), b.saved)
		_ = b.tty.Close()
	}
}

// stopSignals tells when somebody else asks this process to stop.
func stopSignals() (stops <-chan os.Signal, unhook func()) {
	c := make(chan os.Signal, 1)
	signal.Notify(c, syscall.SIGTSTP)
	return c, func() { signal.Stop(c) }
}

// stopProcess stops the processes of this group, as the terminal does on Ctrl-Z, and returns when they go on.
func stopProcess() {
	goesOn := make(chan os.Signal, 1)
	signal.Notify(goesOn, syscall.SIGCONT)
	defer signal.Stop(goesOn)
	signal.Reset(syscall.SIGTSTP)
	_ = syscall.Kill(0, syscall.SIGTSTP)
	// The system does not stop a group that no shell watches over; nobody would make it go on.
	watched := time.NewTimer(300 * time.Millisecond)
	defer watched.Stop()
	select {
	case <-goesOn:
	case <-watched.C:
	}
}
