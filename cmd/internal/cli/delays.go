package cli

import (
	"slices"
	"sync"
	"time"

	"breakcue/cmd/internal/cue"
	"breakcue/detect"
)

// delays measures how long the way is from the sound card's callback to the screen. The one goroutine that hears and that of
// the screen both use it.
type delays struct {
	mu      sync.Mutex
	number  int       // opening that is on its way to the screen; 0: none
	from    time.Time // when the callback that decided it was entered
	samples []time.Duration
}

// mostDelays is how many are kept.
const mostDelays = 1 << 16

// entered notes an opening that will be shown under a number.
func (d *delays) entered(c Card, e detect.Event, number int) {
	at, ok := c.Entered(e.DecidedFrame)
	if !ok {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.number, d.from = number, at
}

// shown takes a View that is on the screen.
func (d *delays) shown(v cue.View, at time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.number == 0 || v.Number < d.number {
		return
	}
	d.number = 0
	if len(d.samples) < mostDelays {
		d.samples = append(d.samples, at.Sub(d.from))
	}
}

// quantile returns the delay within which the share q (0..1) of the openings were shown; ok is false when there were none.
func (d *delays) quantile(q float64) (delay time.Duration, ok bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.samples) == 0 {
		return 0, false
	}
	s := slices.Sorted(slices.Values(d.samples))
	return s[min(len(s)-1, int(q*float64(len(s))))], true
}
