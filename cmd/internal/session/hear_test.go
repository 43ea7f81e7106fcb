package session

import (
	"testing"

	"breakcue/timing/logbook"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Sound that still comes in leads to the same entries and the same pairing as a recording heard as a whole.
func TestHearingOneByOneIsHearingTheWhole(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	heard := openings(5)
	heard[6].TimeS = heard[5].TimeS + 0.1 // the fourth opening, soon after a closing: chatter of the third
	take := logbook.Take{Take: 2, ApproachS: 0.3}
	record := func(whole bool) (entries []logbook.Data, pairs []int64) {
		j := journalFunc(func(d logbook.Data) (logbook.Entry, error) {
			entries = append(entries, d)
			return logbook.Entry{}, nil
		})
		first := heard
		if !whole {
			first = nil
		}
		rec, err := NewRecorder(j, s.Setup, take, first, nil)
		require.NoError(t, err)
		if !whole {
			for _, c := range heard {
				require.NoError(t, rec.Hear(c))
			}
		}
		for range 4 {
			a, _, _, ok := rec.Next()
			require.True(t, ok)
			pairs = append(pairs, a.ID)
			_, err := rec.Reading(Typed{Text: "2.0", Place: logbook.Place{Cylinder: "left", Phase: logbook.AsFound}})
			require.NoError(t, err)
		}
		_, _, _, ok := rec.Next()
		assert.False(t, ok)
		return entries, pairs
	}
	entries, pairs := record(true)
	gotEntries, gotPairs := record(false)
	assert.Equal(t, entries, gotEntries)
	assert.Equal(t, pairs, gotPairs)
	assert.Equal(t, []int64{1, 2, 3, 5}, pairs)

	rec, err := NewRecorder(&failing{1}, s.Setup, take, nil, nil)
	require.NoError(t, err)
	require.Error(t, rec.Hear(heard[0]))
	_, _, _, ok := rec.Next()
	assert.False(t, ok, "what is not written is not heard")
}
