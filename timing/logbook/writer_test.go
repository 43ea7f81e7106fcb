package logbook

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// badDisk is a journal file on a disk that fails when it is told to.
type badDisk struct {
	*os.File
	room           int // bytes that the next writes take; negative: all
	syncs          []error
	cannotTruncate error
}

var errNoRoom = errors.New("no space left on device")

func (d *badDisk) Write(b []byte) (int, error) {
	if d.room < 0 || len(b) <= d.room {
		return d.File.Write(b)
	}
	n, err := d.File.Write(b[:d.room])
	return n, errors.Join(errNoRoom, err)
}

func (d *badDisk) Sync() error {
	if len(d.syncs) == 0 {
		return d.File.Sync()
	}
	err := d.syncs[0]
	d.syncs = d.syncs[1:]
	return err
}

func (d *badDisk) Truncate(size int64) error {
	if d.cannotTruncate != nil {
		return d.cannotTruncate
	}
	return d.File.Truncate(size)
}

// texts returns the readings that a reader finds, and how many lines are damaged.
func texts(t *testing.T, dir string) (found []string, damaged int) {
	t.Helper()
	j, err := Read(dir)
	require.NoError(t, err)
	for _, e := range j.Entries {
		if r, ok := e.Data.(Reading); ok {
			found = append(found, r.Text)
		}
	}
	for _, f := range Check(j) {
		assert.False(t, f.Note, f.What) // no number is missing
	}
	return found, len(j.Damaged)
}

// What Append says is not in the log no reader finds, whole or half; when there is room again the next entry goes in.
func TestAnEntryThatFailsIsTakenBack(t *testing.T) {
	line, err := encode(Entry{Seq: 3, Time: clock()(), Data: Reading{Text: "2.03", Cylinder: "left", Phase: AsFound}})
	require.NoError(t, err)
	for name, bad := range map[string]badDisk{
		"no room":                {room: 0},
		"room for half":          {room: len(line) / 2},
		"all but the newline":    {room: len(line) - 1},
		"written, not on disk":   {room: -1, syncs: []error{errNoRoom}},
		"the name must cut it":   {room: 20, cannotTruncate: os.ErrPermission},
		"cut by name, unwritten": {room: -1, syncs: []error{errNoRoom}, cannotTruncate: os.ErrPermission},
	} {
		t.Run(name, func(t *testing.T) {
			w := create(t, t.TempDir(), "twin")
			_, err := w.Append(Reading{Text: "1.98", Cylinder: "left", Phase: AsFound})
			require.NoError(t, err)
			bad.File = w.f.(*os.File)
			w.f = &bad
			for range 2 {
				_, err = w.Append(Reading{Text: "2.03", Cylinder: "left", Phase: AsFound})
				if bad.room >= 0 {
					require.ErrorIs(t, err, errNoRoom)
				}
				if err != nil {
					assert.NotContains(t, err.Error(), "nevertheless")
				}
				if err == nil {
					break // the disk failed once
				}
				found, damaged := texts(t, w.Dir())
				assert.Equal(t, []string{"1.98"}, found)
				assert.Zero(t, damaged)
			}
			bad.room = -1
			e, err := w.Append(Reading{Text: "2.05", Cylinder: "left", Phase: AsFound})
			require.NoError(t, err)
			found, damaged := texts(t, w.Dir())
			assert.Equal(t, "2.05", found[len(found)-1])
			assert.Zero(t, damaged)
			assert.Equal(t, int64(len(found)+1), e.Seq, "an entry that is not there takes no number")
		})
	}
}

// Entries that belong together are written all, or none of them.
func TestEntriesThatBelongTogether(t *testing.T) {
	w := create(t, t.TempDir(), "twin")
	one, two := Reading{Text: "2.03", Cylinder: "left", Phase: AsFound}, Reading{Text: "2.05", Cylinder: "left", Phase: AsFound}
	first, err := encode(Entry{Seq: 2, Time: clock()(), Data: one})
	require.NoError(t, err)
	bad := &badDisk{File: w.f.(*os.File), room: len(first) + 40}
	w.f = bad
	_, err = w.AppendAll(one, two)
	require.ErrorIs(t, err, errNoRoom)
	found, damaged := texts(t, w.Dir())
	assert.Empty(t, found)
	assert.Zero(t, damaged)
	bad.room = -1
	e, err := w.AppendAll(one, two)
	require.NoError(t, err)
	require.Len(t, e, 2)
	assert.Equal(t, []int64{2, 3}, []int64{e[0].Seq, e[1].Seq})
	found, damaged = texts(t, w.Dir())
	assert.Equal(t, []string{"2.03", "2.05"}, found)
	assert.Zero(t, damaged)
}

// Where nothing can be taken back, that is said, and what comes after is sound.
func TestAnEntryThatCannotBeTakenBack(t *testing.T) {
	for name, bad := range map[string]badDisk{
		"half":  {room: 30, syncs: []error{os.ErrInvalid}},
		"whole": {room: -1, syncs: []error{errNoRoom, os.ErrInvalid}},
	} {
		t.Run(name, func(t *testing.T) {
			w := create(t, t.TempDir(), "twin")
			bad.File = w.f.(*os.File)
			w.f = &bad
			_, err := w.Append(Reading{Text: "2.03", Cylinder: "left", Phase: AsFound})
			require.ErrorIs(t, err, errNoRoom)
			require.ErrorIs(t, err, os.ErrInvalid)
			require.ErrorContains(t, err, "it may be in the file nevertheless, whole or in part, as entry 2")
			bad.room = -1
			e, err := w.Append(Reading{Text: "2.05", Cylinder: "left", Phase: AsFound})
			require.NoError(t, err)
			assert.Equal(t, int64(3), e.Seq, "its number may be taken")
			j, err := Read(w.Dir())
			require.NoError(t, err)
			assert.Empty(t, j.Damaged)
			assert.Equal(t, e.Data, j.Entries[len(j.Entries)-1].Data)
		})
	}
}

// A half line of before, as a power cut leaves it, stays apart from what is taken back.
func TestTakingBackLeavesWhatWasThere(t *testing.T) {
	w := create(t, t.TempDir(), "twin")
	require.NoError(t, w.Close())
	path := filepath.Join(w.Dir(), FileName)
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
	require.NoError(t, err)
	_, err = f.WriteString(`{"half`)
	require.NoError(t, errors.Join(err, f.Close()))
	was, err := os.ReadFile(path)
	require.NoError(t, err)

	w, err = OpenAppend(w.Dir(), clock())
	require.NoError(t, err)
	defer func() { require.NoError(t, w.Close()) }()
	bad := &badDisk{File: w.f.(*os.File), room: 10}
	w.f = bad
	_, err = w.Append(Reading{Text: "2.03", Cylinder: "left", Phase: AsFound})
	require.ErrorIs(t, err, errNoRoom)
	is, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(was), string(is))
	bad.room = -1
	_, err = w.Append(Reading{Text: "2.05", Cylinder: "left", Phase: AsFound})
	require.NoError(t, err)
	j, err := Read(w.Dir())
	require.NoError(t, err)
	require.Len(t, j.Damaged, 1)
	assert.Len(t, j.Entries, 2)
}
