package live

import (
	"sync/atomic"
	"time"
)

// second plays the alert on a device of its own. A nil *second is none; all methods but process may be called on it.
type second struct {
	alert     *beeper
	outs      int
	name      string
	callbacks atomic.Int64
	fading    atomic.Bool
	gone      atomic.Pointer[DeviceError]

	// The reader's: when the callbacks were last looked at, how many there were, and how often in a row there were no new ones.
	looked time.Time
	seen   int64
	silent int
}

// process is the callback. It neither allocates nor locks.
func (s *second) process(out []float32) {
	defer s.catch(out)
	clear(out)
	if s.fading.Load() {
		s.alert.hush()
	}
	s.alert.add(out, s.outs)
	s.callbacks.Add(1)
}

// catch keeps a fault of ours from ending the process; the device counts as gone then. It must be deferred.
func (s *second) catch(out []float32) {
	if fault := recover(); fault != nil {
		clear(out)
		s.gone.Store(&DeviceError{Device: s.name, What: "run", Err: ErrFault})
	}
}

// watch looks whether callbacks come, once in each wait.
func (s *second) watch(wait time.Duration) {
	if s == nil || s.gone.Load() != nil || time.Since(s.looked) < wait {
		return
	}
	n := s.callbacks.Load()
	if n != s.seen || s.looked.IsZero() {
		s.silent = 0
	} else if s.silent++; s.silent == 2 {
		s.gone.Store(&DeviceError{Device: s.name, What: "run", Err: ErrSilent})
	}
	s.looked, s.seen = time.Now(), n
}

// err returns why the alert cannot be heard, or nil.
func (s *second) err() error {
	if s == nil || s.gone.Load() == nil {
		return nil
	}
	return s.gone.Load()
}

// fade lets the alert fall silent for good.
func (s *second) fade() {
	if s != nil {
		s.fading.Store(true)
	}
}
