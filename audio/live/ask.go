//go:build cgo && !nolive

package live

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// How long a call into PortAudio may take. Nobody should wait longer for an error; a sound server that has to be started first
// may take some seconds.
const (
	beginTime = 5 * time.Second // to start the library, which may start a sound server
	openTime  = 3 * time.Second // to open or to start a stream
	endTime   = time.Second     // to stop, to close
)

// library is PortAudio, which is one for the whole process. All calls into it are made one after the other by a goroutine on a thread
// of its own, because each may hang for ever when a driver or a sound server has died. Once one has hung, no other
// call is ever made in this process: the library holds locks of its own, and would only hang more.
var library = struct {
	start sync.Once
	calls chan func()
	hung  atomic.Pointer[string] // what was asked when it hung
}{calls: make(chan func())}

// ask makes a call into PortAudio and returns its result, or ErrNoAnswer when it takes longer than the limit. What is printed
// on standard error meanwhile is dropped. f must not touch anything that its caller goes on using after ErrNoAnswer.
func ask[T any](what string, limit time.Duration, f func() (T, error)) (T, error) {
	var none T
	if before := library.hung.Load(); before != nil {
		return none, fmt.Errorf("%w since it was asked to %s", ErrNoAnswer, *before)
	}
	library.start.Do(func() {
		go func() {
			runtime.LockOSThread() // some drivers want all calls from one thread
			for call := range library.calls {
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
	case library.calls <- call:
	case <-timer.C: // somebody else's call takes long
		return none, fmt.Errorf("%w in %v", ErrNoAnswer, limit)
	}
	select {
	case r := <-done:
		return r.value, r.err
	case <-timer.C:
		library.hung.Store(&what)
		return none, fmt.Errorf("%w in %v", ErrNoAnswer, limit)
	}
}

// do is ask for a call without a result.
func do(what string, limit time.Duration, f func() error) error {
	_, err := ask(what, limit, func() (struct{}, error) { return struct{}{}, f() })
	return err
}
