package detect

import (
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The first opening is decided by a window of four hops, because the angle between the levels is not known yet. Wherever
// the opening falls in a hop, what the window saw of it must not spoil the level of closed points.
func TestFirstOpeningLeavesTheClosedLevelAlone(t *testing.T) {
	for _, open := range []float64{0.2, 0.206, 0.22, 0.3, 0.5} { // of the closed level
		for offset := range 24 { // frames of a hop
			s := basicSynth()
			s.open = cmplx.Rect(open*0.25, 1.37)
			first := 18881 + offset
			s.turns, s.n = []int{first, first + 6908, first + 18137, first + 26616}, first+30000
			_, ev, d, err := run(s.render(), s.fs, 4096, SurveyOptions{})
			require.NoError(t, err)
			require.NoError(t, d.Judge())
			assert.Equal(t, s.turns, near(frames(ev), s.turns), "open level %g, offset %d", open, offset)
			for _, e := range ev {
				assert.NotEqual(t, Withdrawn, e.Stage, "open level %g, offset %d", open, offset)
			}
		}
	}
}
