package pump

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"breakcue/audio/wav"
)

// Take records sound on a goroutine of its own: a disk that is slow or full never holds up the listening. It belongs to the
// goroutine that hears; Err may be asked from any.
type Take struct {
	w        *wav.Writer
	channels int
	fill     []float32  // being filled, takeChunk frames at most
	full     chan chunk // to the disk
	free     chan []float32
	failed   atomic.Pointer[error]
	frames   int64 // taken, silence for lost ones included
	done     sync.WaitGroup
	closed   bool
}

// chunk is sound to be written, or a mark.
type chunk struct {
	samples []float32
	silence int64 // frames
	mark    bool
	frame   int64
	label   string
}

const (
	takeChunk = 4096 // frames that go to the disk together
	takeQueue = 256  // chunks that may wait for the disk: more than 20 s at 48 kHz
	// mostSilence is the longest loss [s] that is recorded as silence; of a longer one (a computer that slept) only so much is.
	mostSilence = 600
)

// ErrSlowDisk tells that the disk did not keep up with the sound.
var ErrSlowDisk = errors.New("the disk does not keep up with the sound")

// NewTake records into w, which it closes in the end, sound of so many channels.
func NewTake(w *wav.Writer, channels int) *Take {
	t := &Take{w: w, channels: channels, full: make(chan chunk, takeQueue), free: make(chan []float32, takeQueue)}
	t.done.Add(1)
	go t.run()
	return t
}

func (t *Take) run() {
	defer t.done.Done()
	silence := make([]float32, takeChunk*t.channels)
	for c := range t.full {
		err := t.Err()
		for ; c.silence > 0 && err == nil; c.silence -= takeChunk {
			err = t.w.Write(silence[:min(c.silence, takeChunk)*int64(t.channels)])
		}
		if c.mark && err == nil {
			err = t.w.Mark(c.frame, c.label)
		}
		if c.samples != nil {
			if err == nil {
				err = t.w.Write(c.samples)
			}
			select {
			case t.free <- c.samples[:0]:
			default:
			}
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

// Frames returns how many frames were taken.
func (t *Take) Frames() int64 { return t.frames }

// Write takes a block of whole frames. It never waits for the disk.
func (t *Take) Write(block []float32) {
	t.frames += int64(len(block) / t.channels)
	for len(block) > 0 {
		if t.fill == nil {
			select {
			case t.fill = <-t.free:
			default:
				t.fill = make([]float32, 0, takeChunk*t.channels)
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
// ten minutes only ten are; it returns what is missing then.
func (t *Take) Silence(frames int64, sampleRate int) (missing int64) {
	n := min(frames, int64(mostSilence*sampleRate))
	t.frames += n
	t.flush()
	t.send(chunk{silence: n})
	return frames - n
}

// Mark puts a cue point at a frame of the stream.
func (t *Take) Mark(frame int64, label string) {
	t.flush()
	t.send(chunk{mark: true, frame: frame, label: label})
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
