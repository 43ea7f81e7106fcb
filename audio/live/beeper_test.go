package live

import (
	"math"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func newTestBeeper(t require.TestingT, length time.Duration) *beeper {
	b, err := newBeeper(Alert{Voice: Voice{Hz: 1000, Level: 0, Channel: 1}, Length: length}, 48000)
	require.NoError(t, err)
	return b
}

// play returns the next frames of a beeper with the only channel.
func play(b *beeper, frames int) []float32 {
	out := make([]float32, frames)
	b.add(out, 1)
	return out
}

// extent returns the first frame that is not 0 and the one after the last such.
func extent(x []float32) (first, end int) {
	first = -1
	for i, v := range x {
		if v != 0 {
			if first < 0 {
				first = i
			}
			end = i + 1
		}
	}
	return first, end
}

func TestBeepLastsItsLengthAndEndsSilent(t *testing.T) {
	for _, c := range []struct {
		length time.Duration
		frames int
	}{{100 * time.Millisecond, 4800}, {20 * time.Millisecond, 960}, {10 * time.Millisecond, 480}, {time.Nanosecond, 480}} {
		b := newTestBeeper(t, c.length)
		assert.Equal(t, make([]float32, 1000), play(b, 1000), "silent before")
		b.sound()
		first, end := extent(play(b, 10000))
		assert.Equal(t, 1, first, "a sine begins with 0")
		assert.InDelta(t, c.frames, end, 2, "%v: the last frames of the ramp may be too small for a float32, or 0 by phase", c.length)
		assert.True(t, b.tone.Silent())
		assert.Equal(t, make([]float32, 1000), play(b, 1000), "silent after")
	}
}

func TestBeepWithoutLengthLastsUntilHush(t *testing.T) {
	b := newTestBeeper(t, 0)
	b.sound()
	x := play(b, 480000)
	assert.NotZero(t, x[479999-7])
	b.hush()
	_, end := extent(play(b, 1000))
	assert.InDelta(t, 240, end, 2, "5 ms, see above")
	b.hush()
	assert.Equal(t, make([]float32, 100), play(b, 100))
}

func TestBeepAgainLastsAnew(t *testing.T) {
	b := newTestBeeper(t, 100*time.Millisecond)
	b.sound()
	play(b, 4000)
	b.sound()
	_, end := extent(play(b, 10000))
	// No second rise: the fall begins where it would in a new beep, 4560 frames on, and takes 240.
	assert.InDelta(t, 4800, end, 2, "see above")
}

// However it is switched, cut into blocks: no step is larger than a steady tone's with the steepest part of its ramp.
func TestBeepNeverClicks(t *testing.T) {
	// |d/dn gain*sin| <= 2*pi*1000/48000 + pi/2/240, for a level of 1.
	steepest := 2*math.Pi*1000/48000 + math.Pi/2/240
	rapid.Check(t, func(r *rapid.T) {
		b := newTestBeeper(r, time.Duration(rapid.IntRange(0, 30).Draw(r, "ms"))*time.Millisecond)
		last := float32(0)
		for range rapid.IntRange(1, 30).Draw(r, "turns") {
			switch rapid.IntRange(0, 3).Draw(r, "turn") {
			case 0:
				b.sound()
			case 1:
				b.hush()
			}
			for _, v := range play(b, rapid.IntRange(0, 700).Draw(r, "frames")) {
				require.LessOrEqual(r, math.Abs(float64(v-last)), steepest+1e-6, "float32")
				last = v
			}
		}
	})
}

func TestBeepFromManyGoroutines(t *testing.T) {
	b := newTestBeeper(t, 0)
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for range 1000 {
				b.sound()
				b.hush()
			}
		})
	}
	for range 100 {
		play(b, 64)
	}
	all.Wait()
	play(b, 1000)
	assert.True(t, b.tone.Silent(), "each one's last word was to be silent")
	b.sound()
	play(b, 1)
	assert.False(t, b.tone.Silent())
}
