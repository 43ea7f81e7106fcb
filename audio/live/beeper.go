package live

import (
	"cmp"
	"fmt"
	"math"
	"sync/atomic"
	"time"

	"breakcue/audio"
)

// beeper makes the alert: a tone that anybody may switch on and off while a callback plays it. It rises and falls by
// audio.SoftStart, so it never clicks, and what it leaves behind is exact silence.
type beeper struct {
	tone    *audio.Tone
	channel int   // from 0
	length  int64 // [frames] from its beginning to its fall; 0: until it is switched off

	// order counts the calls of sound and hush, times two, plus 1 when the last one was sound.
	order atomic.Uint64

	obeyed uint64 // the order that the callback has followed
	left   int64  // [frames] to the fall
}

// newBeeper makes the alert of a, which is silent, for the given rate [frames/s].
func newBeeper(a Alert, rate int) (*beeper, error) {
	tone, err := audio.NewTone(a.Hz, a.Level, rate)
	if err != nil {
		return nil, fmt.Errorf("live: alert: %w", err)
	}
	if a.Ramp > 0 {
		tone.SetRamp(a.Ramp)
	}
	tone.Stop()
	b := &beeper{tone: tone, channel: a.Channel - 1}
	if a.Length > 0 {
		ramp := cmp.Or(a.Ramp, audio.SoftStart)
		b.length = max(1, framesIn(max(a.Length-ramp, ramp), rate))
	}
	return b, nil
}

// sound starts the alert, or its length anew.
func (b *beeper) sound() { b.say(1) }

// hush lets the alert fall silent.
func (b *beeper) hush() { b.say(0) }

func (b *beeper) say(on uint64) {
	for {
		old := b.order.Load()
		if b.order.CompareAndSwap(old, (old|1)+1+on) {
			return
		}
	}
}

// add adds the alert to its channel of the next frames.
func (b *beeper) add(out []float32, channels int) {
	if order := b.order.Load(); order != b.obeyed {
		b.obeyed = order
		if order&1 == 1 {
			b.left = b.length
			b.tone.Start()
		} else {
			b.left = 0
			b.tone.Stop()
		}
	}
	if b.tone.Silent() {
		return
	}
	if n := min(b.left, int64(len(out)/channels)); n > 0 {
		b.tone.Add(out[:n*int64(channels)], channels, b.channel)
		out = out[n*int64(channels):]
		if b.left -= n; b.left == 0 {
			b.tone.Stop()
		}
	}
	b.tone.Add(out, channels, b.channel)
}

// framesIn returns how many frames d lasts, rounded.
func framesIn(d time.Duration, rate int) int64 { return int64(math.Round(d.Seconds() * float64(rate))) }
