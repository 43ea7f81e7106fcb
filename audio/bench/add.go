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
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.voice.add(b.frame, changes)
}

// add adds changes after so many frames have been read.
func (v *voice) add(read int64, changes []Change) error {
	if len(changes) == 0 {
		return nil
	}
	n := len(v.cfg.Changes)
	last, closed := math.Inf(-1), !v.cfg.StartOpen
	if n > 0 {
		last, closed = v.cfg.Changes[n-1].At, v.cfg.Changes[n-1].Closed
	}
	more := *v.cfg
	more.Changes = append(v.cfg.Changes, changes...) // with an error, what lies past the length of ours is nobody's
	if err := more.validateFrom(n, last, closed); err != nil {
		return err
	}
	if at := changes[0].At; read > 0 && v.level.sees(read-1, at) {
		return fmt.Errorf("bench: instant of change %d [s], got %v, want one that no frame shows yet: %d were read, %v s", n, at, read,
			float64(read)/float64(v.cfg.SampleRate))
	}
	v.cfg.Changes = more.Changes
	v.level.added()
	return nil
}
