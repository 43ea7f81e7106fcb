package detect

import (
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
