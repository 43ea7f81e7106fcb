package cli

import (
	"sync/atomic"

	"breakcue/detect"
)

// sentry is a second detector that hears each block in the sound card's own callback, only to tell that it is worth waking
// somebody at once: as long as nothing changes, the sound is fetched in larger pieces, which costs far less. What the sentry hears
// is heard again, and counts then. It neither allocates nor locks.
type sentry struct {
	det    atomic.Pointer[guard]
	events []detect.Event // scratch of the callback
	heard  int            // samples since somebody was woken to learn; of the callback
	times  int            // the levels were learnt; of the goroutine that hears
}

// learnSamples are fetched at a time while the levels are being learnt: a follower looks for them 20 times a second.
const learnSamples = 2400

// guard is a detector of one set of points or of two, as a sentry needs it.
type guard interface {
	Process(dst []detect.Event, block []float32) []detect.Event
	// Suspicious tells that a change may be under way.
	Suspicious() bool
}

func newSentry() *sentry { return &sentry{events: make([]detect.Event, 0, 1024)} }

// urgent is called in the callback with each block.
func (s *sentry) urgent(block []float32) bool {
	d := s.det.Load()
	if d == nil {
		s.heard += len(block)
		if s.heard < learnSamples {
			return false
		}
		s.heard = 0
		return true
	}
	s.events = (*d).Process(s.events[:0], block)
	for _, e := range s.events {
		if e.Stage == detect.Decided || e.Stage == detect.Withdrawn {
			return true
		}
	}
	return (*d).Suspicious()
}

// outdated tells that f has just learnt other levels.
func (s *sentry) outdated(f follower) bool { return f.Times() != s.times }

// post lets the sentry go by the levels that f has learnt, when they are new.
func (s *sentry) post(f follower) {
	if !s.outdated(f) {
		return
	}
	s.times = f.Times()
	if d, err := f.Guard(); err == nil {
		s.det.Store(&d)
	}
}
