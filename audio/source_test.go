package audio

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestFormatDuration(t *testing.T) {
	for _, c := range []struct {
		rate int
		n    int64
		want time.Duration
	}{
		{48000, 0, 0},
		{48000, 48000, time.Second},
		{48000, 123456, 2572 * time.Millisecond},
		{44100, 1, 22675 * time.Nanosecond}, // 22675.7 ns, cut to whole nanoseconds
		{48000, -24000, -500 * time.Millisecond},
		{192000, 192000 * 86400 * 365, 365 * 24 * time.Hour}, // n * 1e9 would overflow int64
	} {
		assert.Equal(t, c.want, Format{SampleRate: c.rate}.Duration(c.n))
	}
	assert.Panics(t, func() { _ = Format{}.Duration(1) })
	assert.Equal(t, time.Duration(math.MaxInt64/int64(time.Second))*time.Second,
		Format{SampleRate: 1}.Duration(math.MaxInt64/int64(time.Second)))
}

func TestGapErrorIsFoundThroughWrapping(t *testing.T) {
	err := fmt.Errorf("reading: %w", &GapError{At: 1000, Lost: 128})
	var gap *GapError
	assert.True(t, errors.As(err, &gap))
	assert.Equal(t, GapError{At: 1000, Lost: 128}, *gap)
	assert.EqualError(t, err, "reading: audio: 128 frames lost before frame 1000")
}
