package session

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/detect"
	"breakcue/timing/logbook"
)

// change gives an opening or closing at a time [s] of a recording of 1000 frames/s.
func change(open bool, id int64, set int, at float64) Change {
	return Change{Open: open, Edge: logbook.Edge{ID: id, Set: set, Frame: int64(at * 1000), TimeS: at, Uncertainty: 1e-5}}
}

// chattering is two approaches: one of three openings with the points closed for 40 and 70 ms in between, and after 2 s
// one of a single opening.
func chattering() []Change {
	c := []Change{
		change(false, 1, 0, 0.5), change(true, 1, 0, 1),
		change(false, 2, 0, 1.06), change(true, 2, 0, 1.10),
		change(false, 3, 0, 1.2), change(true, 3, 0, 1.27),
		change(false, 4, 0, 2), change(true, 4, 0, 4),
	}
	c[1].Before, c[1].After = logbook.Level{I: 0.5}, logbook.Level{I: 0.1}
	c[3].Reclosures, c[3].SettleS = 2, 0.01
	c[4].Reclosures, c[4].SettleS = 1, 0.005
	c[5].Reclosures, c[5].SettleS, c[5].After = 3, 0.02, logbook.Level{I: 0.01}
	return c
}

func TestApproaches(t *testing.T) {
	for _, tc := range []struct {
		within float64
		want   []int // openings of each approach
	}{
		{0, []int{1, 1, 1, 1}},
		{-1, []int{1, 1, 1, 1}},
		{0.03, []int{1, 1, 1, 1}},
		{0.05, []int{2, 1, 1}},
		{0.3, []int{3, 1}},
		{2.1, []int{4}},
	} {
		var got []int
		for _, a := range Approaches(chattering(), tc.within) {
			got = append(got, len(a.Openings))
		}
		assert.Equal(t, tc.want, got, "within %v s", tc.within)
	}

	a := Approaches(chattering(), 0.3)
	assert.Equal(t, int64(1), a[0].ID)
	assert.Equal(t, 1.0, a[0].TimeS, "the first break")
	assert.Equal(t, 8, a[0].Reclosures, "three closings of the second opening and before it, five of the third")
	assert.InDelta(t, 0.29, a[0].SettleS, 1e-9, "to the last break, 1.29 s; rounding only")
	assert.Equal(t, logbook.Level{I: 0.5}, a[0].Before)
	assert.Equal(t, logbook.Level{I: 0.01}, a[0].After)
	assert.Zero(t, a[0].ClosedS, "nothing came before")
	assert.Equal(t, 2.0, a[1].ClosedS)
	assert.Equal(t, chattering()[5].Edge, a[0].Openings[2], "as heard")
	assert.Empty(t, Approaches(nil, 0.3))
	assert.Empty(t, Approaches([]Change{change(false, 1, 0, 1)}, 0.3))
}

// A damaged journal may have lost a closing: then only the time between the openings tells.
func TestApproachesWithoutTheClosing(t *testing.T) {
	near := []Change{change(true, 1, 0, 1), change(true, 2, 0, 1.25)}
	a := Approaches(near, 0.3)
	require.Len(t, a, 1)
	assert.Equal(t, 1, a[0].Reclosures, "they closed once at least")
	assert.Len(t, Approaches([]Change{change(true, 1, 0, 1), change(true, 2, 0, 1.35)}, 0.3), 2, "closed for up to 0.35 s")
}

func TestApproachesOfTwoSets(t *testing.T) {
	c := []Change{
		change(true, 1, 1, 1), change(true, 2, 2, 1.01), change(false, 1, 1, 1.02), change(true, 3, 1, 1.05),
		change(false, 2, 2, 2), change(true, 4, 2, 2.1), change(false, 3, 1, 2.5),
	}
	var ids [][]int64
	for _, a := range Approaches(c, 0.3) {
		var of []int64
		for _, o := range a.Openings {
			of = append(of, o.ID)
		}
		ids = append(ids, of)
	}
	assert.Equal(t, [][]int64{{1, 3}, {2, 4}}, ids, "each set by itself")
}

