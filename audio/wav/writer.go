package wav

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"breakcue/audio"
)

// bufferBytes is about how much a Writer gathers before it writes.
const bufferBytes = 64 << 10

// Writer records a WAV file so that a crash costs little: once per second of audio the samples and a header that
// declares them are on the disk. What follows the declared data after a crash is at most a second, and is ignored by
// readers. A Writer is used from one goroutine at a time.
type Writer struct {
	file    file
	path    string
	spec    Spec
	buf     []byte // samples that are not in the file yet, whole frames
	header  []byte // scratch
	data    int64  // bytes of samples in the file
	frames  int64  // accepted by Write
	synced  int64  // frames when the header was last made right
	clipped int64
	cues    []Cue
	err     error // sticky
}

// file is what a Writer needs of an *os.File.
type file interface {
	io.WriterAt
	Truncate(size int64) error
	Sync() error
	Close() error
}

var errWriterClosed = errors.New("wav: write after close")

// Create makes a file and writes its header. A file that exists is left alone, with an error that matches
// fs.ErrExist, unless s.Overwrite is set. Other errors: a field of s out of its range; what os.OpenFile gives, wrapped;
// a *WriteError.
func Create(path string, s Spec) (*Writer, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	mode := os.O_EXCL
	if s.Overwrite {
		mode = os.O_TRUNC
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|mode, 0o666)
	if err != nil {
		return nil, fmt.Errorf("wav: %w", err)
	}
	w := newWriter(f, path, s)
	if err := w.Sync(); err != nil {
		f.Close()
		os.Remove(path) // it holds nothing
		return nil, err
	}
	return w, nil
}

func newWriter(f file, path string, s Spec) *Writer {
	whole := bufferBytes / s.frameBytes() * s.frameBytes()
	return &Writer{file: f, path: path, spec: s, buf: make([]byte, 0, whole), header: s.appendHeader(nil, 0, 0)}
}

// Path returns the name of the file.
func (w *Writer) Path() string { return w.path }

// Frames returns how many frames Write has taken.
func (w *Writer) Frames() int64 { return w.frames }

// Clipped returns how many samples lay past full scale, -1..1, or were NaN. Integer encodings hold these at full scale
// (NaN at 0); Float32 keeps them.
func (w *Writer) Clipped() int64 { return w.clipped }

// Write takes interleaved samples, whole frames. It calls Sync by itself once per second of audio. After a
// *WriteError, which is sticky, the file holds and declares the frames that the error names.
func (w *Writer) Write(samples []float32) error {
	if w.err != nil {
		return w.err
	}
	if len(samples)%w.spec.Channels != 0 {
		return fmt.Errorf("wav: write %s: got %d samples, want whole frames of %d", w.path, len(samples), w.spec.Channels)
	}
	for len(samples) > 0 {
		room := int64((cap(w.buf) - len(w.buf)) / w.spec.frameBytes())
		n := min(room, w.synced+int64(w.spec.SampleRate)-w.frames, int64(len(samples)/w.spec.Channels))
		var clipped int64
		w.buf, clipped = w.spec.Encoding.appendSamples(w.buf, samples[:n*int64(w.spec.Channels)])
		w.clipped += clipped
		w.frames += n
		samples = samples[n*int64(w.spec.Channels):]
		var err error
		if w.frames-w.synced >= int64(w.spec.SampleRate) {
			err = w.Sync()
		} else if len(w.buf) == cap(w.buf) {
			err = w.flush()
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Mark puts a cue point at a frame, 0..4294967295, counted from the start of the file, with a label (without NUL;
// may be empty). Cue points are written by Close.
func (w *Writer) Mark(frame int64, label string) error {
	if frame < 0 || frame > math.MaxUint32 {
		return fmt.Errorf("wav: mark %s: frame, got %d, want 0..%d", w.path, frame, uint32(math.MaxUint32))
	}
	if strings.ContainsRune(label, 0) {
		return fmt.Errorf("wav: mark %s: label, got %q, want no NUL", w.path, label)
	}
	w.cues = append(w.cues, Cue{Frame: frame, Label: label})
	return nil
}

// Sync brings what was written to the disk: first the samples, then the header that declares them.
func (w *Writer) Sync() error {
	if err := w.flush(); err != nil {
		return err
	}
	if err := w.writeHeader(0); err != nil {
		return w.fail(err)
	}
	if err := w.file.Sync(); err != nil {
		return w.fail(err)
	}
	w.synced = w.frames
	return nil
}

// Close writes the cue points, makes the header right for good and closes the file. It reports an earlier failure
// again, so that the error of Close alone tells whether the file is whole. Later calls return nil.
func (w *Writer) Close() error {
	if w.err == errWriterClosed {
		return nil
	}
	err := w.err
	if err == nil {
		err = w.finish()
	}
	w.err = errWriterClosed
	if closeErr := w.file.Close(); err == nil && closeErr != nil {
		err = w.writeError(closeErr)
	}
	return err
}

func (w *Writer) finish() error {
	if err := w.flush(); err != nil {
		return err
	}
	var rest []byte
	if w.data%2 == 1 {
		rest = append(rest, 0)
	}
	rest = appendCues(rest, w.cues)
	if _, err := w.file.WriteAt(rest, int64(len(w.header))+w.data); err != nil {
		return w.fail(err)
	}
	if err := w.writeHeader(int64(len(rest))); err != nil {
		return w.fail(err)
	}
	if err := w.file.Sync(); err != nil {
		return w.fail(err)
	}
	return nil
}

// flush moves the buffer into the file.
func (w *Writer) flush() error {
	if w.err != nil {
		return w.err
	}
	n, err := w.file.WriteAt(w.buf, int64(len(w.header))+w.data)
	w.data += int64(n - n%w.spec.frameBytes())
	w.buf = w.buf[:0]
	if err != nil {
		return w.fail(err)
	}
	return nil
}

func (w *Writer) writeHeader(rest int64) error {
	w.header = w.spec.appendHeader(w.header[:0], w.data, rest)
	_, err := w.file.WriteAt(w.header, 0)
	return err
}

// fail ends the recording: it drops what is not a whole frame, or half a list of cue points, and declares what is
// there. Both are tried whatever err was: they need no space on the disk.
func (w *Writer) fail(err error) error {
	w.file.Truncate(int64(len(w.header)) + w.data)
	w.writeHeader(0)
	w.file.Sync()
	w.err = w.writeError(err)
	return w.err
}

func (w *Writer) writeError(err error) error {
	saved := w.data / int64(w.spec.frameBytes())
	return &WriteError{Path: w.path, Saved: saved, Took: audio.Format{SampleRate: w.spec.SampleRate}.Duration(saved), Err: err}
}
