// Package cli holds the commands of breakcue, one file each, and the one place where errors become exit codes.
package cli

import (
	"io"
	"os"
	"time"

	"github.com/gdamore/tcell/v2"
	"golang.org/x/term"
)

// Env is everything a command may touch of the outside world, so that each command can be tried with and without a
// terminal.
type Env struct {
	In       io.Reader
	Out, Err io.Writer
	// InTTY and OutTTY tell whether In is a keyboard and Out a screen.
	InTTY, OutTTY bool
	// Columns tells how wide the terminal is; 0: that is not known. nil: as wide as usual.
	Columns func() int
	// Screen is drawn on in place of the terminal; nil outside of tests.
	Screen tcell.Screen
	// Getenv reads the environment.
	Getenv func(string) string
	// Now is the wall clock, for the dates in logs; it never times an edge.
	Now func() time.Time
	// Sleep paces the demo.
	Sleep func(time.Duration)
	// Cards is how sound cards are found and opened.
	Cards Cards
}

// OSEnv returns the Env of the running process.
func OSEnv() Env {
	return Env{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr,
		InTTY: isTerminal(os.Stdin), OutTTY: isTerminal(os.Stdout),
		Columns: terminalColumns, Getenv: os.Getenv, Now: time.Now, Sleep: time.Sleep, Cards: realCards(),
	}
}

// terminalColumns is the width of the terminal that results are shown on; 0 where they are not.
func terminalColumns() int {
	n, _, err := term.GetSize(int(os.Stdout.Fd()))
	if err != nil {
		return 0
	}
	return n
}

func isTerminal(f *os.File) bool {
	return term.IsTerminal(int(f.Fd()))
}
