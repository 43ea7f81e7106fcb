package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// addSpikes adds half sines of so many frames, 0.3 to 10 times the tone, up or down, from frame `from` on, and returns their number.
func addSpikes(x []float32, from, long int, seed uint64) (n int) {
	rng := rand.New(rand.NewPCG(seed, 43))
	for at := from; at < len(x)-4800; at += 1500 + rng.IntN(900) {
		peak := 0.25 * 0.3 * math.Pow(10/0.3, rng.Float64())
		if rng.IntN(2) == 0 {
			peak = -peak
		}
		phase := rng.Float64() // of the frames against the spike
		for i := range long + 1 {
			x[at+i] += float32(peak * math.Max(0, math.Sin(math.Pi*(float64(i)+phase)/float64(long))))
		}
		n++
	}
	return n
}

// A shop's switches and sparks make spikes: at most one in a hundred may be decided for an opening, and none may stay one. Of 400 at most
// 4, whatever the chance.
func TestSpikesRaiseNoCue(t *testing.T) {
	t.Parallel()
	for _, db := range []float64{40, 20, 10} {
		for _, open := range []complex128{0, 0.125} {
			s := keyedTone(8, db, open)
			from := s.n
			s.n += 400 * 1950
			x := s.render()
			n := addSpikes(x, from, 5, uint64(db)) // 0.1 ms
			require.Greater(t, n, 350)
			_, ev, d, err := run(x, s.fs, 4800, SurveyOptions{})
			require.NoError(t, err)
			require.NoError(t, d.Judge())
			raised := 0
			for _, e := range ev {
				if e.Stage == Decided && e.Kind == KindOpen && e.Frame > int64(from)-100 {
					raised++
				}
			}
			assert.LessOrEqual(t, 100*raised, n, "%g dB, %v left", db, open)
			assert.Len(t, frames(ev), len(s.turns), "%g dB, %v left", db, open)
		}
	}
}

// Where the tone is away for 0.2 ms the trigger sees an opening and a closing; the second look tells them by their name.
func TestAShortExcursionIsASpike(t *testing.T) {
	for _, db := range []float64{40, 30, 20} {
		s := keyedTone(4, db, 0)
		s.n += 48000
		quiet := s
		quiet.closed, quiet.turns = 0, nil
		x, y := s.render(), quiet.render()
		at := s.n - 24000
		copy(x[at:at+10], y[at:at+10]) // the noise alone
		ev, d, err := detectAll(s.config(), x, 480)
		require.NoError(t, err)
		assert.Len(t, frames(ev), len(s.turns), "%g dB", db)
		taken := 0
		for _, e := range ev {
			if e.Stage == Withdrawn {
				assert.Equal(t, CauseSpike, e.Cause, "%g dB", db)
				assert.InDelta(t, at+5, e.Frame, 10, "%g dB", db) // either end of it
				taken++
			}
		}
		assert.Positive(t, taken, "%g dB", db)
		assert.Zero(t, d.Levels().Undone, "a spike says nothing against the recording")
	}
}

// The sum test by itself, with made-up likelihoods.
func TestTrigger(t *testing.T) {
	feed := func(n int, lr, fit float64, wild bool) (fired int, tr trigger) {
		for i := range n {
			if tr.add(lr, fit, wild, int64(i)) {
				return i + 1, tr
			}
		}
		return 0, tr
	}
	fired, _ := feed(100, 1e9, 1e9, false)
	assert.Equal(t, 3, fired, "three samples must agree, however much each says")
	fired, tr := feed(100, 1, 1, false)
	assert.Equal(t, 27, fired, "26 must be passed")
	assert.Zero(t, tr.from)
	fired, _ = feed(100, 1, 0.25, false)
	assert.Equal(t, 47, fired, "the fit must pass 11.5")
	fired, tr = feed(1000, 9, -5, false)
	assert.Zero(t, fired, "the samples fit neither state")
	assert.Zero(t, tr.fit)
	assert.LessOrEqual(t, tr.sum, triggerMost)
	fired, tr = feed(1000, 5, 5, true)
	assert.Zero(t, fired, "wild samples say nothing")
	for n := int64(1000); !tr.idle(); n++ {
		require.Less(t, n, int64(1200), "it forgets wild samples")
		tr.add(-1, 0, false, n)
	}
	tr = trigger{}
	assert.False(t, tr.add(5, 5, false, 10))
	assert.False(t, tr.add(5, -100, false, 11))
	assert.False(t, tr.add(-11, 5, false, 12))
	assert.Zero(t, tr.sum)
	for n := int64(20); !tr.add(5, 5, false, n); n++ {
	}
	assert.Equal(t, int64(20), tr.from, "the excursion begins after the last return to 0")
}