// However long the gaps: every opening is in one approach, in order, none across sets; each approach but the first of its
// set begins after a closing at least as long as asked for; and as more is heard only the newest of a set grows.
func TestApproachesKeepEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var changes []Change
		var openings []logbook.Edge
		at, open := 0.0, map[int]bool{}
		for i := range rapid.IntRange(0, 30).Draw(t, "changes") {
			at += float64(rapid.IntRange(1, 400).Draw(t, "ms")) / 1000
			set := rapid.IntRange(1, 2).Draw(t, "set")
			open[set] = !open[set]
			c := change(open[set], int64(i+1), set, at)
			changes = append(changes, c)
			if c.Open {
				openings = append(openings, c.Edge)
			}
		}
		within := rapid.Float64Range(0, 0.5).Draw(t, "within")
		approaches := Approaches(changes, within)
		var kept []logbook.Edge
		seen := map[int]bool{}
		for _, a := range approaches {
			assert.Equal(t, a.Frame, a.Openings[0].Frame)
			assert.InDelta(t, a.Openings[len(a.Openings)-1].TimeS, a.TimeS+a.SettleS, 1e-9, "no bounce here; rounding only")
			assert.Equal(t, len(a.Openings)-1, a.Reclosures)
			for _, o := range a.Openings {
				assert.Equal(t, a.Set, o.Set)
			}
			assert.True(t, !seen[a.Set] || a.ClosedS >= within)
			seen[a.Set] = true
			kept = append(kept, a.Openings...)
		}
		slices.SortFunc(kept, func(x, y logbook.Edge) int { return int(x.ID - y.ID) })
		assert.Equal(t, openings, kept)

		before := Approaches(changes[:max(0, len(changes)-1)], within)
		require.GreaterOrEqual(t, len(approaches), len(before))
		for i, a := range before {
			assert.Equal(t, a.ID, approaches[i].ID)
		}
	})
}

func TestChanges(t *testing.T) {
	event := func(kind detect.Kind, stage detect.Stage, set int, frame int64) detect.Event {
		return detect.Event{ID: 9, Kind: kind, Stage: stage, Set: set, Frame: frame, Frac: 0.5, Uncertainty: 2, Reclosures: 1, LastFrame: frame + 10, Before: 1 + 2i, After: 3i}
	}
	got := Changes([]detect.Event{
		event(detect.KindOpen, detect.Decided, 0, 100), event(detect.KindOpen, detect.Settled, 1, 100), event(detect.KindFault, detect.Settled, 1, 120),
		event(detect.KindOpen, detect.Settled, 2, 200), event(detect.KindClose, detect.Settled, 1, 300), event(detect.KindOpen, detect.Withdrawn, 1, 400),
	}, 1000)
	require.Len(t, got, 3)
	assert.Equal(t, Change{Open: true, Edge: logbook.Edge{ID: 1, Set: 1, Frame: 100, Frac: 0.5, TimeS: 0.1005, Uncertainty: 0.002, Reclosures: 1,
		SettleS: 0.01, Before: logbook.Level{I: 1, Q: 2}, After: logbook.Level{Q: 3}}}, got[0])
	assert.Equal(t, int64(2), got[1].ID)
	assert.False(t, got[2].Open)
	assert.Equal(t, int64(1), got[2].ID, "closings count by themselves")
}

// recordedChatter writes a session of the chattering openings with approaches of 300 ms, or without.
func recordedChatter(t testing.TB, approachS float64, lines string) (dir string) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	w, err := logbook.Create(t.TempDir(), "test", s.Begin("test"), clock)
	require.NoError(t, err)
	rec, err := NewRecorder(w, s.Setup, logbook.Take{Take: 1, File: "x.wav", ApproachS: approachS}, chattering(), nil)
	require.NoError(t, err)
	assert.Equal(t, approachS == 0, rec.Chatter() != "")
	typed, _, err := ReadTyped("readings", strings.NewReader(lines), s.Engine.Cylinders)
	require.NoError(t, err)
	for _, r := range typed {
		_, err := rec.Reading(r)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return w.Dir()
}

