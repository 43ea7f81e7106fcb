package session

import (
	"errors"
	"testing"

	"breakcue/timing/logbook"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowDisk is a journal that writes an entry each time it is let.
type slowDisk struct {
	let     chan struct{}
	entries []logbook.Data
	broken  map[int]error // by the number of the entry, from 1
}

func (s *slowDisk) Append(d logbook.Data) (logbook.Entry, error) {
	<-s.let
	s.entries = append(s.entries, d)
	return logbook.Entry{Seq: int64(len(s.entries)), Data: d}, s.broken[len(s.entries)]
}

func opening(id int64) logbook.Opening { return logbook.Opening{Edge: logbook.Edge{ID: id}} }
func closing(id int64) logbook.Closing { return logbook.Closing{Edge: logbook.Edge{ID: id}} }

func TestAQueueHoldsUpNobodyAndKeepsTheOrder(t *testing.T) {
	disk := &slowDisk{let: make(chan struct{})}
	q := NewQueue(disk)
	for _, d := range []logbook.Data{opening(1), closing(1), opening(2), logbook.Caveat{Code: "why"}} { // the disk writes nothing: Append does not wait for it
		_, err := q.Append(d)
		require.NoError(t, err)
	}
	close(disk.let)
	e, err := q.Append(logbook.Reading{Text: "2.0"})
	require.NoError(t, err)
	assert.Equal(t, int64(5), e.Seq, "what must be known of a reading is known at once")
	want := []logbook.Data{opening(1), closing(1), opening(2), logbook.Caveat{Code: "why"}, logbook.Reading{Text: "2.0"}}
	assert.Equal(t, want, disk.entries)
	_, err = q.Append(closing(2))
	require.NoError(t, err)
	require.NoError(t, q.Wait())
	assert.Equal(t, append(want, closing(2)), disk.entries)
	_, err = q.Append(opening(3))
	require.NoError(t, err)
	require.NoError(t, q.Close())
	assert.Equal(t, append(want, closing(2), opening(3)), disk.entries)
}

func TestAQueueTellsEachErrorOnce(t *testing.T) {
	full, gone := errors.New("full"), errors.New("gone")
	disk := &slowDisk{let: make(chan struct{}), broken: map[int]error{1: full, 3: gone}}
	q := NewQueue(disk)
	_, err := q.Append(opening(1))
	require.NoError(t, err, "it is not known yet")
	close(disk.let)
	_, err = q.Append(logbook.Reading{Text: "2.0"})
	require.Equal(t, full, err, "of the opening")
	assert.Equal(t, []logbook.Data{opening(1)}, disk.entries, "a reading of which an error is told is not written")
	_, err = q.Append(logbook.Reading{Text: "2.1"})
	require.NoError(t, err)
	_, err = q.Append(logbook.Reading{Text: "2.2"})
	require.Equal(t, gone, err, "of the reading itself")
	require.NoError(t, q.Close())
	assert.Equal(t, []logbook.Data{opening(1), logbook.Reading{Text: "2.1"}, logbook.Reading{Text: "2.2"}}, disk.entries)

	disk = &slowDisk{let: make(chan struct{}), broken: map[int]error{1: gone}}
	q = NewQueue(disk)
	_, err = q.Append(opening(1))
	require.NoError(t, err)
	close(disk.let)
	require.ErrorIs(t, q.Close(), gone)
}
