//go:build !unix

package cue

import "github.com/gdamore/tcell/v2"

// fallback does nothing here: the console needs none.
type fallback struct{}

func (*fallback) restore() {}

func (*fallback) close() {}

// ownTerminal leaves the choice to tcell: a console is no file.
func ownTerminal() (tcell.Tty, *fallback, error) { return nil, nil, nil }
