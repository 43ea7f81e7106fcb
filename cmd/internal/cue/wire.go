package cue

import (
	"sync/atomic"

	"github.com/gdamore/tcell/v2"
	"github.com/gdamore/tcell/v2/terminfo"
)

// wire stands between tcell and the terminal. It keeps the error of a write, which tcell drops, and hears of a new size,
// at which tcell would draw by itself.
type wire struct {
	tcell.Tty
	info    *terminfo.Terminfo
	resized func()      // called when the terminal has a new size
	failed  func(error) // called when a write fails

	writes, bytes atomic.Int64 // what went out
}

// Write sends p.
func (w *wire) Write(p []byte) (int, error) {
	n, err := w.Tty.Write(p)
	w.writes.Add(1)
	w.bytes.Add(int64(n))
	if err != nil {
		w.failed(err)
	}
	return n, err
}

// NotifyResize tells the screen instead of tcell.
func (w *wire) NotifyResize(cb func()) {
	if cb != nil {
		cb = w.resized
	}
	w.Tty.NotifyResize(cb)
}
