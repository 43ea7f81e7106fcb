package audiotest

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"

	"breakcue/audio"
)

var errClosed = errors.New("audiotest: source is closed")

// Slice is a Source of samples in memory.
type Slice struct {
	format audio.Format
	rest   []float32
	end    error
}

// FromSlice returns a Source of interleaved samples, which it neither copies nor changes. It panics unless sampleRate
// and channels are 1 or more and samples holds whole frames.
func FromSlice(sampleRate, channels int, samples []float32) *Slice {
	if sampleRate < 1 || channels < 1 || len(samples)%channels != 0 {
		panic(fmt.Sprintf("audiotest: %d samples in %d channels at %d frames/s, want whole frames", len(samples), channels, sampleRate))
	}
	return &Slice{
		format: audio.Format{SampleRate: sampleRate, Channels: channels, Frames: int64(len(samples) / channels), Encoding: "slice"},
		rest:   samples,
		end:    io.EOF,
	}
}

// Format implements audio.Source.
func (s *Slice) Format() audio.Format { return s.format }

// Read implements audio.Source; it fills dst as far as there are samples.
func (s *Slice) Read(dst []float32) (int, error) {
	frames := mustHoldFrame(dst, s.format.Channels)
	if len(s.rest) == 0 {
		return 0, s.end
	}
	n := copy(dst[:frames*s.format.Channels], s.rest)
	s.rest = s.rest[n:]
	return n / s.format.Channels, nil
}

// Skip implements audio.Skipper.
func (s *Slice) Skip(frames int64) int64 {
	if frames < 0 {
		panic(fmt.Sprintf("audiotest: skip, got %d frames, want 0 or more", frames))
	}
	passed := min(frames, int64(len(s.rest)/s.format.Channels))
	s.rest = s.rest[passed*int64(s.format.Channels):]
	return passed
}

// Close implements audio.Source.
func (s *Slice) Close() error {
	s.rest, s.end = nil, errClosed
	return nil
}

// mustHoldFrame returns how many frames fit in dst and panics when it is none.
func mustHoldFrame(dst []float32, channels int) int {
	if len(dst) < channels {
		panic(fmt.Sprintf("audiotest: dst, got %d samples, want %d or more", len(dst), channels))
	}
	return len(dst) / channels
}

// gappy is the Source of WithGaps.
type gappy struct {
	audio.Source
	gaps   []audio.GapError
	at     int64 // absolute position of the next frame of Source
	waste  []float32
	closed bool
}

// WithGaps returns src with frames lost: of each gap, the frames At-Lost to At-1 of src are dropped and the gap is
// reported in their place. It panics unless the gaps are in order, apart, each Lost is more than 0 and none reaches past
// the declared end of src.
func WithGaps(src audio.Source, gaps ...audio.GapError) audio.Source {
	last := int64(0)
	for _, g := range gaps {
		if g.Lost <= 0 || g.At-g.Lost < last {
			panic(fmt.Sprintf("audiotest: gap %+v, want Lost above 0 and At-Lost at least %d", g, last))
		}
		last = g.At
	}
	if n := src.Format().Frames; n >= 0 && last > n {
		panic(fmt.Sprintf("audiotest: gap up to frame %d, want at most %d", last, n))
	}
	return &gappy{Source: src, gaps: gaps}
}

func (g *gappy) Read(dst []float32) (int, error) {
	channels := g.Format().Channels
	frames := mustHoldFrame(dst, channels)
	if len(g.gaps) == 0 || g.closed {
		return g.Source.Read(dst)
	}
	next := g.gaps[0]
	if start := next.At - next.Lost; g.at < start {
		n, err := g.Source.Read(dst[:int(min(int64(frames), start-g.at))*channels])
		g.at += int64(n)
		return n, err
	}
	for g.at < next.At {
		g.waste = append(g.waste[:0], make([]float32, min(next.At-g.at, 4096)*int64(channels))...)
		n, err := g.Source.Read(g.waste)
		if err != nil {
			return 0, err
		}
		g.at += int64(n)
	}
	g.gaps = g.gaps[1:]
	return 0, &next
}

func (g *gappy) Close() error {
	g.closed = true
	return g.Source.Close()
}

// failing is the Source of FailAfter.
type failing struct {
	audio.Source
	left   int64
	err    error
	closed bool
}

// FailAfter returns src, which fails with err after its first n frames. When src ends before, it ends as it does.
func FailAfter(src audio.Source, n int64, err error) audio.Source {
	return &failing{Source: src, left: n, err: err}
}

func (f *failing) Read(dst []float32) (int, error) {
	channels := f.Format().Channels
	frames := mustHoldFrame(dst, channels)
	if f.closed {
		return 0, errClosed
	}
	if f.left <= 0 {
		return 0, f.err
	}
	n, err := f.Source.Read(dst[:int(min(int64(frames), f.left))*channels])
	f.left -= int64(n)
	return n, err
}

func (f *failing) Close() error {
	f.closed = true
	return f.Source.Close()
}

// short is the Source of ShortReads.
type short struct {
	audio.Source
	rng *rand.Rand
}

// ShortReads returns src, of which each Read gives a random number of frames from 1 to what dst holds. The same seed
// gives the same numbers.
func ShortReads(src audio.Source, seed uint64) audio.Source {
	return &short{Source: src, rng: rand.New(rand.NewPCG(seed, 0))}
}

func (s *short) Read(dst []float32) (int, error) {
	channels := s.Format().Channels
	frames := mustHoldFrame(dst, channels)
	return s.Source.Read(dst[:(1+s.rng.IntN(frames))*channels])
}
