package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// By hand: each gap is known to 0.02 mm, so the difference of two lies within 0.04 mm · (1 - sqrt(0.05)) = 0.031056 mm (95 % of a triangle).
// Times 1 to 3 degrees of cam for 0.05 mm (common practice).
func TestGapShift(t *testing.T) {
	crank, err := NewCrank(54, 110, 0)
	require.NoError(t, err)
	const mark = 20
	for _, c := range []struct {
		name        string
		ratio       float64
		found, left Length
		crank       [2]Angle
		words       string
	}{
		{"narrower", 1, 0.42, 0.35, [2]Angle{-0.101056 / 0.05 * 3, -0.038944 / 0.05}, "opens the points about 0.78° to 6.1° of crank later (0.15 mm to 1.03 mm of travel)"},
		{"wider, cam at half speed", 0.5, 0.35, 0.42, [2]Angle{2 * 0.038944 / 0.05, 2 * 0.101056 / 0.05 * 3}, "opens the points about 1.6° to 12.1° of crank earlier (0.32 mm to 3.06 mm of travel)"},
		{"within what feelers tell", 1, 0.36, 0.35, [2]Angle{-0.041056 / 0.05 * 3, 0.021056 / 0.05 * 3},
			"moves the timing by less than the feelers can tell, between about 2.5° of crank later and 1.3° earlier (0.46 mm and 0.26 mm of travel)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := Breaker{CamRatio: c.ratio, Cam: Clockwise, Gap: 0.35, Sets: 1}
			s, err := b.GapShift(crank, mark, c.found, c.left)
			require.NoError(t, err)
			assert.InDelta(t, float64(c.left-c.found), float64(s.Change), 1e-12, "rounding only")
			at, err := crank.Travel(mark)
			require.NoError(t, err)
			for i := range s.Crank {
				assert.InDelta(t, float64(c.crank[i]), float64(s.Crank[i]), 2e-4, "the figures by hand have six decimals")
				opens, err := crank.Travel(mark + s.Crank[i])
				require.NoError(t, err)
				assert.InDelta(t, float64(opens-at), float64(s.Travel[i]), 1e-12, "rounding only")
			}
			assert.Equal(t, c.words, s.Words())
		})
	}
}

func TestGapShiftRefuses(t *testing.T) {
	crank, err := NewCrank(54, 110, 0)
	require.NoError(t, err)
	b := Breaker{CamRatio: 1, Cam: Clockwise, Gap: 0.35, Sets: 1}
	_, err = b.GapShift(crank, 20, Length(math.NaN()), 0.35)
	assert.EqualError(t, err, "timing: gap, got NaN mm, want a finite length")
	_, err = b.GapShift(crank, 20, 0.85, 0.35)
	assert.ErrorContains(t, err, "change of the gap, got -0.5 mm, want one after which the points still open before top dead centre")
	_, err = b.GapShift(Crank{}, 20, 0.4, 0.35)
	assert.Error(t, err)
}

// A wider gap never opens the points later than a narrower one; back and forth is the same way.
func TestPropertyGapShift(t *testing.T) {
	crank, err := NewCrank(86, 143, 0)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		b := Breaker{CamRatio: rapid.SampledFrom([]float64{0.5, 1}).Draw(t, "ratio"), Cam: Clockwise, Gap: 0.4, Sets: 1}
		gap := rapid.Float64Range(0, 2)
		found, left := Length(gap.Draw(t, "found")), Length(gap.Draw(t, "left"))
		s, err := b.GapShift(crank, 30, found, left)
		if err != nil {
			return
		}
		require.LessOrEqual(t, s.Crank[0], s.Crank[1])
		require.LessOrEqual(t, s.Travel[0], s.Travel[1])
		if back, err := b.GapShift(crank, 30, left, found); err == nil {
			require.InDelta(t, -float64(s.Crank[1]), float64(back.Crank[0]), 1e-9, "rounding only")
		}
	})
}
