package pump_test

import (
	"math"
	"testing"
	"time"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/cmd/internal/pump"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// counted tells how many frames of a source were read.
type counted struct {
	audio.Skipper
	read *int64
}

func (c counted) Read(dst []float32) (int, error) {
	n, err := c.Skipper.Read(dst)
	*c.read += int64(n)
	return n, err
}

// What a source can pass over is not read, and nothing comes out differently for it.
func TestASourceThatPassesOverGivesTheSame(t *testing.T) {
	const fs, frames = 8000, 80 * 8000
	x := make([]float32, 2*frames)
	for i := range frames {
		if i/3000%3 != 1 { // open for 3000 frames in 9000
			x[2*i+1] = float32(0.8 * math.Sin(2*math.Pi*487*float64(i)/fs))
		}
		x[2*i] = float32(i%7-3) * 1e-4
		x[2*i+1] = max(-0.6, min(0.6, x[2*i+1]+x[2*i]))
	}
	x[2*(frames-1000)] = float32(math.NaN())
	for name, opt := range map[string]pump.Options{
		"whole":         {},
		"one channel":   {Channel: 2},
		"from":          {From: 40 * time.Second},
		"from and to":   {From: 35 * time.Second, To: 75 * time.Second},
		"a wrong tone":  {Tones: []float64{2000}},
		"other channel": {Channel: 1},
	} {
		t.Run(name, func(t *testing.T) {
			var read, all int64
			got := analyse(t, func() (audio.Source, error) {
				return counted{audiotest.FromSlice(fs, 2, x), &read}, nil
			}, opt)
			want := analyse(t, func() (audio.Source, error) {
				return struct{ audio.Source }{counted{audiotest.FromSlice(fs, 2, x), &all}}, nil
			}, opt)
			assert.Equal(t, want, got)
			assert.Less(t, read, all)
			assert.Equal(t, int64(frames), got.Frames)
			if name == "whole" {
				require.NoError(t, got.Refused)
				assert.Equal(t, []string{"not_finite", "clipped"}, codes(got))
				// The whole of it once for the Detector, 30 s for the survey and looks at the rest, the first edges for their angle.
				assert.Less(t, read, int64(1.8*frames))
			}
		})
	}
}
