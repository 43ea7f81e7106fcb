package audiotest

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"breakcue/audio"
)

// checkSkip passes over parts of the sound and holds what is read between them against want, the whole of it. A source without
// Skip keeps the contract.
func checkSkip(open func() audio.Source, want *take, limit int64) error {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct {
		name       string
		skip, read func() int64 // frames
	}{
		{"skips of 1 frame", func() int64 { return 1 }, func() int64 { return 1 }},
		{"skips of no frame", func() int64 { return 0 }, func() int64 { return 1000 }},
		{"skips of 5000 frames", func() int64 { return 5000 }, func() int64 { return 300 }},
		{"skips of random size", func() int64 { return rng.Int64N(3000) }, func() int64 { return 1 + rng.Int64N(3000) }},
		{"a skip past the end", func() int64 { return math.MaxInt64 }, func() int64 { return 10 }},
	} {
		src := open()
		s, ok := src.(audio.Skipper)
		if !ok {
			return src.Close()
		}
		if err := alternate(s, want, limit, c.skip, c.read); err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
	}
	return nil
}

// alternate skips and reads by turns, up to the end or beyond limit frames, and closes src.
func alternate(src audio.Skipper, want *take, limit int64, skip, read func() int64) error {
	channels := want.format.Channels
	gaps := want.gaps
	var at, lost int64 // frames passed or read, frames lost
	for {
		if at >= limit { // nothing is known of what follows
			return checkSkipClosed(src)
		}
		asked := skip()
		if want.end == nil {
			asked = min(asked, limit-at)
		}
		passed := src.Skip(asked)
		if passed < 0 || passed > asked {
			return fmt.Errorf("skip returned %d frames, want 0..%d", passed, asked)
		}
		at += passed
		if at > want.frames() {
			return fmt.Errorf("skip passed over %d frames, of which %d are there", passed, passed-(at-want.frames()))
		}
		if len(gaps) > 0 && at+lost > gaps[0].At-gaps[0].Lost {
			return fmt.Errorf("skip passed over the gap before frame %d", gaps[0].At)
		}
		dst := make([]float32, read()*int64(channels))
		n, err := src.Read(dst)
		var gap *audio.GapError
		switch {
		case errors.As(err, &gap):
			if len(gaps) == 0 || *gap != gaps[0] {
				return fmt.Errorf("after a skip to frame %d: gap %+v, want one of %v", at+lost, *gap, gaps)
			}
			lost += gap.Lost
			gaps = gaps[1:]
			continue
		case err != nil:
			return checkSkipEnd(src, want, at, err)
		}
		for i, v := range dst[:min(int64(n), limit-at)*int64(channels)] {
			k := at*int64(channels) + int64(i)
			if k >= int64(len(want.samples)) || math.Float32bits(v) != math.Float32bits(want.samples[k]) {
				return fmt.Errorf("after a skip to frame %d: sample %d is not the one read without skips", at, k)
			}
		}
		at += int64(n)
	}
}

// checkSkipEnd holds the end met at frame at, gaps left out, against the one that reading met, skips there, and closes src.
func checkSkipEnd(src audio.Skipper, want *take, at int64, end error) error {
	if at != want.frames() || fmt.Sprint(end) != fmt.Sprint(want.end) {
		return fmt.Errorf("after skips the end comes at frame %d with %v, without at frame %d with %v", at, end, want.frames(), want.end)
	}
	if n := src.Skip(10); n != 0 {
		return fmt.Errorf("skip passed over %d frames after the end", n)
	}
	if err := checkSticky(src, end, want.format.Channels); err != nil {
		return err
	}
	return checkSkipClosed(src)
}

// checkSkipClosed looks that a negative skip panics, closes src and skips once more.
func checkSkipClosed(src audio.Skipper) error {
	panicked := func() (yes bool) {
		defer func() { yes = recover() != nil }()
		src.Skip(-1)
		return false
	}()
	if !panicked {
		return errors.New("skip over -1 frames did not panic")
	}
	if err := checkClose(src, src.Format().Channels); err != nil {
		return err
	}
	if n := src.Skip(10); n != 0 {
		return fmt.Errorf("after close: skip passed over %d frames", n)
	}
	return nil
}
