//go:build !unix

package cue

import (
	"os"

	"github.com/gdamore/tcell/v2"
)

// fallback does nothing here: the console needs none.
type fallback struct{}

func (*fallback) restore() {}

// ownTerminal leaves the choice to tcell: a console is no file.
func ownTerminal() (tcell.Tty, *fallback, error) { return nil, nil, nil }

// stopSignals: nobody stops processes here.
func stopSignals() (<-chan os.Signal, func()) { return nil, func() {} }

func stopProcess() {}
