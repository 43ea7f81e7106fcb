package cli

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing/logbook"
)

// passesIn gives the passes of the first cylinder as found, in order, as a journal tells them.
func passesIn(t *testing.T, dir string) []session.Pass {
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	require.NotEmpty(t, r.Cylinders[0].Phases)
	assert.Empty(t, r.Unread)
	return r.Cylinders[0].Phases[0].Passes
}

// says asserts what a pass is about: its reading, the time of its opening [s] and why it is not used.
func says(t *testing.T, p session.Pass, reading string, at float64, unused string) {
	t.Helper()
	assert.Equal(t, reading, p.Reading)
	require.NotNil(t, p.Edge)
	assert.InDelta(t, at, p.Edge.TimeS, 1e-3) // far less than between openings
	assert.Equal(t, unused, p.Unused)
}

const (
	wasThrown = "its opening was thrown away"
	noneTaken = "no reading was taken"
)

func TestThrowingAnOpeningAwayTakesItsReadingOut(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 6
	s.typedAt(map[float64]string{
		1.6: "2.08/2.05", // of the first
		2.6: "2.31/2.28", // of the second
		2.8: "x",         // the second
		2.9: "x",         // the first
		3.6: "2.30/2.27", // of the third
		4.7: "x",         // the fourth
		5.7: "q",
	})
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitOK, code, s.errs.String())
	got := passesIn(t, dir)
	require.Len(t, got, 4)
	says(t, got[0], "2.08/2.05", 1, wasThrown)
	says(t, got[1], "2.31/2.28", 2, wasThrown)
	says(t, got[2], "2.30/2.27", 3, "")
	says(t, got[3], "-", 4, noneTaken)
	assert.Contains(t, s.out.String(), "opening 2 thrown away; its reading is kept, but not used\n")
	assert.Contains(t, s.out.String(), "opening 1 thrown away; its reading is kept, but not used\n")
	list, err := logbook.Read(dir)
	require.NoError(t, err)
	assert.Equal(t, 1, logbook.Summarize(list).Passes)
	// The openings that are left count from 1 on the screen: the third is the first.
	assert.Contains(t, s.out.String(), "  opening 2 thrown away\n", "the fourth")
}

func TestAReadingGoesPastAnOpeningThrownAway(t *testing.T) {
	s := newShop(t, fourTimes[:4]...)
	s.sound.Frames = 48000 * 4
	s.typedAt(map[float64]string{
		2.6: "x",         // the second, made while turning back
		2.8: "2.30/2.27", // of the first
		3.0: "2.31/2.28", // of none
		3.6: "q",
	})
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitOK, code, s.errs.String())
	got := passesIn(t, dir)
	require.Len(t, got, 3)
	says(t, got[0], "2.30/2.27", 1, "") // in the order of the openings, though it was typed later
	says(t, got[1], "-", 2, noneTaken)
	assert.Nil(t, got[2].Edge)
}

// Points that part slowly chatter: one reading is taken for all the openings, and they go together.
func TestAnApproachIsThrownAwayAsAWhole(t *testing.T) {
	s := newShop(t, bench.Change{At: 1}, bench.Change{At: 1.4, Closed: true},
		bench.Change{At: 2}, bench.Change{At: 2.1, Closed: true}, bench.Change{At: 2.25}, bench.Change{At: 2.6, Closed: true})
	s.typedAt(map[float64]string{1.6: "2.30/2.27", 2.9: "2.08/2.05", 3.1: "x", 3.3: "x", 3.5: "x", 3.8: "q"})
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitInconclusive, code, s.errs.String())
	got := passesIn(t, dir)
	require.Len(t, got, 2)
	says(t, got[0], "2.30/2.27", 1, wasThrown)
	says(t, got[1], "2.08/2.05", 2, wasThrown)
	assert.Equal(t, 2, got[1].Edge.Openings)
	assert.Contains(t, s.out.String(), "openings 2 to 3 thrown away, of one approach; its reading is kept, but not used\n")
	assert.Contains(t, s.out.String(), "opening 1 thrown away; its reading is kept, but not used\n")
	assert.Contains(t, s.out.String(), "there is no opening to throw away")
}

