//go:build unix

package cue

import (
	"os"

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

// restore sets the modes that the terminal had.
func (b *fallback) restore() {
	if b != nil {
		_ = term.Restore(int(b.tty.Fd()), b.saved)
	}
	b.close()
}

func (b *fallback) close() {
	if b != nil {
		_ = b.tty.Close()
	}
}
