package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestNeeded(t *testing.T) {
	s := setup(t, NewDial(10))
	needed := func(texts ...string) (int, bool) { return s.Needed(evaluate(t, s, readings(t, s, texts...))[0]) }

	more, ok := needed("2.02/2.00", "2.01/1.99", "2.02/1.98")
	assert.True(t, ok)
	assert.Zero(t, more, "settled")
	more, ok = needed("2.02/2.00")
	assert.True(t, ok)
	assert.Equal(t, 1, more, "one pass never proves conformity, a second like it does")
	_, ok = needed("2.11/2.09", "2.10/2.10")
	assert.False(t, ok, "at the very end of the tolerance no number of passes tells")
	_, ok = s.Needed(Result{})
	assert.False(t, ok, "nothing was measured")

	coarse := NewDial(10)
	coarse.MaxError = 0.3 // mm
	s = setup(t, coarse)
	_, ok = needed("2.02/2.00", "2.01/1.99")
	assert.False(t, ok, "the dial alone is too uncertain")
}

// What is said to be enough is enough, and one fewer is not: with so many more passes that keep mean and scatter.
func TestNeededIsTheFewest(t *testing.T) {
	s := setup(t, NewDial(10))
	rapid.Check(t, func(t *rapid.T) {
		off := Length(rapid.IntRange(-12, 12).Draw(t, "error")) / 100
		apart := Length(rapid.IntRange(0, 6).Draw(t, "apart")) / 100
		r, err := s.Evaluate([][]Reading{{
			{LastClosed: 2.01 + off + apart, FirstOpen: 1.99 + off + apart, Bracket: true},
			{LastClosed: 2.01 + off - apart, FirstOpen: 1.99 + off - apart, Bracket: true},
		}})
		assert.NoError(t, err)
		more, ok := s.Needed(r[0])
		if !ok || more == 0 {
			return
		}
		verdict := func(more int) Verdict {
			e := newEstimate(r[0].Error.Value, r[0].evidence.budget(s.Dial, 2+more, r[0].evidence.df+float64(more)), 2+more)
			return Decide(e, s.Target.Low, s.Target.High)
		}
		assert.NotEqual(t, CannotTell, verdict(more))
		assert.Equal(t, CannotTell, verdict(more-1))
	})
}
