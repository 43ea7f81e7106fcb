package live

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio"
)

// Whatever is written and taken in whatever turns: each frame arrives in its place, or a gap of just the right length does.
func TestRingKeepsCount(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		channels := rapid.IntRange(1, 3).Draw(r, "channels")
		ring := newRing(rapid.IntRange(1, 50).Draw(r, "room"), channels)
		in, at, told, dropped := int64(0), int64(0), int64(0), int64(0) // frames: written to, taken up to, told lost, lost
		write := func(n int) {
			block := make([]float32, n*channels)
			for i := range block {
				block[i] = float32(in)*4 + float32(i%channels) + float32(i/channels)*4
			}
			dropped += ring.write(block)
			in += int64(n)
		}
		take := func(n int) bool {
			dst := make([]float32, n*channels)
			got, gap := ring.take(dst)
			if gap != nil {
				require.Zero(r, got)
				require.Equal(r, audio.GapError{At: at + gap.Lost, Lost: gap.Lost}, *gap)
				require.Positive(r, gap.Lost)
				at += gap.Lost
				told += gap.Lost
				return true
			}
			for i := range got * channels {
				require.Equal(r, float32(at)*4+float32(i%channels)+float32(i/channels)*4, dst[i])
			}
			at += int64(got)
			return got > 0
		}
		for range rapid.IntRange(1, 100).Draw(r, "turns") {
			switch n := rapid.IntRange(0, 40).Draw(r, "frames"); rapid.IntRange(0, 4).Draw(r, "turn") {
			case 0:
				take(1 + n)
			case 1:
				ring.lose(int64(n))
				in += int64(n)
				dropped += int64(n)
			default:
				write(n)
			}
		}
		for take(7) {
		}
		write(1) // the ring is empty: it must be taken, and what was lost before must be told
		for take(7) {
		}
		assert.Equal(r, in, at)
		assert.Equal(r, dropped, told)
	})
}

// A reader who is a little too slow hears of a few long gaps, not of very many short ones.
func TestRingGathersGaps(t *testing.T) {
	ring := newRing(1000, 1)
	gaps, dst := 0, make([]float32, 9)
	for range 10000 {
		ring.write(make([]float32, 10))
		if _, gap := ring.take(dst); gap != nil {
			gaps++
		}
	}
	// A tenth of 100000 frames is lost, and no gap is shorter than a quarter of the ring takes to be read: 250/9 writes of 10 frames.
	assert.Greater(t, gaps, 10)
	assert.LessOrEqual(t, gaps, 10000/277+1)
}
