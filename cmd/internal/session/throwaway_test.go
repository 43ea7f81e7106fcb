package session

import (
	"testing"

	"breakcue/timing/logbook"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestThrowAwayWritesOnceAndOnlyWhatIsNew(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	var entries []logbook.Data
	j := journalFunc(func(d logbook.Data) (logbook.Entry, error) {
		entries = append(entries, d)
		return logbook.Entry{Seq: int64(len(entries)), Data: d}, nil
	})
	rec, err := NewRecorder(j, s.Setup, logbook.Take{Take: 1}, openings(3), nil)
	require.NoError(t, err)
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	for _, text := range []string{"about two", "2.03/1.98"} {
		_, err = rec.Reading(Typed{Text: text, Place: place})
		require.NoError(t, err)
		if text == "about two" {
			rec.Again()
		}
	}
	assert.Equal(t, 2, rec.Waiting())
	read := int64(len(entries))
	throw := func(opening int64) (ThrownApproach, []logbook.Data) {
		from := len(entries)
		a, err := rec.ThrowAway(opening, place, "why", "who")
		require.NoError(t, err)
		return a, entries[from:]
	}

	a, wrote := throw(1)
	assert.True(t, a.Read)
	require.Len(t, wrote, 1)
	amend := wrote[0].(logbook.Amend)
	assert.Equal(t, read, amend.Seq, "the one of the two that was used")
	assert.Equal(t, "unusable", amend.Field)
	assert.Equal(t, "why", amend.Why)
	assert.Equal(t, "who", amend.Who)

	a, wrote = throw(3)
	assert.False(t, a.Read)
	require.Len(t, wrote, 1)
	assert.Equal(t, logbook.Reading{Text: "-", Cylinder: "left", Phase: logbook.AsFound, Take: 1, Opening: 3, Unusable: noReading}, wrote[0])
	next, n, of, ok := rec.Next()
	require.True(t, ok, "the one before goes on waiting")
	assert.Equal(t, int64(2), next.ID)
	assert.Equal(t, 2, n)
	assert.Equal(t, 3, of)

	for _, again := range []int64{1, 3, 9} {
		_, wrote = throw(again)
		assert.Empty(t, wrote, "opening %d", again)
		assert.Equal(t, again != 9, rec.Thrown(again))
	}
	assert.False(t, rec.Thrown(2))
}
