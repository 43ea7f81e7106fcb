package session

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// ofSets gives one opening a second, each of the set named, closed again half a second later.
func ofSets(sets ...int) []Change {
	var out []Change
	for i, set := range sets {
		at := float64(i + 1)
		out = append(out,
			Change{Open: true, Edge: logbook.Edge{ID: int64(i + 1), Set: set, Frame: int64(48000 * at), TimeS: at, Uncertainty: 1e-5}},
			Change{Edge: logbook.Edge{ID: int64(i + 1), Set: set, Frame: int64(48000*at + 24000), TimeS: at + 0.5, Uncertainty: 1e-5}})
	}
	return out
}

// readOpenings are the openings of the passes of a place, 0 for a pass without one; those not used are negative.
func readOpenings(r Report, cylinder string) (out []int64) {
	ph, _ := r.Phase(logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound})
	for _, p := range ph.Passes {
		id := int64(0)
		if p.Edge != nil {
			id = p.Edge.ID
		}
		if p.Unused != "" {
			id = -id
		}
		out = append(out, id)
	}
	return out
}

func bySet(t *testing.T, heard []Change) (Sheets, *Recorder, *logbook.Writer) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	w, err := logbook.Create(t.TempDir(), "test", s.Begin("test"), clock)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, w.Close()) })
	rec, err := NewRecorder(w, s.Setup, logbook.Take{Take: 1, File: "x.wav"}, heard, nil)
	require.NoError(t, err)
	rec.BySet(s.SetOf)
	return s, rec, w
}

// In a recording a reading goes to the next opening of the points that serve its cylinder, whatever opened in between.
func TestAReadingGoesToItsSet(t *testing.T) {
	s, rec, w := bySet(t, ofSets(2, 1, 2, 1, 1, 2))
	typed, _, err := ReadTyped("r", strings.NewReader("# left as_found\n2.20/2.14\n-\n# right as_found\n2.03/1.98\n2.02/1.99\n# left as_found\n2.21/2.16\n3*2.01/1.97\n"), s.Engine.Cylinders)
	require.NoError(t, err)
	for i, one := range typed {
		unusable, err := rec.Reading(one)
		require.NoError(t, err)
		switch i {
		case 1:
			assert.Equal(t, NoReading, unusable)
		case 5:
			assert.Empty(t, unusable, "what has been read keeps its place")
		default:
			assert.Empty(t, unusable)
		}
	}
	rec.At(logbook.Place{Cylinder: "left", Phase: logbook.AsFound})
	assert.Zero(t, rec.Waiting())
	_, _, _, ok := rec.Next()
	assert.False(t, ok, "the left points have no opening left")
	rec.At(logbook.Place{Cylinder: "right", Phase: logbook.AsFound})
	a, n, of, ok := rec.Next()
	require.True(t, ok)
	assert.Equal(t, []int64{6, 6, 6}, []int64{a.ID, int64(n), int64(of)})
	unusable, err := rec.Reading(numberedTyped(Typed{Text: "6*2.2", Place: logbook.Place{Cylinder: "left", Phase: logbook.AsFound}}))
	require.NoError(t, err)
	assert.Equal(t, "opening 6 is of set 2 of the points, cylinder left has set 1", unusable)
	r := reported(t, w.Dir())
	assert.Equal(t, []int64{2, -4, 5, 0}, readOpenings(r, "left"))
	assert.Equal(t, []int64{1, -3, 3}, readOpenings(r, "right"), "one was replaced by its number")
	require.Len(t, r.Unread, 1)
	assert.EqualValues(t, 6, r.Unread[0].ID)
	assert.Empty(t, r.Other)
}

