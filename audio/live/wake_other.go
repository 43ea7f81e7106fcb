//go:build !unix

package live

import (
	"sync/atomic"
	"time"
)

// waker lets the callback wake the reader without a lock. Where there are no pipes that a callback could write to without
// waiting, the reader looks every millisecond whether it was called.
type waker struct{ called, off atomic.Bool }

func newWaker() (*waker, error) { return &waker{}, nil }

// wake ends the wait, now or the next one.
func (w *waker) wake() { w.called.Store(true) }

// wait waits for wake and tells whether it came within the limit, or interrupt did.
func (w *waker) wait(limit time.Duration) bool {
	for end := time.Now().Add(limit); !w.called.Swap(false) && !w.off.Load(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			return false
		}
	}
	return true
}

// interrupt ends this wait and all later ones.
func (w *waker) interrupt() { w.off.Store(true) }

// close does nothing.
func (w *waker) close() {}
