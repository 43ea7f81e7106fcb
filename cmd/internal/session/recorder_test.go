package session

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// A reading that could not be written leaves its opening without one: typed again, it is still of this opening.
func TestAReadingThatFoundNoRoomIsAwaitedStill(t *testing.T) {
	sheets, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	p := &pad{}
	rec, err := NewRecorder(p, sheets.Setup, logbook.Take{Take: 1, ApproachS: 0.3}, nil, nil)
	require.NoError(t, err)
	for id := int64(1); id <= 3; id++ {
		require.NoError(t, rec.Hear(Change{Open: true, Edge: logbook.Edge{ID: id, TimeS: float64(id)}}))
	}
	reading := Typed{Text: "2.31/2.28", Place: logbook.Place{Cylinder: "left", Phase: logbook.AsFound}}
	_, err = rec.Reading(reading)
	require.NoError(t, err)
	p.full = true
	_, err = rec.Reading(reading)
	require.ErrorIs(t, err, assert.AnError)
	p.full = false
	_, err = rec.Reading(reading)
	require.NoError(t, err)
	assert.EqualValues(t, 2, p.entries[len(p.entries)-1].Data.(logbook.Reading).Opening)
	assert.Equal(t, 1, rec.Waiting())
}
