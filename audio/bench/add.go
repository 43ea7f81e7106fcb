package bench

import (
	"fmt"
	"math"
)

// LookAhead is how many frames before its instant a change may already be seen in the sound, by the shape of a band-limited edge:
// a change that lies so far past the last frame read, or farther, can always be added.
const LookAhead = reach

// Frame returns how many frames have been read.
func (b *Bench) Frame() int64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.frame
}

// Add adds changes after those that there are, as if they had stood in the Config from the beginning. They must follow on in time and
// each change the state, and no frame that was read may already have shown something of them; see LookAhead. With an error, which
// names the first that does not fit, none is added. It may be called from any goroutine; while a Read makes its frames it waits.
func (b *Bench) Add(changes ...Change) error {
	if len(changes) == 0 {
		return nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	n := len(b.cfg.Changes)
	last, closed := math.Inf(-1), !b.cfg.StartOpen
	if n > 0 {
		last, closed = b.cfg.Changes[n-1].At, b.cfg.Changes[n-1].Closed
	}
	more := b.cfg
	more.Changes = append(b.cfg.Changes, changes...) // with an error, what lies past the length of ours is nobody's
	if err := more.validateFrom(n, last, closed); err != nil {
		return err
	}
	if at := changes[0].At; b.frame > 0 && b.level.sees(b.frame-1, at) {
		return fmt.Errorf("bench: instant of change %d [s], got %v, want one that no frame shows yet: %d were read, %v s", n, at, b.frame,
			float64(b.frame)/float64(b.cfg.SampleRate))
	}
	b.cfg.Changes = more.Changes
	b.level.added()
	return nil
}
