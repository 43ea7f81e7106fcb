package audio

import (
	"math"
	"time"
)

// ramp is the soft start and stop of a sound: a raised cosine.
type ramp struct {
	rise    float64 // how far it has come at the next frame: 0 silence, 1 full level
	slope   float64 // of rise, a frame
	stopped bool
}

// set sets how long the ramp takes from silence to full level, rounded to frames of so many a second, one at least.
func (r *ramp) set(d time.Duration, rate float64) { r.slope = 1 / max(1, math.Round(d.Seconds()*rate)) }

// silent tells whether it was stopped and has come to its end.
func (r *ramp) silent() bool { return r.stopped && r.rise == 0 }

// gain is (1-cos(pi*rise))/2.
func (r *ramp) gain() float64 {
	if r.rise == 1 {
		return 1
	}
	return (1 - math.Cos(math.Pi*r.rise)) / 2
}

// step goes on by a frame.
func (r *ramp) step() {
	if r.stopped {
		r.rise = max(0, r.rise-r.slope)
	} else {
		r.rise = min(1, r.rise+r.slope)
	}
}
