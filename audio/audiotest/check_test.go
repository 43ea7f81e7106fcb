package audiotest

import (
	"errors"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
)

func ramp(n int) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(i)
	}
	return x
}

func TestSourcesOfThisPackageKeepTheContract(t *testing.T) {
	boom := errors.New("boom")
	slice := func(channels, frames int) audio.Source { return FromSlice(48000, channels, ramp(channels*frames)) }
	gaps := []audio.GapError{{At: 10, Lost: 10}, {At: 500, Lost: 1}, {At: 501, Lost: 1}, {At: 6000, Lost: 5000}}
	for name, open := range map[string]func() audio.Source{
		"slice":       func() audio.Source { return slice(2, 5000) },
		"empty":       func() audio.Source { return slice(1, 0) },
		"NaN and Inf": func() audio.Source { return FromSlice(8000, 1, []float32{float32(math.NaN()), float32(math.Inf(1))}) },
		"gaps":        func() audio.Source { return WithGaps(slice(3, 7000), gaps...) },
		"gap at end":  func() audio.Source { return WithGaps(slice(1, 100), audio.GapError{At: 100, Lost: 50}) },
		"fails":       func() audio.Source { return FailAfter(slice(2, 5000), 1234, boom) },
		"fails first": func() audio.Source { return FailAfter(slice(2, 5000), 0, boom) },
		"cut":         func() audio.Source { return FailAfter(slice(2, 5000), 4999, io.ErrUnexpectedEOF) },
		"short":       func() audio.Source { return ShortReads(slice(2, 5000), 7) },
		"all at once": func() audio.Source { return ShortReads(FailAfter(WithGaps(slice(2, 9000), gaps...), 1500, boom), 3) },
	} {
		t.Run(name, func(t *testing.T) { Check(t, open, 0) })
	}
}

// bent is a Source that a test bends: read is called in place of the Read of a Slice.
type bent struct {
	*Slice
	read   func(s *Slice, dst []float32) (int, error)
	skip   func(s *Slice, frames int64) int64
	format func() audio.Format
	close  func(s *Slice) error
}

func (b *bent) Read(dst []float32) (int, error) {
	if b.read != nil {
		return b.read(b.Slice, dst)
	}
	return b.Slice.Read(dst)
}

func (b *bent) Skip(frames int64) int64 {
	if b.skip != nil {
		return b.skip(b.Slice, frames)
	}
	return b.Slice.Skip(frames)
}

func (b *bent) Format() audio.Format {
	if b.format != nil {
		return b.format()
	}
	return b.Slice.Format()
}

func (b *bent) Close() error {
	if b.close != nil {
		return b.close(b.Slice)
	}
	return b.Slice.Close()
}

