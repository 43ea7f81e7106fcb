package cue

import "time"

// pace is the least time between two changes of the background. Three flashes a second are the most that is safe for
// people with photosensitive epilepsy (WCAG 2.2, success criterion 2.3.1), and a flash is two changes: seven changes must
// not fall into one second. Six times 170 ms are 1.02 s; the 20 ms are for frames that reach the glass late.
const pace = 170 * time.Millisecond

// backdrop holds the background back: the first change after a rest is at once, one that comes too soon waits until it
// may, and the newest state is shown then. The zero value is ready.
type backdrop struct {
	shown   State
	painted bool
	changed time.Time
}

// next tells which state's background is to be on the screen when want is the state, and how long it takes until want's
// may be; 0 when it is want's.
func (b *backdrop) next(want State, now time.Time) (State, time.Duration) {
	if !b.painted || want == b.shown {
		return want, 0
	}
	rested := max(now.Sub(b.changed), 0)
	if rested >= pace {
		return want, 0
	}
	return b.shown, pace - rested
}

// drawn tells that a frame with the background of s was written at now.
func (b *backdrop) drawn(s State, now time.Time) {
	if !b.painted || s != b.shown {
		*b = backdrop{shown: s, painted: true, changed: now}
	}
}
