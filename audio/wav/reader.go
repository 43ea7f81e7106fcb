package wav

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"syscall"

	"breakcue/audio"
)

// Reader is an audio.Source that reads a WAV file in one pass. It is an audio.Skipper too, which spares the reading where the file is
// a regular one opened by name.
//
// A file that ends before the data it declares gives all its whole frames and then io.ErrUnexpectedEOF. Programs that
// write to a pipe cannot know the length: where the declared length is one of those that stand for "unknown", the end
// of the input is the regular end and Format().Frames is -1.
type Reader struct {
	in     *input
	file   io.Closer // nil when the caller owns the input
	path   string
	format audio.Format
	layout layout
	size   int64 // of the data chunk in bytes, as declared
	left   int64 // bytes of it that were not read yet
	open   bool  // the end of the input is a regular end
	list   cueList
	err    error // sticky
}

var errClosed = errors.New("wav: read after close")

// Open opens the named file. Errors: what os.Open gives, wrapped, also for a directory; otherwise those of NewReader,
// with the path.
func Open(path string) (*Reader, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("wav: %w", err)
	}
	in := &input{r: f}
	st, err := f.Stat()
	switch {
	case err != nil:
	case st.IsDir():
		f.Close()
		return nil, fmt.Errorf("wav: %w", &fs.PathError{Op: "read", Path: path, Err: syscall.EISDIR})
	case st.Mode().IsRegular():
		in.seeker, in.size = f, st.Size()
	}
	r := &Reader{in: in, file: f, path: path}
	if err := r.readHeader(); err != nil {
		f.Close()
		return nil, err
	}
	return r, nil
}

// NewReader reads the header of a WAV file from src, which is read on as Read is called and never closed. It returns
// a *NotWAVError, an *UnsupportedError, a *HeaderError, or the error of src, wrapped.
func NewReader(src io.Reader) (*Reader, error) {
	r := &Reader{in: &input{r: src}}
	if err := r.readHeader(); err != nil {
		return nil, err
	}
	return r, nil
}

// Format implements audio.Source.
func (r *Reader) Format() audio.Format { return r.format }

// Cues returns the cue points found so far: those before the data at once, those after it when Read has returned
// io.EOF. At most 65536 points are kept, and 4 KiB of a label.
func (r *Reader) Cues() []Cue { return r.list.cues() }

// Read implements audio.Source. It returns what is at hand, which may be less than dst holds.
func (r *Reader) Read(dst []float32) (int, error) {
	frames := len(dst) / r.format.Channels
	if frames == 0 {
		panic(fmt.Sprintf("wav: dst, got %d samples, want %d or more", len(dst), r.format.Channels))
	}
	if r.err != nil {
		return 0, r.err
	}
	size := int64(r.layout.frameBytes)
	if r.left < size {
		r.readTrailer()
		r.err = io.EOF
		return 0, r.err
	}
	if err := r.in.fill(r.layout.frameBytes); err != nil {
		r.err = r.dataError(err)
		return 0, r.err
	}
	n := int(min(int64(frames), int64(r.in.hi-r.in.lo)/size, r.left/size))
	r.layout.decode(dst[:n*r.format.Channels], r.in.take(n*r.layout.frameBytes))
	r.left -= int64(n) * size
	return n, nil
}

// Skip implements audio.Skipper.
func (r *Reader) Skip(frames int64) int64 {
	if frames < 0 {
		panic(fmt.Sprintf("wav: skip, got %d frames, want 0 or more", frames))
	}
	if r.err != nil {
		return 0
	}
	size := int64(r.layout.frameBytes)
	there := min(r.left, max(int64(r.in.hi-r.in.lo), r.in.size-r.in.pos)) / size
	passed := r.in.pass(min(frames, there) * size)
	r.left -= passed
	return passed / size
}

// dataError is the error for an input that fails or ends inside the data.
func (r *Reader) dataError(err error) error {
	switch {
	case err != io.EOF:
		return fmt.Errorf("wav: %w", err)
	case r.open:
		return io.EOF
	}
	return io.ErrUnexpectedEOF
}

// Close implements audio.Source.
func (r *Reader) Close() error {
	r.err = errClosed
	if r.file == nil {
		return nil
	}
	err := r.file.Close()
	r.file = nil
	return err
}

// readTrailer looks for cue points after the data. What cannot be read there is no error: the sound is complete.
func (r *Reader) readTrailer() {
	data := chunk{size: r.size, left: r.left}
	err := r.in.leave(&data)
	for err == nil && idLooks(r.in.peek(4)) > 0 {
		var c chunk
		if c, err = r.in.nextChunk(); err != nil {
			return
		}
		if err = r.list.read(r.in, &c); err == nil {
			err = r.in.leave(&c)
		}
	}
}

// setData prepares for the data chunk. size64 is the size from ds64, or -1; riffEnd is where the file ends by its own
// account, or 0.
func (r *Reader) setData(size32, size64, riffEnd int64) {
	r.size = size32
	if size32 == math.MaxUint32 && size64 > 0 {
		r.size = size64
	}
	frames := r.size / int64(r.layout.frameBytes)
	switch {
	case r.size == 0 && riffEnd >= r.in.pos+8 && size64 < 0:
		// Really no data: another chunk follows.
	case r.size == 0 || r.size == math.MaxUint32 && size64 <= 0:
		// 0: a recorder that was killed, or a pipe; 0xffffffff: ffmpeg to a pipe.
		r.size, r.open, frames = math.MaxInt64, true, -1
	case r.size == 0x7ffff000 || r.size == 0x80000000:
		// sox and arecord to a pipe; it may be true all the same.
		r.open, frames = true, -1
	}
	r.left = r.size
	r.format = audio.Format{
		SampleRate: r.layout.rate, Channels: r.layout.channels, Frames: frames, Encoding: r.layout.encoding,
	}
}
