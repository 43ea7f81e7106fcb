package wav

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"unicode/utf8"
)

// readHeader reads everything up to the first byte of the data.
func (r *Reader) readHeader() error {
	err := r.readChunks()
	var notWAV *NotWAVError
	var unsupported *UnsupportedError
	var header *HeaderError
	switch {
	case err == nil:
	case errors.As(err, &notWAV):
		notWAV.Path = r.path
	case errors.As(err, &unsupported):
		unsupported.Path = r.path
	case errors.As(err, &header):
		header.Path = r.path
	default:
		err = fmt.Errorf("wav: %w", err)
	}
	return err
}

func (r *Reader) readChunks() error {
	b := r.in.peek(12)
	if len(b) < 12 || string(b[8:12]) != "WAVE" || !oneOf(string(b[:4]), "RIFF", "RF64", "BW64") {
		if r.in.err != nil && r.in.err != io.EOF {
			return r.in.err
		}
		return &NotWAVError{Got: guess(r.in.peek(512))}
	}
	wide := string(b[:4]) != "RIFF"
	riffEnd := int64(le.Uint32(b[4:])) + 8
	if wide || riffEnd == math.MaxUint32+8 {
		riffEnd = 0
	}
	r.in.take(12)

	size64 := int64(-1) // of the data, from ds64
	var last chunk
	for {
		c, err := r.in.nextChunk()
		if err != nil {
			return r.noData(err, last)
		}
		last = c
		switch {
		case c.id == "data":
			if r.layout.decode == nil {
				return badHeader("order of chunks", "data before fmt", "fmt first")
			}
			r.setData(c.size, size64, riffEnd)
			return nil
		case c.id == "ds64" && wide:
			size64, err = r.in.readDS64(&c)
		case c.id == "fmt ":
			var body []byte
			if body, err = r.in.body(&c, fmtLen); err == nil {
				r.layout, err = parseFmt(body)
			}
		default:
			err = r.list.read(r.in, &c)
		}
		if err == nil {
			err = r.in.leave(&c)
		}
		if err != nil {
			return r.noData(err, last)
		}
	}
}

// noData makes an error of an input that ended before its data; last is the chunk in which it did. Other errors are
// returned as they are.
func (r *Reader) noData(err error, last chunk) error {
	if err != io.EOF {
		return err
	}
	got := "the end of the file"
	if last.id != "" {
		got = fmt.Sprintf("the end of the file in or after chunk %q, which declares %d bytes", last.id, last.size)
	}
	h := badHeader("data chunk", got, "a data chunk")
	h.Err = io.ErrUnexpectedEOF
	return h
}

// readDS64 returns the size of the data from a ds64 chunk, whose fields are the sizes of the file, of the data, the
// number of frames (64 bits each) and a table of other chunks, which is not needed. All bits set stands for unknown,
// as does 0: both give 0.
func (in *input) readDS64(c *chunk) (int64, error) {
	if c.size < 24 {
		return 0, badHeader("ds64 chunk", fmt.Sprintf("%d bytes", c.size), "24 or more")
	}
	b, err := in.body(c, 24)
	if err != nil {
		return 0, err
	}
	size := le.Uint64(b[8:])
	if size == math.MaxUint64 {
		return 0, nil
	}
	if size > math.MaxInt64 {
		return 0, badHeader("data size in ds64", size, "at most %d", uint64(math.MaxInt64))
	}
	return int64(size), nil
}

// guess says what a file that is no WAV file looks like.
func guess(b []byte) string {
	for _, k := range []struct{ magic, name string }{
		{"RIFX", "a big-endian RIFX file"}, {"riff", "a Wave64 file"}, {"FORM", "an AIFF file"}, {".snd", "an AU file"},
		{"fLaC", "a FLAC file"}, {"OggS", "an Ogg file"}, {"ID3", "an MP3 file"}, {"\xff\xfb", "an MP3 file"},
		{"caff", "a CAF file"},
	} {
		if bytes.HasPrefix(b, []byte(k.magic)) {
			return k.name
		}
	}
	switch {
	case len(b) == 0:
		return "an empty file"
	case len(b) >= 12 && oneOf(string(b[:4]), "RIFF", "RF64", "BW64"):
		return fmt.Sprintf("a RIFF file of type %q", b[8:12])
	case len(b) >= 8 && string(b[4:8]) == "ftyp":
		return "an MP4 file"
	case oneOf(string(b[:min(4, len(b))]), "RIFF", "RF64", "BW64"):
		return fmt.Sprintf("the first %d bytes of a RIFF file", len(b))
	case isText(b):
		return "text"
	}
	return fmt.Sprintf("a file that starts with %x", b[:min(4, len(b))])
}

// isText tells whether b is UTF-8 text, a rune cut off at its end allowed, without control characters.
func isText(b []byte) bool {
	for len(b) > 0 {
		c, n := utf8.DecodeRune(b)
		if c == utf8.RuneError && n == 1 && utf8.FullRune(b) || c < ' ' && !oneOf(string(b[:1]), "\t", "\n", "\r", "\f") {
			return false
		}
		b = b[n:]
	}
	return true
}

func oneOf(s string, set ...string) bool { return slices.Contains(set, s) }
