package cli

import (
	"sync/atomic"

	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// sentry is a second detector that hears each block in the sound card's own callback, only to tell that it is worth waking
// somebody at once: as long as nothing changes, the sound is fetched in larger pieces, which costs far less. What the sentry hears
// is heard again, and counts then. It neither allocates nor locks.
type sentry struct {
	det    atomic.Pointer[detect.Detector]
	events []detect.Event // scratch of the callback
	heard  int            // samples since somebody was woken to learn; of the callback
	times  int            // the levels were learnt; of the goroutine that hears
}

// learnSamples are fetched at a time while the levels are being learnt: a follower looks for them 20 times a second.
const learnSamples = 2400

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
	s.events = d.Process(s.events[:0], block)
	for _, e := range s.events {
		if e.Stage == detect.Decided || e.Stage == detect.Withdrawn {
			return true
		}
	}
	return d.Suspicious()
}

// outdated tells that f has just learnt other levels.
func (s *sentry) outdated(f *pump.Follower) bool {
	_, times := f.Learnt()
	return times != s.times
}

// post lets the sentry go by the levels that f has learnt, when they are new.
func (s *sentry) post(f *pump.Follower) {
	cfg, times := f.Learnt()
	if times == s.times {
		return
	}
	s.times = times
	if d, err := detect.New(cfg); err == nil {
		s.det.Store(d)
	}
}