func TestOneReadingForEachApproach(t *testing.T) {
	const two = "# left as_found\n2.20/2.14\n2.18/2.15\n"
	dir := recordedChatter(t, 0.3, two)
	r := reported(t, dir)
	assert.Empty(t, r.Unread)
	passes := r.Cylinders[0].Phases[0].Passes
	require.Len(t, passes, 2)
	assert.Equal(t, Edge{Kind: "open", Take: 1, ID: 1, Sample: 1000, TimeS: 1, Uncertainty: 1e-5, Reclosures: 8, SettleS: passes[0].Edge.SettleS, Openings: 3}, *passes[0].Edge)
	assert.Equal(t, 4.0, passes[1].Edge.TimeS)
	assert.Equal(t, 1, passes[1].Edge.Openings)
	var b bytes.Buffer
	require.NoError(t, r.Print(&b, false))
	assert.Contains(t, b.String(), "8 in 3 openings")

	j, err := logbook.Read(dir)
	require.NoError(t, err)
	kinds := map[string]int{}
	for _, e := range j.Entries {
		kinds[e.Data.Kind()]++
	}
	assert.Equal(t, 4, kinds["opening"], "all that was heard is kept")
	assert.Equal(t, 4, kinds["closing"])

	r = reported(t, recordedChatter(t, 0, two))
	require.Len(t, r.Unread, 2)
	last := r.Caveats[len(r.Caveats)-1]
	assert.Equal(t, "opening_without_reading", last.Code)
	assert.Contains(t, last.Message, "2 openings came less than 0.3 s after the points had closed")
	assert.Contains(t, last.Message, "--approach 300ms")

	dir, _, _ = recorded(t, 3, "2.03/1.98\n")
	assert.NotContains(t, reported(t, dir).Caveats[2].Message, "--approach", "half a second apart")
}

// The number of readings says whether openings that come close together are one approach.
func TestApproachFor(t *testing.T) {
	heard := chattering()
	for readings, want := range map[int]float64{0: 0, 1: 0, 2: 0.3, 3: 0, 4: 0, 5: 0} {
		within, said := ApproachFor(heard, readings)
		assert.Equal(t, want, within, "%d readings", readings)
		assert.Equal(t, want > 0, len(said) == 1)
	}
	_, said := ApproachFor(heard, 2)
	assert.Contains(t, said[0].Message, "4 openings and 2 readings")
	within, said := ApproachToAsk(heard)
	assert.Equal(t, 0.3, within)
	assert.Contains(t, said[0].Message, "4 openings: openings less than 0.3 s")
	within, said = ApproachToAsk(heard[:2])
	assert.Zero(t, within)
	assert.Empty(t, said)
}

// The grouping can be corrected like everything else in the journal; readings stay with the openings that they were typed for.
func TestApproachAmended(t *testing.T) {
	dir := recordedChatter(t, 0, "# left as_found\n2.20/2.14\n2.19/2.15\n-\n2.18/2.15\n")
	w, err := logbook.OpenAppend(dir, clock)
	require.NoError(t, err)
	_, err = w.Append(logbook.Amend{Seq: 2, Field: "approach_s", From: json.RawMessage(`0`), To: json.RawMessage(`0.3`), Why: "points part slowly", Who: "test"})
	require.NoError(t, err)
	require.NoError(t, w.Close())
	left := reported(t, dir).Cylinders[0].Phases[0]
	require.Len(t, left.Passes, 4)
	assert.Equal(t, 2, left.N)
	assert.Equal(t, left.Passes[0].Edge, left.Passes[1].Edge)
	assert.Contains(t, left.Passes[1].Unused, "another reading belongs to the same")
	assert.Equal(t, int64(4), left.Passes[3].Edge.ID)
}

// A damaged line costs what it said and never the pairing of the readings with the openings still there.
func TestApproachesOfADamagedJournal(t *testing.T) {
	dir := recordedChatter(t, 0.3, "# left as_found\n2.20/2.14\n2.18/2.15\n")
	data, err := os.ReadFile(filepath.Join(dir, logbook.FileName))
	require.NoError(t, err)
	lines := bytes.SplitAfter(data, []byte("\n"))
	for i := 1; i < 10; i++ { // the take and what was heard
		broken := slices.Concat(bytes.Join(lines[:i], nil), []byte("{\n"), bytes.Join(lines[i+1:], nil))
		j, err := logbook.Parse(bytes.NewReader(broken))
		require.NoError(t, err)
		r, err := FromJournal(j)
		require.NoError(t, err)
		for _, p := range r.Cylinders[0].Phases[0].Passes {
			if p.Edge != nil {
				assert.Contains(t, []float64{1, 4}, p.Edge.TimeS, "line %d", i+1)
			}
		}
	}
}
