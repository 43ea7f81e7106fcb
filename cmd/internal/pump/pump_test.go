package pump_test

import (
	"context"
	"errors"
	"io"
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// detector returns a Detector for cycles, and the sound.
func detector(t *testing.T) (*detect.Detector, audio.Source) {
	open := opener(t, cycles(t))
	d, err := detect.New(analyse(t, open, pump.Options{}).Config)
	require.NoError(t, err)
	src, err := open()
	require.NoError(t, err)
	return d, src
}

func TestRunGivesEveryBlockToItsTapsInOrder(t *testing.T) {
	d, src := detector(t)
	var frames int64
	var order []string
	var ids []int64
	end, err := pump.Run(t.Context(), src, []pump.Hearer{d}, pump.Span{}, pump.Taps{
		Block: func(b []float32) error {
			assert.Equal(t, frames, d.Frame(), "before the detector sees it")
			frames += int64(len(b))
			order = append(order, "block")
			return nil
		},
		Event: func(e detect.Event) {
			if e.Stage == detect.Settled {
				ids = append(ids, e.ID)
			}
		},
		After: func() {
			assert.Equal(t, frames, d.Frame(), "after the detector has seen it")
			order = append(order, "after")
		},
	})
	require.NoError(t, err)
	assert.Equal(t, pump.End{Frames: frames}, end)
	assert.Equal(t, src.Format().Frames, frames)
	assert.Equal(t, []int64{1, 2, 3, 4, 5, 6}, ids)
	for i := 0; i < len(order); i += 2 {
		assert.Equal(t, []string{"block", "after"}, order[i:i+2])
	}
}

func TestRunGivesTapsOnlyTheSpan(t *testing.T) {
	d, src := detector(t)
	var frames int64
	end, err := pump.Run(t.Context(), src, []pump.Hearer{d}, pump.Span{From: 50001, To: 60000}, pump.Taps{
		Block: func(b []float32) error { frames += int64(len(b)); return nil },
	})
	require.NoError(t, err)
	assert.Equal(t, int64(9999), frames)
	assert.GreaterOrEqual(t, end.Frames, int64(60000))
}

func TestRunWithoutDetectorsCounts(t *testing.T) {
	src := audiotest.WithGaps(audiotest.FromSlice(8000, 2, make([]float32, 2*10000)), audio.GapError{At: 5000, Lost: 700})
	end, err := pump.Run(t.Context(), src, nil, pump.Span{}, pump.Taps{})
	require.NoError(t, err)
	assert.Equal(t, pump.End{Frames: 9300, Lost: 700}, end)

	src = audiotest.FailAfter(audiotest.FromSlice(8000, 1, make([]float32, 10000)), 6000, io.ErrUnexpectedEOF)
	end, err = pump.Run(t.Context(), src, nil, pump.Span{}, pump.Taps{})
	require.NoError(t, err)
	assert.Equal(t, pump.End{Frames: 6000, Truncated: true}, end)
}

func TestRunEndsAtATapsError(t *testing.T) {
	full := errors.New("the disk is full")
	d, src := detector(t)
	blocks := 0
	end, err := pump.Run(t.Context(), src, []pump.Hearer{d}, pump.Span{}, pump.Taps{Block: func(b []float32) error {
		if blocks++; blocks == 3 {
			return full
		}
		return nil
	}})
	require.ErrorIs(t, err, full)
	assert.Equal(t, 3, blocks)
	assert.Less(t, end.Frames, src.Format().Frames)
}

func TestRunEndsWhenTheContextDoes(t *testing.T) {
	why := errors.New("enough")
	d, src := detector(t)
	ctx, cancel := context.WithCancelCause(t.Context())
	opened := false
	_, err := pump.Run(ctx, src, []pump.Hearer{d}, pump.Span{}, pump.Taps{Event: func(e detect.Event) {
		if e.Stage == detect.Decided {
			cancel(why)
		}
		opened = opened || e.Stage == detect.Settled && e.Kind == detect.KindOpen
	}})
	require.ErrorIs(t, err, why)
	assert.True(t, opened, "what was on its way is flushed")

	_, err = pump.Analyse(ctx, opener(t, cycles(t)), pump.Options{})
	require.ErrorIs(t, err, why)
}

// twoTones are the tones of two sets of points, each in the channels given.
func twoTones(t testing.TB, channels int, of [2]int) ([2][]bench.Event, func() (audio.Source, error)) {
	var want [2][]bench.Event
	sum := make([]float32, 4*48000*channels)
	for i, tone := range []float64{1010, 2330} {
		r := typical()
		r.tone = tone
		c := r.config(t, uint64(i))
		c.Frames, c.Level, c.Channels, c.Channel = 4*48000, c.Level-6, channels, of[i]
		want[i], _ = truth(t, c)
		b, err := bench.New(c)
		require.NoError(t, err)
		x := make([]float32, len(sum))
		_, err = b.Read(x)
		require.NoError(t, err)
		for n, v := range x {
			sum[n] += v
		}
	}
	return want, func() (audio.Source, error) { return audiotest.FromSlice(48000, channels, sum), nil }
}

func TestTwoTonesAreTwoSetsOfPoints(t *testing.T) {
	want, open := twoTones(t, 2, [2]int{1, 0})
	a := analyse(t, open, pump.Options{Tones: []float64{1010, 2330}})
	require.NoError(t, a.Refused)
	for i := range want {
		got := a
		got.Edges = nil
		for _, e := range a.Edges {
			if e.Set == i+1 {
				got.Edges = append(got.Edges, e)
			}
		}
		requireEvents(t, want[i], got, 2, uint64(i))
	}
	for i := 1; i < len(a.Edges); i++ {
		assert.LessOrEqual(t, a.Edges[i-1].At(), a.Edges[i].At(), "in time")
	}
}

func TestTwoTonesNeedAChoice(t *testing.T) {
	_, open := twoTones(t, 1, [2]int{0, 0})
	a := analyse(t, open, pump.Options{})
	require.ErrorIs(t, a.Refused, detect.ErrManyTones)
	assert.Empty(t, a.Edges)
	assert.Equal(t, []string{"several_tones"}, codes(a))
	assert.Contains(t, a.Hint(), "--tone")
}

func TestAnalyseRefusesWhatCannotBe(t *testing.T) {
	for want, opt := range map[string]pump.Options{
		"channel 3, want 1 to 1":           {Channel: 3},
		"tone 23000 Hz, want 250 to 20000": {Tones: []float64{23000}},
	} {
		_, err := pump.Analyse(t.Context(), opener(t, cycles(t)), opt)
		var wrong *pump.OptionError
		require.ErrorAs(t, err, &wrong)
		assert.ErrorContains(t, err, want)
	}
	gone := errors.New("no such file")
	_, err := pump.Analyse(t.Context(), func() (audio.Source, error) { return nil, gone }, pump.Options{})
	assert.ErrorIs(t, err, gone)
}

func TestATapCanEndTheRunWithTheLastEvents(t *testing.T) {
	c := bench.Config{SampleRate: 48000, Channels: 1, Frames: 48000, Tone: 1000, Level: -12, Closed: 1, Noise: 1e-4,
		Changes: []bench.Change{{At: 0.9}}}
	src, err := bench.New(c)
	require.NoError(t, err)
	d, err := detect.New(detect.Config{SampleRate: 48000, Channels: 1, Profile: detect.Profile{Tone: 1000, Closed: 0.25, Noise: 1e-4}})
	require.NoError(t, err)
	ctx, cancel := context.WithCancelCause(t.Context())
	full := errors.New("the disk is full")
	_, err = pump.Run(ctx, src, []pump.Hearer{d}, pump.Span{}, pump.Taps{Event: func(e detect.Event) {
		if e.Stage == detect.Settled { // comes when the detector is flushed
			cancel(full)
		}
	}})
	require.ErrorIs(t, err, full)
}
