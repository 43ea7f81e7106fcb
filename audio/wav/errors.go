package wav

import (
	"fmt"
	"time"
)

// NotWAVError reports a file that is no WAV file at all.
type NotWAVError struct {
	Path string // empty when the data did not come from a named file
	Got  string // what the first bytes look like: "an empty file", "text", "a FLAC file", ...
}

// Error implements error.
func (e *NotWAVError) Error() string {
	return fmt.Sprintf("wav: %snot a WAV file, got %s, want RIFF, RF64 or BW64", where(e.Path), e.Got)
}

// UnsupportedError reports a WAV file whose samples are packed in a way this package cannot decode.
type UnsupportedError struct {
	Path     string // empty when the data did not come from a named file
	Encoding string // for people: "Microsoft ADPCM", "A-law", "64-bit PCM", "format 0x1234"
}

// Error implements error.
func (e *UnsupportedError) Error() string {
	return fmt.Sprintf("wav: %sencoding, got %s, want PCM of 8 to 32 bits or float of 32 or 64 bits", where(e.Path), e.Encoding)
}

// HeaderError reports a WAV file whose header is broken, or contradicts itself, so that its samples cannot be read.
type HeaderError struct {
	Path string // empty when the data did not come from a named file
	What string // the field
	Got  string
	Want string
	Err  error // io.ErrUnexpectedEOF when the file ends inside the header; otherwise nil
}

// Error implements error.
func (e *HeaderError) Error() string {
	return fmt.Sprintf("wav: %sbad header: %s, got %s, want %s", where(e.Path), e.What, e.Got, e.Want)
}

// Unwrap returns Err.
func (e *HeaderError) Unwrap() error { return e.Err }

func badHeader(what string, got any, want string, args ...any) *HeaderError {
	return &HeaderError{What: what, Got: fmt.Sprint(got), Want: fmt.Sprintf(want, args...)}
}

// WriteError reports a recording that could not go on, and what of it is safe.
type WriteError struct {
	Path  string
	Saved int64         // frames that the file holds and declares
	Took  time.Duration // how long these last
	Cues  int           // cue points that the file holds, the first ones that were marked
	Err   error
}

// Error implements error.
func (e *WriteError) Error() string {
	cues := ""
	if e.Cues > 0 {
		cues = fmt.Sprintf(", cue points: %d", e.Cues)
	}
	return fmt.Sprintf("wav: write %s: saved %d frames (%v)%s: %v", e.Path, e.Saved, e.Took, cues, e.Err)
}

// Unwrap returns Err.
func (e *WriteError) Unwrap() error { return e.Err }

// where is the start of a message about a file: its path and a colon, or nothing.
func where(path string) string {
	if path == "" {
		return ""
	}
	return path + ": "
}