func TestCheckFindsEachBrokenRule(t *testing.T) {
	type reader = func(s *Slice, dst []float32) (int, error)
	fromRead := func(make func() reader) func() audio.Source {
		return func() audio.Source { return &bent{Slice: FromSlice(48000, 2, ramp(4000)), read: make()} }
	}
	fromSkip := func(skip func(s *Slice, frames int64) int64) func() audio.Source {
		return func() audio.Source { return &bent{Slice: FromSlice(48000, 2, ramp(4000)), skip: skip} }
	}
	for _, c := range []struct {
		want string
		open func() audio.Source
	}{
		{"touched sample", fromRead(func() reader {
			return func(s *Slice, dst []float32) (int, error) {
				n, err := s.Read(dst[:2])
				if n*2 < len(dst) {
					dst[n*2] = 1
				}
				return n, err
			}
		})},
		{"touched sample", fromRead(func() reader { // past len(dst)
			return func(s *Slice, dst []float32) (int, error) {
				dst[:len(dst)+1][len(dst)] = 1
				return s.Read(dst)
			}
		})},
		{"did not write", fromRead(func() reader {
			return func(s *Slice, dst []float32) (int, error) {
				n, err := s.Read(dst[:2])
				return min(n*2, len(dst)/2), err
			}
		})},
		{"together with the error EOF", fromRead(func() reader {
			return func(s *Slice, dst []float32) (int, error) {
				n, err := s.Read(dst)
				if len(s.rest) == 0 {
					err = io.EOF
				}
				return n, err
			}
		})},
		{"neither frames nor an error", fromRead(func() reader {
			return func(*Slice, []float32) (int, error) { return 0, nil }
		})},
		{"frames, want 0..", fromRead(func() reader {
			return func(_ *Slice, dst []float32) (int, error) { return len(dst), nil }
		})},
		{"frames, want 0..", fromRead(func() reader {
			return func(*Slice, []float32) (int, error) { return -1, nil }
		})},
		{"after the end (EOF)", fromRead(func() reader {
			ended := false
			return func(s *Slice, dst []float32) (int, error) {
				n, err := s.Read(dst)
				if ended {
					err = errors.New("other")
				}
				ended = err != nil
				return n, err
			}
		})},
		{"depends on the block size", fromRead(func() reader {
			return func(s *Slice, dst []float32) (int, error) {
				n, err := s.Read(dst)
				if n > 0 {
					dst[0] = float32(n)
				}
				return n, err
			}
		})},
		{"format declares 2000 frames, read 1999", fromRead(func() reader {
			first := true
			return func(s *Slice, dst []float32) (int, error) {
				if first {
					first = false
					s.rest = s.rest[2:]
				}
				return s.Read(dst)
			}
		})},
		{"want Lost above 0 and At 5", fromRead(func() reader {
			gone := false
			return func(s *Slice, dst []float32) (int, error) {
				if !gone {
					gone = true
					return 0, &audio.GapError{At: 0, Lost: 5}
				}
				return s.Read(dst)
			}
		})},
		{"more than 1000 gaps", fromRead(func() reader {
			at := int64(0)
			return func(*Slice, []float32) (int, error) {
				at++
				return 0, &audio.GapError{At: at, Lost: 1}
			}
		})},
		{"did not panic", fromRead(func() reader {
			return func(s *Slice, dst []float32) (int, error) {
				if len(dst) < 2 {
					return 0, io.EOF
				}
				return s.Read(dst)
			}
		})},
		{"skip returned -1 frames, want 0..1", fromSkip(func(*Slice, int64) int64 { return -1 })},
		{"skip returned 2 frames, want 0..1", fromSkip(func(s *Slice, n int64) int64 { return s.Skip(n + 1) })},
		{"not the one read without skips", fromSkip(func(_ *Slice, n int64) int64 { return n })},
		{"not the one read without skips", fromSkip(func(s *Slice, n int64) int64 { return min(s.Skip(n), 0) })},
		{"frames, of which", fromSkip(func(s *Slice, n int64) int64 {
			s.Skip(n)
			return n
		})},
		{"frames after the end", fromSkip(func(s *Slice, n int64) int64 {
			if len(s.rest) == 0 && n == 10 {
				return n
			}
			return s.Skip(n)
		})},
		{"skip over -1 frames did not panic", fromSkip(func(s *Slice, n int64) int64 { return s.Skip(max(n, 0)) })},
		{"after skips the end comes at frame", func() audio.Source {
			skipped := false
			return &bent{Slice: FromSlice(48000, 2, ramp(4000)), skip: func(s *Slice, n int64) int64 {
				skipped = skipped || n > 0
				return s.Skip(n)
			}, read: func(s *Slice, dst []float32) (int, error) {
				if skipped && len(s.rest) < 1000 {
					return 0, io.ErrUnexpectedEOF
				}
				return s.Read(dst)
			}}
		}},
		{"after close", func() audio.Source {
			return &bent{Slice: FromSlice(48000, 1, ramp(10)), close: func(s *Slice) error {
				s.rest = ramp(10)
				return nil
			}}
		}},
		{"close number 2", func() audio.Source {
			closed := 0
			return &bent{Slice: FromSlice(48000, 1, ramp(10)), close: func(s *Slice) error {
				closed++
				if closed == 2 {
					return errors.New("already closed")
				}
				return s.Close()
			}}
		}},
		{"encoding named", func() audio.Source {
			return &bent{Slice: FromSlice(48000, 1, ramp(10)), format: func() audio.Format {
				return audio.Format{SampleRate: 48000, Channels: 1, Frames: 10}
			}}
		}},
		{"format changed", func() audio.Source {
			calls := 0
			return &bent{Slice: FromSlice(48000, 1, ramp(10)), format: func() audio.Format {
				calls++
				return audio.Format{SampleRate: 48000 + calls, Channels: 1, Frames: 10, Encoding: "odd"}
			}}
		}},
	} {
		err := verify(c.open, 0)
		if assert.Error(t, err, "want %q", c.want) {
			assert.Contains(t, err.Error(), c.want)
		}
	}
}

func TestCheckStopsAtTheLimit(t *testing.T) {
	require.NoError(t, verify(func() audio.Source {
		return &bent{
			Slice: FromSlice(48000, 1, ramp(10)),
			format: func() audio.Format {
				return audio.Format{SampleRate: 48000, Channels: 1, Frames: -1, Encoding: "endless"}
			},
			read: func(s *Slice, dst []float32) (int, error) {
				mustHoldFrame(dst, 1)
				if s.end == errClosed {
					return 0, errClosed
				}
				dst[0] = 1
				return 1, nil
			},
		}
	}, 5000))
}

func TestWithGapsDropsTheFramesNamed(t *testing.T) {
	src := WithGaps(FromSlice(8000, 1, ramp(10)), audio.GapError{At: 2, Lost: 2}, audio.GapError{At: 7, Lost: 3})
	var got []any
	for {
		dst := make([]float32, 3)
		n, err := src.Read(dst)
		if err == io.EOF {
			break
		}
		var gap *audio.GapError
		if errors.As(err, &gap) {
			got = append(got, *gap)
			continue
		}
		require.NoError(t, err)
		got = append(got, dst[:n])
	}
	assert.Equal(t, []any{
		audio.GapError{At: 2, Lost: 2}, []float32{2, 3}, audio.GapError{At: 7, Lost: 3}, []float32{7, 8, 9},
	}, got)
}

func TestFaultsRefuseCallerBugs(t *testing.T) {
	assert.Panics(t, func() { FromSlice(8000, 2, ramp(3)) })
	assert.Panics(t, func() { FromSlice(0, 1, nil) })
	assert.Panics(t, func() { WithGaps(FromSlice(8000, 1, ramp(9)), audio.GapError{At: 5, Lost: 0}) })
	assert.Panics(t, func() { WithGaps(FromSlice(8000, 1, ramp(9)), audio.GapError{At: 5, Lost: 6}) })
	assert.Panics(t, func() { WithGaps(FromSlice(8000, 1, ramp(9)), audio.GapError{At: 10, Lost: 1}) })
	assert.Panics(t, func() {
		WithGaps(FromSlice(8000, 1, ramp(9)), audio.GapError{At: 5, Lost: 1}, audio.GapError{At: 6, Lost: 2})
	})
}
