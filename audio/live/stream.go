package live

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"breakcue/audio"
)

// freshWait is how long Read waits for a callback. Two such waits in a row without any callback and the device counts as gone;
// one alone does not, because it also passes while the process itself is suspended. In the first second of sound it takes three,
// because some sound servers pause for nearly two seconds after the first few callbacks.
const freshWait = time.Second

// Stream is a sound card at work: it plays the test tone, and is an audio.Source of what comes back. The tone and the input
// run in step: output frame n is made in the callback that carries input frame n, so the way out and back takes the
// same number of frames for as long as no frames are lost. All output channels but those of the voices are silent.
//
// Frames are lost in two ways that the stream itself can see, and reports as audio.GapError: nobody called Read for
// seconds (counted exactly), and a callback that came more than half a second late, as after the process was suspended
// (reckoned from the clock). A shorter loss inside the driver shows as a jump of the phase of the returned tone; whoever
// follows the tone finds it. The driver's own flags prove nothing: see Stats.
//
// Read and Close may be called from different goroutines, Sound, Hush and the other methods from any.
type Stream struct {
	engine *engine
	info   Info
	stop   func(running bool) error // stops and frees everything below; running: the device was last seen alive
	wait   time.Duration            // freshWait
	second *second                  // the device of the alert, when it is another one

	err     error // sticky; the reader's
	failed  atomic.Bool
	closed  atomic.Bool
	once    sync.Once
	closing error
}

// Info says what a Stream runs on.
type Info struct {
	Input, Output string // devices
	HostAPI       string
	Alert         string // device of the alert, when it is another one; else empty
	Rate          int    // [frames/s]
	Frames        int    // per buffer, as last seen; 0 before the first callback
	Inputs        int    // channels recorded
	Outputs       int    // channels played, silent ones included
}

// Stats counts what a Stream has seen so far.
type Stats struct {
	Callbacks int64
	// Flagged is how many callbacks the driver marked as following a loss. A hint at most: some drivers mark one in five although
	// nothing is lost.
	Flagged int64
	Overrun int64 // frames lost because nobody read them in time
	Late    int64 // frames lost, by the clock, before callbacks that came late
	Clipped int64 // input samples at full scale
}

// newStream makes a Stream around an engine whose callback has begun or is about to.
func newStream(e *engine, info Info, stop func(running bool) error) *Stream {
	return &Stream{engine: e, info: info, stop: stop, wait: freshWait}
}

// ErrClosed is what Read returns after Close.
var ErrClosed = errors.New("live: the stream is closed")

// Format returns what Read delivers. Encoding is "live", the length is not known.
func (s *Stream) Format() audio.Format {
	return audio.Format{SampleRate: s.engine.rate, Channels: s.engine.ins, Frames: -1, Encoding: "live"}
}

// Read waits until there is a frame and returns what is there, at most what fits into dst; small buffers are gathered to
// about a millisecond, or what Options.Gather says. It returns a *audio.GapError where frames are missing, and a *DeviceError, which is sticky, when no sound
// has come for two seconds (three in the first second of sound) or the callback has failed. It panics when dst holds less than a frame.
func (s *Stream) Read(dst []float32) (int, error) {
	if len(dst) < s.engine.ins {
		panic(fmt.Sprintf("live: read into %d samples, want at least %d", len(dst), s.engine.ins))
	}
	if s.err == nil {
		n, err := s.read(dst)
		var gap *audio.GapError
		if err != nil && !errors.As(err, &gap) {
			s.err = err
			s.failed.Store(!errors.Is(err, ErrClosed))
		}
		return n, err
	}
	return 0, s.err
}

func (s *Stream) read(dst []float32) (int, error) {
	e := s.engine
	s.second.watch(s.wait)
	patience := 2
	if e.ring.written.Load() < int64(e.rate) {
		patience = 3
	}
	for silent := 0; ; {
		if s.closed.Load() {
			return 0, ErrClosed
		}
		if n, gap := e.ring.take(dst); gap != nil {
			return 0, gap
		} else if n > 0 {
			return n, nil
		}
		if fault := e.fault.Load(); fault != nil {
			return 0, &DeviceError{Device: s.info.Input, What: "run", Err: fmt.Errorf("%w: %s", ErrFault, *fault)}
		}
		seen := e.callbacks.Load()
		if e.wait(s.wait) || e.callbacks.Load() != seen {
			silent = 0
		} else if silent++; silent == patience {
			return 0, &DeviceError{Device: s.info.Input, What: "run", Err: ErrSilent}
		}
	}
}

// fadeTime is how long Close waits for the end of the tone: some buffers, and the few milliseconds of its fall.
const fadeTime = 300 * time.Millisecond

// Close lets the tone fall silent within a few milliseconds and frees the device. It never hangs: after about a second
// for each thing asked of a driver that does not answer, it returns a *DeviceError with ErrNoAnswer. Later calls return the same.
func (s *Stream) Close() error {
	s.once.Do(func() {
		s.closed.Store(true)
		e := s.engine
		e.wake.interrupt()
		e.fading.Store(true)
		s.second.fade()
		running := !s.failed.Load() && e.fault.Load() == nil
		for end := time.Now().Add(fadeTime); running && !e.silent.Load() && time.Now().Before(end); {
			time.Sleep(time.Millisecond)
		}
		if s.closing = s.stop(running && e.silent.Load()); s.closing == nil {
			e.wake.close() // else a callback may still come and write to it
		}
	})
	return s.closing
}

// Nudge lets Read return with the next buffer instead of gathering: something else than sound waits for the reader.
func (s *Stream) Nudge() { s.engine.nudged.Store(true) }

// Sound starts the alert; while it sounds, its length begins anew, without a click. Without an alert it does nothing.
func (s *Stream) Sound() {
	if b := s.beeper(); b != nil {
		b.sound()
	}
}

// Hush lets the alert fall silent.
func (s *Stream) Hush() {
	if b := s.beeper(); b != nil {
		b.hush()
	}
}

func (s *Stream) beeper() *beeper {
	if s.second != nil {
		return s.second.alert
	}
	return s.engine.alert
}

// AlertErr returns nil while the alert can be heard, as far as the stream can tell, and a *DeviceError once the alert's own
// device is gone: it stays silent then, but listening goes on, because the points and the screen need no alert.
// Whoever relies on the alert must be told: look here now and then. Read does the watching, in the same way as for its own
// device.
func (s *Stream) AlertErr() error { return s.second.err() }

// Entered returns when the callback was entered that carried the input frame with this number, counted from the first
// frame, lost frames included. Only the last thousand callbacks are known; false for others and for lost frames.
func (s *Stream) Entered(frame int64) (time.Time, bool) {
	return s.engine.entered(frame)
}

// ToneFrom returns the first frame for which the tone goes out at its full level; it comes back later by the round trip, which no
// driver tells reliably. Who learns levels from the sound must not begin before.
func (s *Stream) ToneFrom() int64 { return s.engine.full.Load() }

// Info returns what the stream runs on.
func (s *Stream) Info() Info {
	info := s.info
	info.Rate, info.Inputs, info.Outputs = s.engine.rate, s.engine.ins, s.engine.outs
	info.Frames = int(s.engine.perBuffer.Load())
	return info
}

// Stats returns the counts so far.
func (s *Stream) Stats() Stats {
	e := s.engine
	return Stats{Callbacks: e.callbacks.Load(), Flagged: e.flagged.Load(), Overrun: e.overrun.Load(), Late: e.late.Load(), Clipped: e.clipped.Load()}
}
