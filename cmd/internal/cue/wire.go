package cue

import (
	"sync"

	"github.com/gdamore/tcell/v2"
)

// wire stands between tcell and the terminal. It gathers what belongs to one frame, so that the frame goes out in one
// write, and keeps the error of a write, which tcell drops.
type wire struct {
	tcell.Tty
	resized func()      // called when the terminal has a new size
	failed  func(error) // called when a write fails

	mu   sync.Mutex
	held bool
	buf  []byte
	n    count
}

// count is how much went out.
type count struct{ writes, bytes int }

// Write sends p, or keeps it while a frame is gathered.
func (w *wire) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.held {
		w.buf = append(w.buf, p...)
		return len(p), nil
	}
	return w.send(p)
}

// hold begins a frame.
func (w *wire) hold() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.held = true
}

// flush writes the frame.
func (w *wire) flush() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.held = false
	if len(w.buf) > 0 {
		_, _ = w.send(w.buf) // failed has the error
		w.buf = w.buf[:0]
	}
}

func (w *wire) send(p []byte) (int, error) {
	n, err := w.Tty.Write(p)
	w.n.writes++
	w.n.bytes += n
	if err != nil {
		w.failed(err)
	}
	return n, err
}

// NotifyResize keeps tcell from redrawing by itself, which it would do with the old contents: the screen does it.
func (w *wire) NotifyResize(cb func()) {
	if cb != nil {
		cb = w.resized
	}
	w.Tty.NotifyResize(cb)
}