// Live, what opens while the other points are at hand is kept with its set, and awaits no reading, then or later.
func TestTheOtherSetAwaitsNothing(t *testing.T) {
	s, rec, w := bySet(t, nil)
	heard := ofSets(1, 2, 2, 1, 2, 2, 1)
	hear := func(from, to int) {
		for _, c := range heard[2*(from-1) : 2*to] {
			require.NoError(t, rec.Hear(c))
		}
	}
	left, right := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, logbook.Place{Cylinder: "right", Phase: logbook.AsFound}
	require.NoError(t, rec.Hand(left))
	hear(1, 4)
	assert.Equal(t, 2, rec.Waiting(), "openings 1 and 4")
	require.NoError(t, rec.PassOver(left))
	read := func(text string, at logbook.Place) {
		unusable, err := rec.Reading(Typed{Text: text, Place: at})
		require.NoError(t, err)
		require.Empty(t, unusable)
	}
	read("2.20/2.14", left)
	require.NoError(t, rec.Hand(right))
	assert.Zero(t, rec.Waiting(), "2 and 3 were no passes")
	hear(5, 7)
	read("2.03/1.98", right)

	schema := reportSchema(t)
	r := reported(t, w.Dir())
	require.NoError(t, schema.Validate(asJSON(t, r)))
	assert.Equal(t, []int64{-1, 4}, readOpenings(r, "left"))
	assert.Equal(t, []int64{5}, readOpenings(r, "right"))
	require.Len(t, r.Unread, 1)
	assert.EqualValues(t, 6, r.Unread[0].ID, "of the points at hand")
	var other, sets []int64
	for _, e := range r.Other {
		other, sets = append(other, e.ID), append(sets, int64(e.Set))
	}
	assert.Equal(t, []int64{2, 3, 7}, other)
	assert.Equal(t, []int64{2, 2, 1}, sets)
	var text strings.Builder
	require.NoError(t, r.Print(&text, false))
	assert.Contains(t, strings.Join(strings.Fields(text.String()), " "), "3 openings of the other set of points while one was measured: kept in the journal, no pass.")

	j, err := logbook.Read(w.Dir())
	require.NoError(t, err)
	c, err := NewCorrector(j)
	require.NoError(t, err)
	var awaiting []int64
	for _, spot := range c.Awaiting() {
		awaiting = append(awaiting, spot.ID)
	}
	assert.Equal(t, []int64{6}, awaiting)
	_, err = c.Give(0, 3, &left, "2.1")
	assert.ErrorContains(t, err, "opening 3 is of set 2 of the points, cylinder left has set 1")
	_, err = c.Give(0, 3, &right, "2.1")
	assert.NoError(t, err)
	assert.Empty(t, logbook.Check(j))
	assert.Equal(t, []int{1, 2, 0}, []int{s.SetOf("left"), s.SetOf("right"), s.SetOf("middle")})
}

// An opening whose reading names it though the other points were at hand is used.
func TestAReadingByNumberOfTheOtherSet(t *testing.T) {
	_, rec, w := bySet(t, nil)
	left, right := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, logbook.Place{Cylinder: "right", Phase: logbook.AsFound}
	require.NoError(t, rec.Hand(left))
	for _, c := range ofSets(1, 2) {
		require.NoError(t, rec.Hear(c))
	}
	require.NoError(t, rec.Hand(right))
	unusable, err := rec.ReadingOf(2, Typed{Text: "2.03/1.98", Place: right})
	require.NoError(t, err)
	assert.Empty(t, unusable)
	r := reported(t, w.Dir())
	assert.Equal(t, []int64{2}, readOpenings(r, "right"))
	assert.Empty(t, r.Other)
}

// With both sets on the cable at once nothing is clipped over from one to the other; all other steps, and their names, are the same.
func TestStepsWithBothSetsAtOnce(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	one, err := Steps(s)
	require.NoError(t, err)
	s.AtOnce = true
	both, err := Steps(s)
	require.NoError(t, err)
	var want, got []string
	for _, st := range one {
		if !strings.HasPrefix(st.ID, clipPrefix) {
			want = append(want, st.ID)
		}
	}
	for _, st := range both {
		got = append(got, st.ID)
		for _, do := range st.Do {
			if strings.Contains(do, "clip the cable on") {
				t.Errorf("%s: %s", st.ID, do)
			}
		}
	}
	assert.Equal(t, want, got)
	assert.Less(t, len(both), len(one))
	all := strings.Join(both[slices.IndexFunc(both, func(st Step) bool { return st.ID == SetStep })].Do, "\n")
	assert.Contains(t, all, "both sets are on the screen: this is the side of cylinder left")
	cable := both[slices.IndexFunc(both, func(st Step) bool { return st.ID == CableStep })]
	assert.Contains(t, strings.Join(cable.Do, "\n"), "the lead that the left output plays goes on the points of cylinder left (set 1, base plate)")

	w, err := logbook.Create(t.TempDir(), "test", s.Begin("test"), clock)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, w.Close()) })
	for i, sets := range []int{0, 2} {
		_, err = w.Append(logbook.Take{Take: i + 1, Sets: sets})
		require.NoError(t, err)
		j, err := logbook.Read(w.Dir())
		require.NoError(t, err)
		is, err := SheetsOf(j)
		require.NoError(t, err)
		assert.Equal(t, sets == 2, is.AtOnce, "as the newest take was made")
	}
}
