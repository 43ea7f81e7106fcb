package pump

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"breakcue/audio"
)

// Take records sound on a goroutine of its own: a disk that is slow or full never holds up the listening. It belongs to the
// goroutine that hears; Err may be asked from any. A disk that keeps up holds all but the last 0.6 s of what a Take was given.
type Take struct {
	w        TakeWriter
	channels int
	rate     int        // [frames/s]
	fill     []float32  // being filled, a chunk at most
	full     chan chunk // to the disk
	free     chan []float32
	failed   atomic.Pointer[error]
	frames   int64 // of the stream that have passed
	cuts     []cut
	unmarked int // written by the goroutine of the disk
	done     sync.WaitGroup
	closed   bool
}

// TakeWriter is what a Take records into; *wav.Writer is one. An error of Mark does not end the recording, others do.
type TakeWriter interface {
	Path() string
	Write(samples []float32) error
	Mark(frame int64, label string) error
	Sync() error
	Close() error
}

// chunk is sound to be written, or a mark.
type chunk struct {
	samples []float32
	silence int64 // frames
	mark    bool
	frame   int64 // of the recording
	label   string
}

// cut is a part of the stream that is not in the recording.
type cut struct{ at, frames int64 }

const (
	chunksPerSecond = 20                   // that go to the disk
	takeQueue       = 20 * chunksPerSecond // chunks that may wait for the disk: 20 s
	// syncEvery is after how much sound [s] it is made safe. With what a chunk gathers, and with what live sound gathers before it is
	// handed on, that stays below the second that a crash may cost.
	syncEvery = 0.5
	// busy is how many chunks wait for a disk that is behind. Then it catches up before anything else: the writer's own Sync,
	// once per second, is enough.
	busy = chunksPerSecond
	// mostSilence is the longest loss [s] that is recorded as silence; of a longer one (a computer that slept) only so much is.
	mostSilence = 600
)

// ErrSlowDisk tells that the disk did not keep up with the sound.
var ErrSlowDisk = errors.New("the disk does not keep up with the sound")

// NewTake records into w, which it closes in the end, sound of the format.
func NewTake(w TakeWriter, f audio.Format) *Take {
	t := &Take{w: w, channels: f.Channels, rate: f.SampleRate, full: make(chan chunk, takeQueue), free: make(chan []float32, takeQueue)}
	t.done.Add(1)
	go t.run()
	return t
}

// chunkFrames is how many frames go to the disk together.
func (t *Take) chunkFrames() int { return max(1, t.rate/chunksPerSecond) }

// run writes what was accepted, whatever has ended the recording since, until the writer fails.
func (t *Take) run() {
	defer t.done.Done()
	var err error
	silence := make([]float32, t.chunkFrames()*t.channels)
	fresh := 0 // samples since the last Sync
	for c := range t.full {
		for left := c.silence * int64(t.channels); left > 0 && err == nil; left -= int64(len(silence)) {
			err = t.w.Write(silence[:min(left, int64(len(silence)))])
		}
		if c.mark && err == nil && t.w.Mark(c.frame, c.label) != nil {
			t.unmarked++
		}
		if c.samples != nil {
			if err == nil {
				err = t.w.Write(c.samples)
			}
			fresh += len(c.samples)
			select {
			case t.free <- c.samples[:0]:
			default:
			}
		}
		if err == nil && float64(fresh) >= syncEvery*float64(t.rate*t.channels) && len(t.full) < busy {
			err = t.w.Sync()
			fresh = 0
		}
		t.fail(err)
	}
}

// fail keeps the first error.
func (t *Take) fail(err error) {
	if err != nil {
		t.failed.CompareAndSwap(nil, &err)
	}
}

// Err returns why the recording has stopped; nil while it goes on.
func (t *Take) Err() error {
	if err := t.failed.Load(); err != nil {
		return *err
	}
	return nil
}

// Frames returns how many frames of the stream have passed, lost ones included: the frame that comes next.
func (t *Take) Frames() int64 { return t.frames }

// Missing returns how many of them are not in the recording, because more was lost at a time than is recorded as silence.
func (t *Take) Missing() (frames int64) {
	for _, c := range t.cuts {
		frames += c.frames
	}
	return frames
}

// Unmarked returns how many marks the writer has refused. It is known after Close.
func (t *Take) Unmarked() int { return t.unmarked }

// Write takes a block of whole frames. It never waits for the disk.
func (t *Take) Write(block []float32) {
	t.frames += int64(len(block) / t.channels)
	for len(block) > 0 {
		if t.fill == nil {
			select {
			case t.fill = <-t.free:
			default:
				t.fill = make([]float32, 0, t.chunkFrames()*t.channels)
			}
		}
		n := min(len(block), cap(t.fill)-len(t.fill))
		t.fill = append(t.fill, block[:n]...)
		block = block[n:]
		if len(t.fill) == cap(t.fill) {
			t.flush()
		}
	}
}

// Silence records silence in the place of frames that were lost, so that frames of the recording are those of the stream. Of more than
// ten minutes only ten are: the rest is Missing.
func (t *Take) Silence(frames int64) {
	n := min(frames, int64(mostSilence*t.rate))
	if n < frames {
		t.cuts = append(t.cuts, cut{at: t.frames + n, frames: frames - n})
	}
	t.frames += frames
	t.flush()
	t.send(chunk{silence: n})
}

// Mark puts a cue point at a frame of the stream; where that is Missing, at the next one that is recorded.
func (t *Take) Mark(frame int64, label string) {
	at := frame
	for _, c := range t.cuts {
		at -= min(max(frame-c.at, 0), c.frames)
	}
	t.flush()
	t.send(chunk{mark: true, frame: at, label: label})
}

func (t *Take) flush() {
	if len(t.fill) > 0 {
		t.send(chunk{samples: t.fill})
	}
	t.fill = nil
}

func (t *Take) send(c chunk) {
	if t.Err() != nil {
		return
	}
	select {
	case t.full <- c:
	default:
		t.fail(fmt.Errorf("recording %s: %w: it ends here", t.w.Path(), ErrSlowDisk))
	}
}

// Close writes what is on its way and closes the file. It returns the error for which the recording had stopped before, too.
func (t *Take) Close() error {
	if t.closed {
		return t.Err()
	}
	t.closed = true
	t.flush()
	close(t.full)
	t.done.Wait()
	t.fail(t.w.Close())
	return t.Err()
}
