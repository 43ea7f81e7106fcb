package bench

import (
	"io"
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

func TestSecondSetIsValidated(t *testing.T) {
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