// A lead that fell off is no opening in the journal either: it takes no reading of a file, and one that was typed too soon is not used.
func TestAnOpeningThatDoesNotCountTakesNoReading(t *testing.T) {
	weaker := func(src audio.Source) audio.Source { return &halved{Source: src, at: 48000 * 325 / 100} } // while open the third time
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 5
	s.wrap = weaker
	code, dir := s.session(t, "--readings", "../../../testdata/sheets/readings.txt")
	require.Equal(t, ExitOK, code, s.errs.String())
	assert.Contains(t, s.out.String(), "opening 3 does not count")
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	var of []int64
	for _, e := range j.Entries {
		if d, ok := e.Data.(logbook.Reading); ok {
			of = append(of, d.Opening)
			assert.Equal(t, d.Opening == 3, d.Text == "-")
		}
	}
	assert.Equal(t, []int64{1, 2, 3, 4, 0}, of, "the fourth reading of the file has no opening left")

	s = newShop(t, fourTimes[:6]...)
	s.sound.Frames = 48000 * 5
	s.typedAt(map[float64]string{1.6: "2.30/2.27", 2.6: "2.31/2.28", 3.3: "2.08/2.05", 4.5: "q"})
	inner := s.wrap
	s.wrap = func(src audio.Source) audio.Source { return inner(weaker(src)) }
	code, dir = s.session(t, "--plain")
	require.Equal(t, ExitOK, code, s.errs.String())
	got := passesIn(t, dir)
	require.Len(t, got, 3)
	says(t, got[1], "2.31/2.28", 2, "")
	says(t, got[2], "2.08/2.05", 3, wasThrown)
	assert.Contains(t, s.out.String(), "opening 3 does not count: the tone came back 6 dB quieter; check the clips; its reading is kept, but not used\n")
}

func TestAnOpeningWhoseEndWasLostIsNoted(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 5
	s.wrap = func(src audio.Source) audio.Source {
		return audiotest.WithGaps(src, audio.GapError{At: 48000 * 35 / 10, Lost: 9600})
	}
	code, _ := s.session(t, "--readings", "../../../testdata/sheets/readings.txt")
	require.Equal(t, ExitOK, code, s.errs.String())
	assert.Contains(t, s.out.String(), "sound was lost when the points closed after opening 3")
	assert.NotContains(t, s.out.String(), "after opening 4")
}

// Between its decision and its settling an opening is on the screen already, but not in the journal.
func TestAnOpeningIsThrownAwayOnItsWayToTheJournal(t *testing.T) {
	sheets, err := session.LoadSheets("../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	w, err := logbook.Create(t.TempDir(), "test", sheets.Begin("test"), time.Now)
	require.NoError(t, err)
	rec, err := session.NewRecorder(w, sheets.Setup, logbook.Take{Take: 1, ApproachS: 0.3}, nil, nil)
	require.NoError(t, err)
	f, err := pump.NewFollower(audio.Format{SampleRate: 48000, Channels: 1}, pump.FollowOptions{Tone: 1000})
	require.NoError(t, err)
	s := &liveSession{
		sheets: sheets, typist: session.NewTypist(sheets.Engine.Cylinders), journal: w, rec: rec, count: session.Counter{Rate: 48000},
		run: &liveRun{hear: &hearing{follower: oneSet{f}, out: &views{}, now: time.Now, rate: 48000}},
	}
	event := func(id int64, kind detect.Kind, stage detect.Stage, at int64) {
		e := detect.Event{ID: id, Kind: kind, Stage: stage, Frame: at, LastFrame: at, Before: 1, After: 0.5}
		if kind == detect.KindClose {
			e.Before, e.After = e.After, e.Before
		}
		s.run.hear.event(e)
		require.NoError(t, s.event(e))
	}
	event(4, detect.KindOpen, detect.Decided, 48000)
	require.NoError(t, s.throwAway())
	assert.Equal(t, 1, s.run.hear.view.Thrown)
	assert.Zero(t, s.run.hear.view.Number)
	event(4, detect.KindOpen, detect.Settled, 48000)
	_, _, of, ok := rec.Next()
	assert.Equal(t, 1, of)
	assert.False(t, ok, "nothing is awaited")
	event(5, detect.KindClose, detect.Settled, 50000)
	event(6, detect.KindOpen, detect.Decided, 52000) // chatter of the same approach
	event(6, detect.KindOpen, detect.Settled, 52000)
	_, _, _, ok = rec.Next()
	assert.False(t, ok)
	assert.Equal(t, 2, s.run.hear.view.Thrown)
	assert.Zero(t, s.run.hear.view.Number, "it is off the screen as well")
	require.NoError(t, w.Close())
	got := passesIn(t, w.Dir())
	require.Len(t, got, 1)
	says(t, got[0], "-", 1, noneTaken)
}
