//go:build unix

package live

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"
)

// waker lets the callback wake the reader without a lock: a pipe that never blocks its writer. Only raw writes are made in
// the callback. The reader waits in a raw read, on a thread of its own for that time: going through Go's poller instead takes two
// more system calls for each callback, and the time of a core that they cost can be measured.
type waker struct {
	in, out int // the ends of the pipe
	byte    [1]byte

	reading sync.Mutex // held while out is read
	bin     [64]byte
	limit   *time.Timer // wakes too
	late    atomic.Bool // the timer did
	off     atomic.Bool

	ringing sync.Mutex // held by the timer
	closed  bool
}

func newWaker() (*waker, error) {
	var ends [2]int
	if err := unix.Pipe(ends[:]); err != nil {
		return nil, fmt.Errorf("live: make a pipe: %w", err)
	}
	w := &waker{out: ends[0], in: ends[1]}
	unix.CloseOnExec(w.in)
	unix.CloseOnExec(w.out)
	if err := unix.SetNonblock(w.in, true); err != nil {
		unix.Close(w.in)
		unix.Close(w.out)
		return nil, fmt.Errorf("live: set up a pipe: %w", err)
	}
	w.limit = time.AfterFunc(time.Hour, func() {
		w.ringing.Lock()
		defer w.ringing.Unlock()
		if !w.closed {
			w.late.Store(true)
			w.wake()
		}
	})
	w.limit.Stop()
	return w, nil
}

// wake ends the wait, now or the next one. A pipe that is full does so too.
func (w *waker) wake() { unix.Write(w.in, w.byte[:]) }

// wait waits for wake and tells whether it came within the limit, or interrupt did. At times it returns true without either.
func (w *waker) wait(limit time.Duration) bool {
	w.reading.Lock()
	defer w.reading.Unlock()
	w.late.Store(false)
	w.limit.Reset(limit)
	if !w.off.Load() {
		unix.Read(w.out, w.bin[:])
	}
	return !w.late.Load()
}

// interrupt ends this wait and all later ones.
func (w *waker) interrupt() {
	w.off.Store(true)
	w.wake()
}

// close frees the pipe, after interrupt. Nobody may call wake any more: its number may be another file by then.
func (w *waker) close() {
	w.reading.Lock()
	defer w.reading.Unlock()
	w.ringing.Lock()
	defer w.ringing.Unlock()
	w.closed = true
	w.limit.Stop()
	unix.Close(w.in)
	unix.Close(w.out)
}
