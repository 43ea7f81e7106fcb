package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pairApart has the second set take its first four turns well after those of the first. While the phase of no open level has been heard, two
// openings within a millisecond cannot be told apart surely, coupled or not.
func (s pairSynth) pairApart() pairSynth {
	for i := range 4 {
		s.b.turns[i] = s.a.turns[i] + 3000
	}
	return s
}

// coupledTake has both levels of each tone at any phase, and any coupling up to 8 %: more than the recommended cables have.
func coupledTake(seed uint64) pairSynth {
	rng := rand.New(rand.NewPCG(seed, 33))
	draw := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	s := pairTake(seed, 20, [2]float64{draw(950, 1050), []float64{1610, 2230, 3170}[rng.IntN(3)]}, [2]float64{0.25, 0.25 * draw(0.4, 1.2)}, draw(20, 40))
	s.couple = [2]float64{draw(-0.08, 0.08), draw(-0.08, 0.08)}
	s.a.open = s.a.closed * cmplx.Rect(draw(0, 0.3), draw(0, 6))
	s.b.open = s.b.closed * cmplx.Rect(draw(0, 0.3), draw(0, 6))
	return s.pairApart()
}

// A common load of 47 ohms couples by 2.4 dB.
func TestPairFindsEachEdgeOfSetsOnOneLoad(t *testing.T) {
	for _, couple := range [][2]float64{{0.32, 0.32}, {0.25, -0.2}, {-0.25, 0.1}} {
		for seed := range uint64(4) {
			s := pairTake(seed, 20, [2]float64{1000, 2230}, [2]float64{0.25, 0.16}, 30).pairApart()
			s.couple = couple
			s.a.open = 0.02i
			ev, _, err := s.run(s.render(), 4800)
			require.NoError(t, err)
			for i, one := range []synth{s.a, s.b} {
				var got pairErrors
				got.add(edges(ofSet(ev, i+1)), one.turns)
				assert.Equal(t, pairErrors{sq: got.sq, n: 20}, got, "couple %v, seed %d, set %d", couple, seed, i+1)
				// Frames. The first edges, as long as the coupling is not known, may be off by 25.
				assert.Less(t, got.rms(), 6.0, "couple %v, seed %d, set %d", couple, seed, i+1)
			}
		}
	}
}

// Whatever the one set does to the other's tone: each edge is found at the set that made it, and none is made up.
func TestPairFindsEachEdgeOfCoupledSets(t *testing.T) {
	for seed := range uint64(30) {
		s := coupledTake(seed)
		ev, _, err := s.run(s.render(), 4800)
		require.NoError(t, err)
		for i, one := range []synth{s.a, s.b} {
			var got pairErrors
			got.add(edges(ofSet(ev, i+1)), one.turns)
			assert.Zero(t, got.missed, "seed %d, set %d", seed, i+1)
			assert.Zero(t, got.wrong, "seed %d, set %d", seed, i+1)
		}
	}
}

// What the one set does to the other's tone is learnt: the share, beside the state in which the tone's level was not learnt.
func TestPairLearnsTheCoupling(t *testing.T) {
	for _, couple := range [][2]float64{{0.06, -0.07}, {0.25, 0.2}} {
		s := pairTake(9, 30, [2]float64{1000, 1600}, [2]float64{0.25, 0.2}, 30)
		s.couple = couple
		_, p, err := s.run(s.render(), 4800)
		require.NoError(t, err)
		for i, want := range couple {
			c := p.set[i].couple[closedIdx]
			require.True(t, c.sure)
			if c.home == openIdx {
				want = 1/(1+want) - 1
			}
			assert.InDelta(t, want, real(c.by), 0.01) // of a level in hops of half a millisecond, at 30 dB
			assert.InDelta(t, 0, imag(c.by), 0.01)
		}
	}
}

// Noise makes no coupling.
func TestPairFindsNoCouplingWhereThereIsNone(t *testing.T) {
	s := pairTake(9, 30, [2]float64{1000, 1600}, [2]float64{0.25, 0.2}, 20)
	_, p, err := s.run(s.render(), 4800)
	require.NoError(t, err)
	for i := range p.set {
		for _, c := range p.set[i].couple {
			assert.Less(t, mag(c.by), 0.01)
			assert.Positive(t, c.n)
		}
	}
}

// Neither output of a Split shows the other set's edges once it has met them: the level stands still across them.
func TestSplitHidesTheCoupling(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for range 6 {
		s := pairTake(rng.Uint64N(1000), 12, [2]float64{1000, 1630}, [2]float64{0.25, 0.2}, 40)
		s.couple = [2]float64{0.12, -0.12}
		out, unheard := splitAll(t, s, s.render(), 4096)
		for i, turns := range [][]int{s.b.turns, s.a.turns} {
			one, own := s.a, s.a.turns
			if i == 1 {
				one, own = s.b, s.b.turns
			}
			tried := 0
			for k, at := range turns {
				near := math.Inf(1)
				for _, o := range own {
					near = min(near, math.Abs(float64(at-o)))
				}
				if k < 6 || near < 1000 {
					continue
				}
				tried++
				from := at - int(unheard[i])
				before, after := levelOf(out[i][from-480:from], one), levelOf(out[i][from:from+480], one)
				// The coupling makes 0.03 and 0.024.
				assert.InDelta(t, before, after, 0.015, "tone %d, edge %d", i, k)
			}
			assert.Positive(t, tried)
		}
	}
}

// levelOf returns the amplitude of a set's tone in x.
func levelOf(x []float32, s synth) float64 {
	var sum complex128
	for n, v := range x {
		sum += cmplx.Rect(float64(v), -2*math.Pi*s.tone*float64(n)/float64(s.fs))
	}
	return 2 * cmplx.Abs(sum) / float64(len(x))
}
