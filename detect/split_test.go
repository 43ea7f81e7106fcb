package detect

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// splitAll returns what a Split makes of x, in blocks of at most so many frames, and how many frames at the begin went unheard.
func splitAll(t testing.TB, s pairSynth, x []float32, most int) (out [2][]float32, unheard [2]int64) {
	p, err := NewSplit(s.a.fs, 1, 0, [2]float64{s.a.tone, s.b.tone})
	require.NoError(t, err)
	take := func() {
		for i := range out {
			got, missed := p.Take(i)
			unheard[i] += missed
			out[i] = append(out[i], got...)
		}
	}
	for at := 0; at < len(x); {
		n := min(most, p.Most(), len(x)-at)
		p.Process(x[at : at+n])
		at += n
		take()
	}
	p.Finish()
	take()
	assert.EqualValues(t, len(x), p.Frame())
	return out, unheard
}

// Each output is the sound of one set alone, from the first edge on, whose levels nobody has told: the other set's tone and its edges are gone.
func TestSplitTakesEachToneOffTheOther(t *testing.T) {
	for _, c := range []struct{ second, down, open float64 }{{1600, 1, 0}, {3200, 0.1, 0}, {1600, 1, 0.5}, {2010, 0.3, 0.1}} {
		s := pairTake(3, 30, [2]float64{1000, c.second}, [2]float64{0.25, 0.25 * c.down}, 30)
		s.a.open, s.b.open = s.a.closed*complex(0, c.open), s.b.closed*complex(c.open, 0)
		x := s.render()
		out, unheard := splitAll(t, s, x, 4096)
		for i, one := range []synth{s.a, s.b} {
			assert.LessOrEqual(t, unheard[i], int64(480), "found within 10 ms")
			require.EqualValues(t, len(x), unheard[i]+int64(len(out[i])))
			want := one.render()[unheard[i]:] // with the same noise
			var off float64
			for n, v := range out[i] {
				d := float64(v - want[n])
				off += d * d
			}
			// What is left of the other tone, its few misjudged frames at edges included, is less than half of the noise.
			assert.Less(t, math.Sqrt(off/float64(len(want))), 0.5*one.sigma, "%+v, tone %d", c, i)
		}
	}
}

// guided is what a Split makes of s when a Detector, which hears tone 0, is named as its guide from a frame on: what is left in the other tone's
// output beside what should be there.
func guided(t *testing.T, s pairSynth, from int) (off []float64) {
	x, want := s.render(), s.b.render()
	p, err := NewSplit(s.a.fs, 1, 0, [2]float64{s.a.tone, s.b.tone})
	require.NoError(t, err)
	d, err := New(s.a.config())
	require.NoError(t, err)
	var unheard int64
	for at := 0; at < len(x); {
		n := min(p.Most(), len(x)-at)
		p.Process(x[at : at+n])
		at += n
		mine, missed := p.Take(0)
		unheard += missed
		d.Process(nil, mine)
		if at >= from {
			p.Guide(0, d, unheard)
		}
		other, missed := p.Take(1)
		for range missed {
			off = append(off, 0)
		}
		for _, v := range other {
			off = append(off, float64(v-want[len(off)]))
		}
	}
	return off
}

// The levels that a Split finds first may be those of points open, which it calls closed: a guide puts that right without a frame being lost.
func TestSplitGoesByAGuide(t *testing.T) {
	for _, startsOpen := range []bool{false, true} {
		s := pairTake(8, 20, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 30)
		s.a.startsOpen = startsOpen
		from := (s.a.turns[6] + max(s.b.turns[5], s.a.turns[5])) / 2
		off := guided(t, s, from)
		for k := 480; k < len(off); k += 24 {
			piece := off[k:min(k+24, len(off))]
			var sum float64
			for _, v := range piece {
				sum += v * v
			}
			// Of half a millisecond; the tone itself is 0.25. Some frames at an edge may be given to the other state.
			assert.Less(t, math.Sqrt(sum/float64(len(piece))), 0.04, "starts open %v, frame %d, guide from %d on", startsOpen, k, from)
		}
	}
}

// The first edges come when no level of either tone but the present one is known: what one set does must not pass for a change of the other,
// whose level is known already.
func TestSplitKeepsTheFirstEdgesApart(t *testing.T) {
	for seed := range uint64(60) {
		s := pairTake(seed, 2, [2]float64{1010, 1630}, [2]float64{0.25, 0.25}, 40)
		s.a.open, s.b.open = cmplx.Rect(0.06, 1), cmplx.Rect(0.08, 2) // what a condenser passes
		x := s.render()
		out, unheard := splitAll(t, s, x, 4096)
		for i, one := range []synth{s.a, s.b} {
			want := one.render()[unheard[i]:]
			wrong := 0
			for n, v := range out[i] {
				if math.Abs(float64(v-want[n])) > 0.1 {
					wrong++
				}
			}
			assert.LessOrEqual(t, wrong, 4, "frames with more than a third of the other tone; seed %d, tone %d", seed, i)
		}
	}
}

func TestSplitGivesTheSameHoweverTheSoundIsCut(t *testing.T) {
	s := pairTake(4, 6, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 20)
	x := s.render()
	want, _ := splitAll(t, s, x, 4096)
	for _, most := range []int{1, 5} {
		got, _ := splitAll(t, s, x, most)
		assert.True(t, assert.ObjectsAreEqual(want, got), "blocks of %d frames", most)
	}
	p, err := NewSplit(48000, 1, 0, [2]float64{1000, 1600})
	require.NoError(t, err)
	assert.Zero(t, testing.AllocsPerRun(1, func() {
		for at := 0; at+16 <= len(x); at += 16 {
			p.Process(x[at : at+16])
			p.Take(0)
			p.Take(1)
		}
	}))
}

func TestNewSplitRefuses(t *testing.T) {
	_, err := NewSplit(48000, 1, 0, [2]float64{1000, 1100})
	assert.ErrorContains(t, err, "apart")
	_, err = NewSplit(48000, 1, 1, [2]float64{1000, 1600})
	assert.ErrorContains(t, err, "channel")
	_, err = NewSplit(48000, 1, 0, [2]float64{100, 1600})
	assert.ErrorContains(t, err, "tone")
}
