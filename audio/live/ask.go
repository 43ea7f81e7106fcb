//go:build cgo && !nolive

package live

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// How long a call into PortAudio may take: nobody should wait longer for an error. To start it may also mean to start a
// sound server.
const (
	beginTime = 3 * time.Second // to start the library
	openTime  = 3 * time.Second // to open or to start a stream
	endTime   = time.Second     // to stop, to close
)

// caller makes calls into a library one after the other, on a goroutine and a thread of its own, because each may hang for
// ever when a driver or a sound server has died. Once one has hung, no other call is ever made: the library holds locks
// of its own, and would only hang more.
type caller struct {
	start sync.Once
	calls chan func()
	hung  atomic.Pointer[string] // what was asked when it hung
}

func newCaller() *caller { return &caller{calls: make(chan func())} }

// library is PortAudio, which is one for the whole process.
var library = newCaller()

// ask makes a call and returns its result, or ErrNoAnswer when it takes longer than the limit. What is printed on standard error meanwhile is dropped. f must not touch anything that its caller goes on using after ErrNoAnswer.
func ask[T any](c *caller, what string, limit time.Duration, f func() (T, error)) (T, error) {
	var none T
	if before := c.hung.Load(); before != nil {
		return none, fmt.Errorf("%w since it was asked to %s", ErrNoAnswer, *before)
	}
	c.start.Do(func() {
		go func() {
			runtime.LockOSThread() // some drivers want all calls from one thread
			for call := range c.calls {
				call()
			}
		}()
	})
	type result struct {
		value T
		err   error
	}
	unmute, _ := mute() // when it fails, the noise is seen: better than no sound
	defer unmute()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	done := make(chan result, 1)
	call := func() {
		value, err := f()
		done <- result{value, err}
	}
	select {
	case c.calls <- call:
	case <-timer.C: // somebody else's call takes long
		return none, fmt.Errorf("%w in %v", ErrNoAnswer, limit)
	}
	select {
	case r := <-done:
		return r.value, r.err
	case <-timer.C:
		c.hung.Store(&what)
		return none, fmt.Errorf("%w in %v", ErrNoAnswer, limit)
	}
}

// do makes a call into PortAudio that has no result.
func do(what string, limit time.Duration, f func() error) error {
	_, err := ask(library, what, limit, func() (struct{}, error) { return struct{}{}, f() })
	return err
}
