// Package audiotest checks that a source of sound keeps the audio.Source contract, and gives the tests of other
// packages sources that go wrong in the ways real ones do.
package audiotest

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"breakcue/audio"
)

// DefaultLimit is how many frames Check reads of a source that goes on for ever.
const DefaultLimit = 1 << 16

// maxGaps is how many gaps of one source Check reads.
const maxGaps = 1000

// Check fails the test unless every source that open returns keeps the audio.Source contract, and that of audio.Skipper where it
// has a Skip, as far as its first limit frames show; a limit of 0 means DefaultLimit. Each call of open must start the same sound from its beginning.
// A live source, which cannot do that, needs tests of its own.
func Check(t testing.TB, open func() audio.Source, limit int64) {
	t.Helper()
	if err := verify(open, limit); err != nil {
		t.Error(err)
	}
}

// verify is Check with the first broken rule as an error.
func verify(open func() audio.Source, limit int64) error {
	if limit == 0 {
		limit = DefaultLimit
	}
	want, err := record(open(), limit, func() int { return 4096 }, 0)
	if err != nil {
		return fmt.Errorf("blocks of 4096 frames: %w", err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name  string
		block func() int // frames of the next block
		extra int        // samples in dst past its last whole frame
	}{
		{"blocks of 1 frame", func() int { return 1 }, 0},
		{"blocks of 7 frames", func() int { return 7 }, 0},
		{"blocks of 1000 frames and a part of one", func() int { return 1000 }, want.format.Channels - 1},
		{"blocks of 100000 frames", func() int { return 100000 }, 0},
		{"blocks of random size", func() int { return 1 + rng.IntN(600) }, 0},
	} {
		got, err := record(open(), limit, c.block, c.extra)
		if err == nil {
			err = want.differs(got)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
	}
	if err := checkSkip(open, want, limit); err != nil {
		return err
	}
	if err := checkShortDst(open()); err != nil {
		return err
	}
	return checkEarlyClose(open())
}

// take is all that was read of a source.
type take struct {
	format  audio.Format
	samples []float32
	gaps    []audio.GapError
	end     error // nil when the limit was reached first
}

func (a *take) frames() int64 { return int64(len(a.samples) / a.format.Channels) }

// differs compares two takes of the same sound.
func (a *take) differs(b *take) error {
	if a.format != b.format {
		return fmt.Errorf("format %+v, another time %+v", a.format, b.format)
	}
	for i := range min(len(a.samples), len(b.samples)) {
		if math.Float32bits(a.samples[i]) != math.Float32bits(b.samples[i]) {
			return fmt.Errorf("sample %d depends on the block size: %g, %g", i, a.samples[i], b.samples[i])
		}
	}
	if len(a.samples) != len(b.samples) {
		return fmt.Errorf("the number of samples depends on the block size: %d, %d", len(a.samples), len(b.samples))
	}
	if fmt.Sprint(a.gaps) != fmt.Sprint(b.gaps) {
		return fmt.Errorf("gaps depend on the block size: %v, %v", a.gaps, b.gaps)
	}
	if fmt.Sprint(a.end) != fmt.Sprint(b.end) {
		return fmt.Errorf("the end depends on the block size: %v, %v", a.end, b.end)
	}
	return nil
}

// record reads src in blocks up to its end, or to limit frames, then closes it; each return is held against the contract.
func record(src audio.Source, limit int64, block func() int, extra int) (*take, error) {
	got := &take{format: src.Format()}
	if err := checkFormat(got.format); err != nil {
		return nil, err
	}
	channels := got.format.Channels
	var lost int64
	for got.frames() < limit && got.end == nil {
		want := min(int64(block()), limit-got.frames())
		dst := newGuarded(int(want)*channels + extra)
		n, err := src.Read(dst.samples)
		if err := dst.checkReturn(n, channels, err); err != nil {
			return nil, fmt.Errorf("at frame %d: %w", got.frames(), err)
		}
		got.samples = append(got.samples, dst.samples[:n*channels]...)
		var gap *audio.GapError
		switch {
		case errors.As(err, &gap):
			lost += gap.Lost
			if gap.Lost <= 0 || gap.At != got.frames()+lost {
				return nil, fmt.Errorf("gap %+v, want Lost above 0 and At %d", *gap, got.frames()+lost)
			}
			got.gaps = append(got.gaps, *gap)
			if len(got.gaps) > maxGaps {
				return nil, fmt.Errorf("more than %d gaps and no end", maxGaps)
			}
		case err != nil:
			got.end = err
		}
	}
	if f := got.format.Frames; got.end == io.EOF && f >= 0 && f != got.frames()+lost {
		return nil, fmt.Errorf("format declares %d frames, read %d (%d of these lost)", f, got.frames()+lost, lost)
	}
	if got.end != nil {
		if err := checkSticky(src, got.end, channels); err != nil {
			return nil, err
		}
	}
	if f := src.Format(); f != got.format {
		return nil, fmt.Errorf("format changed from %+v to %+v", got.format, f)
	}
	return got, checkClose(src, channels)
}

func checkFormat(f audio.Format) error {
	if f.SampleRate < 1 || f.Channels < 1 || f.Frames < -1 || f.Encoding == "" {
		return fmt.Errorf("format %+v, want sample rate and channels from 1, frames from -1, encoding named", f)
	}
	return nil
}

// checkSticky reads on after the end.
func checkSticky(src audio.Source, end error, channels int) error {
	for range 3 {
		dst := newGuarded(10 * channels)
		n, err := src.Read(dst.samples)
		if n != 0 || err == nil || err.Error() != end.Error() || errors.Is(err, io.EOF) != errors.Is(end, io.EOF) {
			return fmt.Errorf("after the end (%v): %d frames, error %v", end, n, err)
		}
		if err := dst.checkReturn(n, channels, err); err != nil {
			return fmt.Errorf("after the end: %w", err)
		}
	}
	return nil
}

// checkClose closes twice and reads again.
func checkClose(src audio.Source, channels int) error {
	for i := range 2 {
		if err := src.Close(); err != nil {
			return fmt.Errorf("close number %d: %w", i+1, err)
		}
	}
	for range 2 {
		dst := newGuarded(10 * channels)
		n, err := src.Read(dst.samples)
		if n != 0 || err == nil {
			return fmt.Errorf("after close: %d frames, error %v, want 0 and an error", n, err)
		}
		if err := dst.checkReturn(n, channels, err); err != nil {
			return fmt.Errorf("after close: %w", err)
		}
	}
	return nil
}

// checkEarlyClose closes a source of which nothing was read.
func checkEarlyClose(src audio.Source) error {
	if err := checkClose(src, src.Format().Channels); err != nil {
		return fmt.Errorf("nothing read: %w", err)
	}
	return nil
}

// checkShortDst reads into less than a frame, which must panic.
func checkShortDst(src audio.Source) (err error) {
	defer src.Close()
	for _, n := range []int{0, src.Format().Channels - 1} {
		panicked := func() (yes bool) {
			defer func() { yes = recover() != nil }()
			src.Read(make([]float32, n))
			return false
		}()
		if !panicked {
			return fmt.Errorf("read into %d samples of %d channels did not panic", n, src.Format().Channels)
		}
	}
	return nil
}
