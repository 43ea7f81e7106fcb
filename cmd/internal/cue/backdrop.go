package cue

import "time"

// pace is the least time between two changes of the background. Three flashes a second are the most that is safe for
// people with photosensitive epilepsy (WCAG 2.2, success criterion 2.3.1), and a flash is two changes: seven changes must
// not fall into one second. Six times 170 ms are 1.02 s; the 20 ms are for frames that reach the glass late.
const pace = 170 * time.Millisecond

// grounds are the states whose backgrounds are on the screen: 0 is that of the whole screen, or of what is neither set's where there are two
// sets of points; 1 and 2 are theirs.
type grounds [3]State

// grounds are those that a view asks for. Around two sets of points nothing ever changes.
func (v View) grounds() grounds {
	if v.both() {
		return grounds{Closed, v.Sets[0].State, v.Sets[1].State}
	}
	return grounds{v.State}
}

// backdrop holds the background back: the first change after a rest is at once, one that comes too soon waits until it
// may, and the newest state is shown then. Two sets of points change together, so that their flashes are no more in sum. The zero
// value is ready.
type backdrop struct {
	shown   grounds
	painted bool
	changed time.Time
}

// next tells which backgrounds are to be on the screen when those of want are wanted, and how long it takes until they may be; 0 when
// they are.
func (b *backdrop) next(want grounds, now time.Time) (grounds, time.Duration) {
	if !b.painted || want == b.shown {
		return want, 0
	}
	rested := max(now.Sub(b.changed), 0)
	if rested >= pace {
		return want, 0
	}
	return b.shown, pace - rested
}

// drawn tells that a frame with the backgrounds g was written at now.
func (b *backdrop) drawn(g grounds, now time.Time) {
	if !b.painted || g != b.shown {
		*b = backdrop{shown: g, painted: true, changed: now}
	}
}
