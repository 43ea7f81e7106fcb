package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// JIS B 7503:2011, read in a catalogue's table.
func TestDefaultAccuracy(t *testing.T) {
	for rng, want := range map[Length]Accuracy{
		0.8: {0.008, 0.003, 0.003}, 1: {0.008, 0.003, 0.003}, 3: {0.010, 0.003, 0.003}, 5: {0.012, 0.003, 0.003},
		5.01: {0.015, 0.003, 0.003}, 10: {0.015, 0.003, 0.003}, 12.7: {0.025, 0.005, 0.004}, 20: {0.025, 0.005, 0.004},
	} {
		got, known := DefaultAccuracy(rng)
		assert.Equal(t, want, got, "range %g mm", rng)
		assert.True(t, known)
	}
	_, known := DefaultAccuracy(25)
	assert.False(t, known, "the table ends at 20 mm")
}

// JIS B 7503:2011, read in a catalogue's table: any 1/10, any 1/2, any revolution, whole range.
func TestErrorWithin(t *testing.T) {
	for rng, want := range map[Length][4]Length{
		1: {0.005, 0.008, 0.008, 0.008}, 3: {0.005, 0.008, 0.009, 0.010}, 5: {0.005, 0.009, 0.010, 0.012},
		10: {0.005, 0.009, 0.010, 0.015}, 20: {0.008, 0.010, 0.015, 0.025},
	} {
		d := NewDial(rng)
		for i, span := range []Length{0.1, 0.5, 1, 1.01} {
			assert.InDelta(t, float64(want[i]), float64(d.ErrorWithin(span)), 1e-15, "range %g mm, %g mm apart; rounding only", rng, span)
			assert.Equal(t, d.ErrorWithin(span), d.ErrorWithin(-span))
		}
		a, b := Length(2.08), Length(1.98)
		assert.Equal(t, d.ErrorWithin(0.1), d.ErrorWithin(a-b), "a tenth of a revolution, rounded")
		assert.Zero(t, d.ErrorWithin(0))
	}
	d := NewDial(10)
	d.MaxError = 0.030
	assert.InDelta(t, 0.010, float64(d.ErrorWithin(0.05)), 1e-15, "a dial half as good: in proportion")
	d.Local = [3]Length{0.012, 0, 0.016}
	require.NoError(t, d.Validate())
	assert.Equal(t, Length(0.012), d.ErrorWithin(0.05), "its own limit")
	assert.Equal(t, Length(0.016), d.ErrorWithin(0.3), "in proportion 0.018, but no more than within a revolution")
	assert.Equal(t, Length(0.030), d.ErrorWithin(3))
	inch := Dial{Unit: Inch, Graduation: ThouLength, PerRevolution: 100 * ThouLength, Range: 12.7, MaxError: 0.025}
	assert.InDelta(t, 0.008, float64(inch.ErrorWithin(0.25)), 1e-15, "a tenth of its revolution")
}

func TestErrorWithinNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NewDial(Length(rapid.Float64Range(0.5, 40).Draw(t, "range")))
		d.MaxError = Length(rapid.Float64Range(0, 0.05).Draw(t, "limit"))
		for i := range d.Local {
			if rapid.Bool().Draw(t, "known") {
				d.Local[i] = Length(rapid.Float64Range(0, 0.05).Draw(t, "local"))
			}
		}
		if d.Validate() != nil {
			return
		}
		last := Length(0)
		for _, span := range []Length{0, 0.05, 0.1, 0.3, 0.5, 0.7, 1, 3} {
			limit := d.ErrorWithin(span)
			assert.GreaterOrEqual(t, limit, last)
			assert.LessOrEqual(t, limit, d.MaxError)
			last = limit
		}
	})
}
