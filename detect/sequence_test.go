package detect

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A break is counted once, whether the second look at the first break just sees it or not.
func TestEachReclosureIsCountedOnce(t *testing.T) {
	for second := 260; second < 350; second++ { // frames after the first break; the second look comes after some 300
		s := basicSynth()
		s.turns, s.n = []int{24013, 24013 + 134, 24013 + second, 24013 + second + 50, 24013 + second + 126}, 60000
		ev, _, err := detectAll(s.config(), s.render(), 4096)
		require.NoError(t, err)
		got := edges(ev)
		require.Len(t, got, 1, "%d", second)
		assert.Equal(t, 2, got[0].Reclosures, "%d", second)
		assert.InDelta(t, s.turns[0], got[0].At(), 1, "%d", second)
		assert.InDelta(t, s.turns[4], got[0].LastFrame, 1, "%d", second)
	}
}

// Spikes about as large as the tone cancel it for a moment when they come at the right phase.
func TestSpikesThatCancelTheToneAreNoOpenings(t *testing.T) {
	for _, open := range []complex128{0, 0.05, 0.05i} {
		s := basicSynth()
		s.open, s.n = open, 48000*20
		x := s.render()
		rng := rand.New(rand.NewPCG(1, 41))
		for at := 120000; at < s.n-4800; at += 2400 + rng.IntN(2400) { // past the openings
			peak := 0.25 * (0.5 + rng.Float64())
			if rng.IntN(2) == 0 {
				peak = -peak
			}
			for i := range 5 { // 0.1 ms
				x[at+i] += float32(peak * math.Sin(math.Pi*float64(i+1)/6))
			}
		}
		ev, d, err := detectAll(s.config(), x, 4096)
		require.NoError(t, err)
		require.NoError(t, d.Judge())
		assert.Equal(t, s.turns, near(frames(ev), s.turns), "points open %v", open)
	}
}

// A spike that cancels the tone some milliseconds before the points open, in the window of the second look, is not the first break.
func TestASpikeBeforeAnEdgeIsNotTheEdge(t *testing.T) {
	s := keyedTone(200, 30, 0)
	x := s.render()
	rng := rand.New(rand.NewPCG(2, 47))
	for k := 0; k < len(s.turns); k += 2 {
		at := s.turns[k] - 96 - rng.IntN(700)
		for i := range 6 { // 0.1 ms, against the tone
			was := s.closed * cmplx.Rect(1, 2*math.Pi*s.tone*float64(at+i)/float64(s.fs)+s.phase)
			x[at+i] -= float32((0.7 + 0.6*rng.Float64()) * real(was) * math.Sin(math.Pi*(float64(i)+0.5)/6))
		}
	}
	_, ev, _, err := run(x, s.fs, 4800, SurveyOptions{})
	require.NoError(t, err)
	got := edges(ev)
	require.Len(t, got, len(s.turns))
	wrong := 0
	for i, e := range got {
		if math.Abs(e.At()-float64(s.turns[i])) > 5 || e.Reclosures > 0 {
			wrong++
		}
	}
	assert.LessOrEqual(t, wrong, 1) // of 100 spikes some fit silence by chance
}

// bounced adds to each opening of s up to six re-closures of 20 to 500 us, at least so many frames long, 0.12 to 0.5 ms apart and all within
// 2 ms. It returns the number of re-closures for each opening, and the frame at which the points had opened for good.
func bounced(s synth, least int, rng *rand.Rand) (out synth, count, last []int) {
	out = s
	out.turns = nil
	for k, at := range s.turns {
		out.turns = append(out.turns, at)
		if k%2 == 1 {
			continue // a closing
		}
		n, end := 1+rng.IntN(6), at+96
		got := 0
		for ; got < n; got++ {
			from := at + 6 + rng.IntN(18)
			upto := from + least + rng.IntN(24-least+1)
			if upto > end {
				break
			}
			out.turns = append(out.turns, from, upto)
			at = upto
		}
		count, last = append(count, got), append(last, at)
	}
	return out, count, last
}

// Points bounce. The first break is what counts: to 50 us (root mean square of 150 openings, known to 6 %). In noise a first stretch may be too
// short to be seen, so a share of the openings may be timed at a later break. The last break is known too, and so is the number of
// re-closures, as far as each is long enough (0.12 ms) to be seen in every phase of the tone.
func TestFirstBreakUnderBounce(t *testing.T) {
	t.Parallel()
	const us = 48000e-6
	for _, c := range []struct {
		db    float64
		least int     // frames
		rms   float64 // [us]
		late  int     // of 150
	}{{40, 1, 10, 0}, {40, 6, 10, 0}, {30, 1, 20, 1}, {20, 1, 50, 1}, {15, 1, 50, 5}} {
		t.Run(fmt.Sprintf("%g dB, %d frames and more", c.db, c.least), func(t *testing.T) {
			t.Parallel()
			clean := keyedTone(300, c.db, 0)
			s, count, last := bounced(clean, c.least, rand.New(rand.NewPCG(uint64(c.db), 3)))
			_, ev, d, err := run(s.render(), s.fs, 4800, SurveyOptions{})
			require.NoError(t, err)
			require.NoError(t, d.Judge())
			got := edges(ev)
			require.Len(t, got, len(clean.turns))
			var sum float64
			n, late, wrong := 0, 0, 0
			for i, e := range got {
				if i%2 == 1 {
					assert.Zero(t, e.Reclosures)
					continue
				}
				if e.Reclosures != count[i/2] || abs(int(e.LastFrame)-last[i/2]) > 2 {
					wrong++
				}
				if miss := e.At() - float64(clean.turns[i]); miss > 6 {
					late++
				} else {
					sum += miss * miss
					n++
				}
			}
			assert.LessOrEqual(t, math.Sqrt(sum/float64(n)), c.rms*us)
			assert.LessOrEqual(t, late, c.late, "later than the first stretch can be missed by chance")
			if c.least >= 6 {
				assert.Zero(t, wrong, "re-closures counted")
			}
		})
	}
}

// Points that part slowly make and break for a long time before they stay open: one opening, from the first break to the last.
func TestChatterIsOneOpening(t *testing.T) {
	t.Parallel()
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 5))
		s := basicSynth()
		s.tone, s.sigma, s.seed = 1000.3, snr(0.25, 20), seed
		s.turns = []int{24000, 32000}
		first := 42000 + rng.IntN(48)
		at, long := first, 1440+rng.IntN(8160) // 30 to 200 ms
		for at < first+long {
			s.turns = append(s.turns, at, at+48+rng.IntN(200)) // 1 to 5 ms, so that none is too short to see
			at = s.turns[len(s.turns)-1] + 48 + rng.IntN(400)
		}
		s.turns = append(s.turns, at, at+30000)
		s.n = at + 40000
		_, ev, _, err := run(s.render(), s.fs, 4800, SurveyOptions{})
		require.NoError(t, err)
		got := edges(ev)
		require.Equal(t, []Kind{KindOpen, KindClose, KindOpen, KindClose}, kinds(ev), "seed %d", seed)
		assert.InDelta(t, first, got[2].At(), 5, "seed %d", seed) // 0.1 ms, ten times the error of a clean edge
		assert.InDelta(t, at, got[2].LastFrame, 5, "seed %d", seed)
		assert.Equal(t, (len(s.turns)-4)/2, got[2].Reclosures, "seed %d", seed)
	}
}
