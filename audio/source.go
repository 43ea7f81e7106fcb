package audio

import (
	"fmt"
	"time"
)

// Format describes the frames of a Source. It does not change during the life of the Source.
type Format struct {
	// SampleRate is in frames per second, 1 or more.
	SampleRate int
	// Channels is the number of samples in a frame, 1 or more.
	Channels int
	// Frames is the length that the container declares, or -1 when it is not known (live sound, standard input).
	Frames int64
	// Encoding names the sample format in words, for people: "16-bit PCM", "32-bit float", "bench".
	Encoding string
}

// Duration returns the time that n frames last. It panics when SampleRate is not positive.
func (f Format) Duration(n int64) time.Duration {
	sec := n / int64(f.SampleRate)
	rem := n % int64(f.SampleRate)
	return time.Duration(sec)*time.Second + time.Duration(rem)*time.Second/time.Duration(f.SampleRate)
}

// Source delivers frames of interleaved samples in order.
//
// The legal returns of Read(dst), with len(dst) at least Channels; only whole frames are delivered:
//
//	frames > 0, err == nil            frames*Channels samples of dst are valid
//	frames == 0, err == *GapError     frames were lost; reading goes on (the only error that is not sticky)
//	frames == 0, err == io.EOF        the regular end; every later Read returns the same
//	frames == 0, err == other         a fatal error, io.ErrUnexpectedEOF for a cut file; every later Read returns the same
//
// Frames and an error never come together. The caller owns dst; nothing past frames*Channels is touched. A len(dst)
// below Channels is a caller bug and panics. Close may be called more than once; after it Read returns an error.
// A Source is used from one goroutine at a time. audiotest.Check verifies all of this.
type Source interface {
	Format() Format
	Read(dst []float32) (frames int, err error)
	Close() error
}

// Skipper is a Source that can pass over frames without the cost of reading them: a file.
//
// Skip passes over the next frames, at most as many as named, and returns how many it passed, from 0 on. It passes over none that
// are not there and over no gap: where it passes fewer than it was asked to, Read tells why, or delivers what it could not pass
// over. Read then goes on as if the frames passed had been read. A number below 0 is a caller bug and panics. Skip returns 0 after
// an end, an error or Close. audiotest.Check verifies this too.
type Skipper interface {
	Source
	Skip(frames int64) (passed int64)
}

// GapError reports frames that a Source lost: Lost frames, more than 0, are missing just before frame At, which is the
// absolute position, lost frames included, of the next frame to be read.
type GapError struct {
	At   int64
	Lost int64
}

// Error implements error.
func (e *GapError) Error() string {
	return fmt.Sprintf("audio: %d frames lost before frame %d", e.Lost, e.At)
}
