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

// bufferBytes is about how much a Writer gathers at most before it writes. A second of most recordings is less: then
// samples and header are written one after the other, and after a crash nothing stands behind the declared data, about
// which some readers would complain.
const bufferBytes = 2 << 20

// Writer records a WAV file so that a crash costs little: once per second of audio the samples and a header that
// declares them are on the disk, and with them the cue points for which Spec.Room keeps a place. What follows the declared
// data after a crash is at most a second, and is ignored by readers. A Writer is used from one goroutine at a time.
type Writer struct {
	file    file
	path    string
	spec    Spec
	buf     []byte // samples that are not in the file yet, whole frames
	header  []byte // scratch
	start   int64  // where the samples start in the file
	data    int64  // bytes of samples in the file
	frames  int64  // accepted by Write
	synced  int64  // frames when the header was last made right
	clipped int64
	cues    []Cue
	room    room
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
	if err := w.begin(); err != nil {
		f.Close()
		os.Remove(path) // it holds nothing
		return nil, err
	}
	return w, nil
}

func newWriter(f file, path string, s Spec) *Writer {
	gather := min(s.SampleRate, bufferBytes/s.frameBytes()) * s.frameBytes()
	w := &Writer{file: f, path: path, spec: s, buf: make([]byte, 0, gather), room: newRoom(s.slotBytes())}
	w.start = int64(len(s.appendFront(nil, 0, 0, 0))) + 2*w.room.slot + chunkHeader
	return w
}

// begin writes the header and zeros into the room: a hole there might find the disk full later.
func (w *Writer) begin() error {
	if _, err := w.file.WriteAt(make([]byte, w.start), 0); err != nil {
		return w.fail(err)
	}
	return w.Sync()
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
// may be empty). It only notes it: the next Sync, as far as Spec.Room reaches, and Close write it.
func (w *Writer) Mark(frame int64, label string) error {
	if frame < 0 || frame > math.MaxUint32 {
		return fmt.Errorf("wav: mark %s: frame, got %d, want 0..%d", w.path, frame, uint32(math.MaxUint32))
	}
	if strings.ContainsRune(label, 0) {
		return fmt.Errorf("wav: mark %s: label, got %q, want no NUL", w.path, label)
	}
	w.cues = append(w.cues, Cue{Frame: frame, Label: label})
	w.room.add(label)
	return nil
}

// Sync brings what was written to the disk: first the samples and the cue points, then the header that declares them.
func (w *Writer) Sync() error {
	if err := w.flush(); err != nil {
		return err
	}
	err := w.placeCues()
	if err == nil {
		err = w.writeHeader(0, w.room.skip)
	}
	if err == nil {
		err = w.file.Sync()
	}
	if err != nil {
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

// finish puts all cue points behind the data when they do not all fit before it.
func (w *Writer) finish() error {
	if err := w.Sync(); err != nil {
		return err
	}
	var rest []byte
	if w.data%2 == 1 {
		rest = append(rest, 0)
	}
	skip := w.room.skip
	if w.room.held < len(w.cues) {
		rest = appendCues(rest, w.cues)
		skip = w.room.hidden()
	}
	if len(rest) == 0 {
		return nil
	}
	_, err := w.file.WriteAt(rest, w.start+w.data)
	if err == nil {
		err = w.writeHeader(int64(len(rest)), skip)
	}
	if err == nil {
		err = w.file.Sync()
	}
	if err != nil {
		return w.fail(err)
	}
	return nil
}

// flush moves the buffer into the file. What a disk that fills up still takes is found by halving: of a write that fails
// os.File.WriteAt does not tell how much was written.
func (w *Writer) flush() error {
	if w.err != nil {
		return w.err
	}
	frame := w.spec.frameBytes()
	for b, piece := w.buf, len(w.buf); len(b) > 0; {
		piece = min(piece, len(b))
		n, err := w.file.WriteAt(b[:piece], w.start+w.data)
		n -= n % frame
		w.data += int64(n)
		b = b[n:]
		if err == nil {
			continue
		}
		if piece = piece / 2 / frame * frame; piece == 0 {
			return w.fail(err)
		}
	}
	w.buf = w.buf[:0]
	return nil
}

// writeHeader declares the data and rest bytes behind it, and shows what stands in the room behind skip. With a room
// there are two writes: the data first, since between the two a reader minds a file that is longer than it says less
// than samples where it expects a chunk.
func (w *Writer) writeHeader(rest, skip int64) error {
	w.header = w.spec.appendFront(w.header[:0], w.data, rest, skip)
	front := len(w.header)
	w.header = appendDataHeader(w.header, w.data)
	if w.spec.Room > 0 {
		if _, err := w.file.WriteAt(w.header[front:], w.start-chunkHeader); err != nil {
			return err
		}
		w.header = w.header[:front]
	}
	_, err := w.file.WriteAt(w.header, 0)
	return err
}

// fail ends the recording: it drops what is not a whole frame, or half a list of cue points, and declares what is
// there. All is tried whatever err was: it needs no space on the disk.
func (w *Writer) fail(err error) error {
	w.file.Truncate(w.start + w.data)
	w.placeCues()
	w.writeHeader(0, w.room.skip)
	w.file.Sync()
	w.err = w.writeError(err)
	return w.err
}

func (w *Writer) writeError(err error) error {
	saved := w.data / int64(w.spec.frameBytes())
	took := audio.Format{SampleRate: w.spec.SampleRate}.Duration(saved)
	return &WriteError{Path: w.path, Saved: saved, Took: took, Cues: w.room.held, Err: err}
}
