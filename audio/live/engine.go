package live

import (
	"cmp"
	"fmt"
	"sync/atomic"
	"time"

	"breakcue/audio"
)

const (
	ringTime  = 4 * time.Second        // of sound that may wait for the reader
	lateTime  = 500 * time.Millisecond // a callback that comes later than this was kept from coming, not only delayed
	gather    = time.Millisecond       // of sound that is gathered before the reader is woken, unless the options say more
	hurryTime = 4 * time.Millisecond   // after something urgent in which nothing is gathered
	fullScale = 0.9999                 // what 16 bits make of a sample at the upper end is 0.99997
	visits    = 1024                   // callbacks whose time of entry is kept
)

// engine is what happens in the callback of a stream. process allocates nothing and takes no lock; the other side
// talks to it by atomics and a pipe.
type engine struct {
	rate, ins, outs int
	tone            *audio.Tone
	toneChannel     int         // from 0
	player          *player     // what Play was given
	second          *audio.Tone // of the second set of points, nil for none
	secondChannel   int
	alert           *beeper // nil when there is none, or on a device of its own
	ring            *ring
	wake            *waker
	enough          int64 // frames that the reader is woken for
	urgent          func([]float32) bool
	start           time.Time // times below count from here

	frame int64         // absolute number of the next input frame; the callback's
	hurry int64         // frame up to which nothing is gathered; the callback's
	due   time.Duration // when the next callback is due; the callback's

	callbacks, flagged, perBuffer atomic.Int64
	overrun, late, clipped        atomic.Int64
	full                          atomic.Int64 // first frame that was entered with the tone at its level
	waiting                       atomic.Bool  // the reader waits to be woken
	nudged                        atomic.Bool  // it is to be woken by the next buffer
	fading, silent                atomic.Bool  // the end was asked for; and is there
	fault                         atomic.Pointer[string]
	visit                         [visits]struct{ frame, frames, at atomic.Int64 }
}

// newEngine makes the engine of a stream of ins input and outs output channels, both 1 or more. The options are as checked.
func newEngine(o Options, rate, ins, outs int) (*engine, error) {
	tone, err := audio.NewTone(o.Tone.Hz, o.Tone.Level, rate)
	if err != nil {
		return nil, fmt.Errorf("live: %w", err)
	}
	ramp := cmp.Or(max(0, o.Tone.Ramp), audio.SoftStart)
	tone.SetRamp(ramp)
	e := &engine{rate: rate, ins: ins, outs: outs, tone: tone, toneChannel: o.Tone.Channel - 1, start: time.Now()}
	e.ring = newRing(int(framesIn(ringTime, rate)), ins)
	e.enough, e.urgent = framesIn(cmp.Or(o.Gather, gather), rate), o.Urgent
	e.full.Store(framesIn(ramp, rate))
	e.player = &player{rate: rate, channels: outs, channel: o.Tone.Channel - 1, ramp: framesIn(audio.SoftStart, rate)}
	if o.Second != nil {
		if e.second, err = audio.NewTone(o.Second.Hz, o.Second.Level, rate); err != nil {
			return nil, fmt.Errorf("live: second tone: %w", err)
		}
		e.second.SetRamp(cmp.Or(max(0, o.Second.Ramp), audio.SoftStart))
		e.secondChannel = o.Second.Channel - 1
	}
	if o.Alert != nil && o.Alert.Device == "" {
		if e.alert, err = newBeeper(*o.Alert, rate); err != nil {
			return nil, err
		}
	}
	e.wake, err = newWaker()
	return e, err
}

// process is the callback: it takes the input frames in and makes the output frames out, both interleaved, at the time
// now. flagged tells that the driver suspects a loss.
func (e *engine) process(in, out []float32, flagged bool, now time.Time) {
	defer e.catch(out)
	clear(out)
	frames := int64(len(in) / e.ins)
	at := now.Sub(e.start)
	e.count(frames, flagged, at)
	if e.fading.Load() {
		e.stop()
	} else if e.player.take(e.frame) {
		e.tone.SetRamp(audio.SoftStart)
		e.tone.Stop()
	}
	e.tone.Fill(out, e.outs, e.toneChannel)
	e.player.add(out, e.frame)
	if e.second != nil {
		e.second.Fill(out, e.outs, e.secondChannel)
	}
	if e.alert != nil {
		e.alert.add(out, e.outs)
	}
	e.overrun.Add(e.ring.write(in))
	e.clipped.Add(clipped(in))
	e.frame += frames
	if e.nudged.Load() && e.nudged.Swap(false) || e.urgent != nil && e.urgent(in) {
		e.hurry = e.frame + framesIn(hurryTime, e.rate)
	}
	e.callbacks.Add(1)
	if e.waiting.Load() && (e.frame <= e.hurry || e.ring.unread() >= e.enough) && e.waiting.Swap(false) {
		e.wake.wake()
	}
}

// count keeps the books of a callback entered at the time at.
func (e *engine) count(frames int64, flagged bool, at time.Duration) {
	n := e.callbacks.Load()
	if late := at - e.due; n > 0 && late > lateTime {
		lost := framesIn(late, e.rate)
		if e.frame < e.full.Load() {
			e.full.Add(lost)
		}
		e.frame += lost
		e.ring.lose(lost)
		e.late.Add(lost)
	}
	e.due = at + time.Duration(frames)*time.Second/time.Duration(e.rate)
	if flagged {
		e.flagged.Add(1)
	}
	e.perBuffer.Store(frames)
	v := &e.visit[n%visits]
	v.frame.Store(e.frame)
	v.frames.Store(frames)
	v.at.Store(int64(at))
}

// clipped counts samples at full scale.
func clipped(in []float32) (n int64) {
	for _, v := range in {
		if v >= fullScale || v <= -fullScale {
			n++
		}
	}
	return n
}

// stop lets everything fall silent quickly, however slowly it rose.
func (e *engine) stop() {
	if e.tone.Silent() && e.player.silent() && (e.second == nil || e.second.Silent()) && (e.alert == nil || e.alert.tone.Silent()) {
		e.silent.Store(true)
		return
	}
	for _, t := range [2]*audio.Tone{e.tone, e.second} {
		if t != nil {
			t.SetRamp(audio.SoftStart)
			t.Stop()
		}
	}
	e.player.stop()
	if e.alert != nil {
		e.alert.hush()
	}
}

// catch keeps a fault of ours from ending the process in the middle of a callback: the stream falls silent and Read
// tells. It must be deferred.
func (e *engine) catch(out []float32) {
	if fault := recover(); fault != nil {
		clear(out)
		text := fmt.Sprint(fault)
		e.fault.CompareAndSwap(nil, &text)
		e.wake.wake()
	}
}

// wait waits until there may be something for the reader, at most for the limit, and tells whether it was woken.
func (e *engine) wait(limit time.Duration) bool {
	e.waiting.Store(true)
	defer e.waiting.Store(false)
	if e.ring.unread() > 0 || e.fault.Load() != nil { // came just before it could know
		return true
	}
	return e.wake.wait(limit)
}

// entered returns when the callback was entered that carried the input frame with this absolute number.
func (e *engine) entered(frame int64) (time.Time, bool) {
	for n, i := e.callbacks.Load(), int64(1); i < visits && i <= n; i++ {
		v := &e.visit[(n-i)%visits]
		first, frames, at := v.frame.Load(), v.frames.Load(), v.at.Load()
		if e.callbacks.Load()-(n-i) >= visits {
			break // written over meanwhile
		}
		if frame >= first {
			return e.start.Add(time.Duration(at)), frame < first+frames
		}
	}
	return time.Time{}, false
}
