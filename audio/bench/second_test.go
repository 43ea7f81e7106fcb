package bench

import (
	"io"
	"math"
	"math/cmplx"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// both has a second set whose changes fall between those of the first.
func both() Config {
	c := plain()
	c.Second = &Second{Tone: 1600, Level: -20, Closed: 0.5, Open: 0.1, Changes: []Change{{At: 0.02}, {At: 0.05, Closed: true}}}
	return c
}

// The sound of both is the sum of each alone: the noise, and the phase that the seed gives the first tone, stay as they are.
func TestTwoSetsAreTheSumOfEach(t *testing.T) {
	c := both()
	mixed, err := New(c)
	require.NoError(t, err)
	x := drain(t, mixed)
	one := c
	one.Second = nil
	first, err := New(one)
	require.NoError(t, err)
	alone := drain(t, first)
	difference := make([]float64, len(x))
	for i := range x {
		difference[i] = float64(x[i]) - float64(alone[i])
	}
	second, err := New(c)
	require.NoError(t, err)
	for i := range difference {
		// float32 of the sum and of the part each round by 2^-24 of values below 1
		require.InDelta(t, second.second.at(int64(i)), difference[i], 3e-7, "frame %d", i)
	}
}

func TestSecondSetHasATruthOfItsOwn(t *testing.T) {
	b, err := New(both())
	require.NoError(t, err)
	rate := float64(b.Format().SampleRate)
	got := b.SecondTruth(20 * time.Millisecond)
	require.Len(t, got.Edges, 2)
	assert.InDelta(t, 0.02*rate, got.Edges[0].Frame, 1) // a gated edge stands at a whole frame
	require.NoError(t, b.AddSecond(Change{At: 0.08}))
	assert.Len(t, b.SecondTruth(20*time.Millisecond).Edges, 3)
	assert.Error(t, b.AddSecond(Change{At: 0.09}), "no change of state")
	assert.Equal(t, len(plain().Changes), len(b.Truth(0).Edges))

	b, err = New(plain())
	require.NoError(t, err)
	assert.Empty(t, b.SecondTruth(0).Edges)
	assert.ErrorContains(t, b.AddSecond(Change{At: 0.08}), "want one in the Config")
}

// Each tone is louder while the other set is open, and as it was when that has closed; an edge that takes some frames takes the other tone with it.
func TestCoupledSets(t *testing.T) {
	for _, smooth := range []bool{false, true} {
		c := both()
		c.BandLimited, c.Noise, c.Hum, c.Ticks, c.Leak = smooth, 0, Hum{}, Ticks{}, 0
		c.Changes = []Change{{At: 0.035}, {At: 0.07, Closed: true}}
		plain, err := New(c)
		require.NoError(t, err)
		x := drain(t, plain)
		c.Second.Coupling = [2]complex128{0.1, 0.2i}
		coupled, err := New(c)
		require.NoError(t, err)
		y := drain(t, coupled)
		one, two := newVoice(c, plain.tone.start), newVoice(c.second(), plain.second.tone.start)
		for n := range x {
			at := float64(n) / float64(c.SampleRate)
			first, second := one.level.at(int64(n)), two.level.at(int64(n))
			a, b := one.sound(int64(n), 0.1*first), two.sound(int64(n), 0.2i*second)
			want := 0.0
			if at > 0.02 && at < 0.05 {
				want += a
			}
			if at > 0.035 && at < 0.07 {
				want += b
			}
			if min(math.Abs(at-0.02), math.Abs(at-0.05), math.Abs(at-0.035), math.Abs(at-0.07)) < 0.001 {
				require.LessOrEqual(t, math.Abs(float64(y[n]-x[n])), 0.11, "no more than the coupling of both, frame %d", n)
				continue
			}
			// Rounding to float32, twice.
			require.InDelta(t, want, float64(y[n])-float64(x[n]), 3e-7, "frame %d, smooth %v", n, smooth)
		}
	}
}

func TestSecondSetIsValidated(t *testing.T) {
	for _, z := range []complex128{1, -1, 0.8 + 0.8i, cmplx.NaN(), cmplx.Inf()} {
		for i := range 2 {
			c := both()
			c.Second.Coupling[i] = z
			_, err := New(c)
			assert.ErrorContains(t, err, "coupling of the two sets")
		}
	}
	c := both()
	c.Second.Tone = 0
	_, err := New(c)
	assert.ErrorContains(t, err, "tone")
	assert.ErrorContains(t, err, "of the second set")
}

func drain(t *testing.T, b *Bench) []float32 {
	x := make([]float32, b.Format().Frames)
	n, err := b.Read(x)
	require.NoError(t, err)
	require.Len(t, x, n)
	_, err = b.Read(x[:1])
	require.ErrorIs(t, err, io.EOF)
	return x
}
