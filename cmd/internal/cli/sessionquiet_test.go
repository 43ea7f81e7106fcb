package cli

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing/logbook"
)

// quiet is a live session without sound: the test says what is heard and what is typed, one after the other.
type quiet struct {
	*liveSession
	t    *testing.T
	full bool // nothing more is written
}

// Append implements session.Journal.
func (q *quiet) Append(d logbook.Data) (logbook.Entry, error) {
	if q.full {
		return logbook.Entry{}, errors.New("no space left on device")
	}
	return q.journal.Append(d)
}

func newQuiet(t *testing.T) *quiet {
	sheets, err := session.LoadSheets("../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	f, err := pump.NewFollower(audio.Format{SampleRate: 48000, Channels: 1}, pump.FollowOptions{Tone: 1000})
	require.NoError(t, err)
	q := &quiet{t: t, liveSession: &liveSession{
		flags: &sessionFlags{}, sheets: sheets, typist: session.NewTypist(sheets.Engine.Cylinders), count: session.Counter{Rate: 48000},
		run: &liveRun{env: Env{InTTY: true}, rate: 48000, follower: oneSet{f}, hear: &hearing{follower: oneSet{f}, out: &views{}, now: time.Now, rate: 48000}},
	}}
	q.journal, err = logbook.Create(t.TempDir(), "test", sheets.Begin("test"), time.Now)
	require.NoError(t, err)
	q.queue = session.NewQueue(q)
	t.Cleanup(func() {
		_ = q.queue.Close()
		assert.NoError(t, q.journal.Close())
	})
	q.rec, err = session.NewRecorder(q.queue, sheets.Setup, logbook.Take{Take: 1, ApproachS: 0.3}, nil, nil)
	require.NoError(t, err)
	return q
}

// hears takes an event at one of its stages.
func (q *quiet) hears(id int64, kind detect.Kind, stage detect.Stage) error {
	e := detect.Event{ID: id, Kind: kind, Stage: stage, Frame: 24000 * id, LastFrame: 24000 * id, Before: 1, After: 0.5}
	if kind == detect.KindClose {
		e.Before, e.After = e.After, e.Before
	}
	q.run.hear.event(e)
	return q.event(e)
}

// opens hears opening 1, whole, and opening 2, which does not settle yet.
func (q *quiet) opens() {
	require.NoError(q.t, q.hears(1, detect.KindOpen, detect.Decided))
	require.NoError(q.t, q.hears(1, detect.KindOpen, detect.Settled))
	require.NoError(q.t, q.hears(2, detect.KindClose, detect.Settled))
	require.NoError(q.t, q.hears(3, detect.KindOpen, detect.Decided))
}

// leads leads through the steps, and goes to one of them.
func (q *quiet) leads(id string) {
	steps, err := session.Steps(q.sheets)
	require.NoError(q.t, err)
	require.NoError(q.t, q.lead(steps))
	ok, err := q.guide.GoTo(1 + slices.IndexFunc(steps, func(s session.Step) bool { return s.ID == id }))
	require.True(q.t, ok)
	require.NoError(q.t, err)
	require.NoError(q.t, q.arrive())
}

// readings are those in the journal, amendments applied.
func (q *quiet) readings() (out []logbook.Reading) {
	require.NoError(q.t, q.queue.Wait())
	j, err := logbook.Read(q.journal.Dir())
	require.NoError(q.t, err)
	entries, _ := j.Current()
	for _, e := range entries {
		if d, ok := e.Data.(logbook.Reading); ok {
			out = append(out, d)
		}
	}
	return out
}

// Typed for an opening that has not settled, which is then thrown away: the reading is of no other opening.
func TestAReadingThatWaitsGoesWithItsOpening(t *testing.T) {
	q := newQuiet(t)
	q.opens()
	require.NoError(t, q.line("2.31/2.28"))
	require.NoError(t, q.throwAway())
	require.NoError(t, q.tick())
	require.NoError(t, q.hears(3, detect.KindOpen, detect.Settled))
	at := logbook.Reading{Cylinder: "left", Phase: logbook.AsFound, Take: 1}
	none, thrown := at, at
	none.Text, none.Opening, none.Unusable = "-", 1, noneTaken
	thrown.Text, thrown.Opening, thrown.Unusable = "2.31/2.28", 2, wasThrown
	assert.Equal(t, []logbook.Reading{none, thrown}, q.readings())
	assert.Equal(t, "opening 2 thrown away; its reading is kept, but not used", q.run.hear.view.Note)

	q = newQuiet(t) // it ends before that
	q.opens()
	require.NoError(t, q.line("2.31/2.28"))
	require.NoError(t, q.throwAway())
	require.NoError(t, q.release(true))
	require.Len(t, q.readings(), 1)
	assert.Equal(t, "there is no opening 2", q.readings()[0].Unusable)
}

func TestAReadingTypedAnewWhileItWaits(t *testing.T) {
	q := newQuiet(t)
	q.opens()
	require.NoError(t, q.line("3.21/2.28")) // mistyped
	require.NoError(t, q.line("2.31/2.28"))
	require.NoError(t, q.hears(3, detect.KindOpen, detect.Settled))
	of := map[string]int64{}
	for _, r := range q.readings() {
		of[r.Text] = r.Opening
	}
	assert.Equal(t, map[string]int64{"3.21/2.28": 0, "-": 1, "2.31/2.28": 2}, of, "the opening before has neither")
}

func TestAReadingByNumberWaitsForItsOpening(t *testing.T) {
	q := newQuiet(t)
	q.opens()
	require.NoError(t, q.line("2*2.31/2.28"))
	assert.Equal(t, "2.31/2.28 is taken as soon as the opening has settled", q.run.hear.view.Note)
	assert.Empty(t, q.readings())
	require.NoError(t, q.hears(3, detect.KindOpen, detect.Settled))
	require.NoError(t, q.line("3*2.33/2.30"))
	var got []logbook.Reading
	for _, r := range q.readings() {
		got = append(got, logbook.Reading{Text: r.Text, Opening: r.Opening, Unusable: r.Unusable})
	}
	assert.Equal(t, []logbook.Reading{
		{Text: "2.31/2.28", Opening: 2}, {Text: "2.33/2.30", Unusable: "there is no opening 3"},
	}, got)
}

func TestTheQuestionForAReading(t *testing.T) {
	const asks = "Dial reading, left, as found"
	q := newQuiet(t)
	require.NoError(t, q.line("2.31/"))
	assert.Equal(t, "2.31/; first open? left, as found", q.run.hear.view.Prompt)
	require.NoError(t, q.line("2.28"))
	assert.Equal(t, asks, q.run.hear.view.Prompt, "the half waits no more, though there was no opening")

	q = newQuiet(t)
	q.leads("make_safe")
	for _, line := range []string{"2.31/2.28", "2.31/", "1*2.31/2.28", "# left as_found"} {
		require.NoError(t, q.line(line))
		assert.Empty(t, q.run.hear.view.Prompt, "%s: nothing is asked for at this step", line)
	}
	q.leads("gap_found")
	require.NoError(t, q.line("# left as_found"))
	assert.Equal(t, "Gap of set 1, cylinder left, as found, in mm", q.run.hear.view.Prompt)
}

// Whatever is done next tells that an opening is not in the journal, be it something that writes nothing.
func TestAnOpeningThatCouldNotBeWrittenEndsTheSession(t *testing.T) {
	q := newQuiet(t)
	q.leads("measure/left/as_found")
	q.full = true
	require.NoError(t, q.hears(1, detect.KindOpen, detect.Decided))
	err := q.hears(1, detect.KindOpen, detect.Settled)
	for _, key := range []string{"*", "5"} {
		if err == nil {
			_, err = q.command(key)
		}
	}
	assert.EqualError(t, err, "no space left on device")
}

func TestAFinishedSessionStaysFinishedWhenItIsLookedAt(t *testing.T) {
	q := newQuiet(t)
	steps, err := session.Steps(q.sheets)
	require.NoError(t, err)
	q.before = resumed{dir: q.journal.Dir(), entries: []logbook.Entry{{Data: logbook.Step{Step: steps[len(steps)-1].ID, State: logbook.StepDone}}}}
	require.NoError(t, q.lead(steps))
	var out, errs strings.Builder
	err = q.finish(Env{Out: &out, Err: &errs}, true, nil)
	assert.ErrorIs(t, err, errNoResult, "nothing was measured here")
	assert.NotContains(t, errs.String(), "left at step")
	j, err := logbook.Read(q.journal.Dir())
	require.NoError(t, err)
	assert.True(t, finished(j))
}

func TestReadingsFromAPipeThatFoundNoRoomAreTold(t *testing.T) {
	for from, want := range map[string]bool{"": true, standardInput: true, "readings.txt": false} {
		q := newQuiet(t)
		q.run.env.InTTY, q.flags.readings = false, from
		require.NoError(t, q.line("2.28/2.25"))
		require.NoError(t, q.line("2.31/2.28"))
		q.full = true
		var errs strings.Builder
		require.Error(t, q.finish(Env{Err: &errs}, true, nil))
		assert.Equal(t, want, strings.Contains(errs.String(), "# left as_found\n2.28/2.25\n2.31/2.28\n"), from)
	}
}

// Whoever is sent away by a full disk is told what is off the engine, even where the very reading could not be written.
func TestWhatIsOffTheEngineIsToldThoughTheDiskIsFull(t *testing.T) {
	q := newQuiet(t)
	q.leads("measure/left/as_found")
	q.opens()
	require.NoError(t, q.line("2.31/2.28"))
	q.full = true
	var errs strings.Builder
	err := q.finish(Env{Err: &errs}, true, nil)
	assert.ErrorContains(t, err, `reading "2.31/2.28" is not in the log`)
	assert.Contains(t, errs.String(), "not ticked as put back yet:\n  [ ] ")
	assert.Contains(t, errs.String(), "go on with: breakcue session --resume")
}

// What was measured is told at its step alone.
func TestAResultIsLeftBehindWithItsStep(t *testing.T) {
	q := newQuiet(t)
	q.leads("measure/left/as_found")
	q.guide.Read()
	q.opens()
	require.NoError(t, q.hears(3, detect.KindOpen, detect.Settled))
	require.NoError(t, q.line("2.31/2.28"))
	v := &q.run.hear.view
	assert.NotEmpty(t, v.Result)
	assert.Contains(t, v.Advice, "2.31/2.28 (1 pass): ")
	for _, key := range []string{"*", "1"} {
		_, err := q.command(key)
		require.NoError(t, err)
	}
	assert.Empty(t, v.Result)
	assert.NotContains(t, v.Advice, "pass")
}

// A letter that takes two bytes is a key as any other.
func TestALetterIsNoLine(t *testing.T) {
	q := newQuiet(t)
	q.leads("make_safe")
	for _, r := range "xü€" {
		require.NoError(t, q.key(cue.Key{Rune: r}))
		assert.Empty(t, q.run.hear.view.Typed, string(r))
	}
	assert.Equal(t, "Enter ticks and goes on; * shows what else can be done", q.run.hear.view.Note)
}

func TestAReadingIsKeptWhileAChoiceIsAsked(t *testing.T) {
	q := newQuiet(t)
	q.leads("measure/left/as_found")
	q.guide.Read()
	q.opens()
	require.NoError(t, q.hears(3, detect.KindOpen, detect.Settled))
	require.NoError(t, q.line("*"))
	require.NoError(t, q.line("2.31/2.28"))
	got := q.readings()
	require.Len(t, got, 2)
	assert.EqualValues(t, 2, got[1].Opening)
	assert.Equal(t, "Dial reading, left, as found", q.run.hear.view.Prompt)
	require.NoError(t, q.line("*"))
	require.NoError(t, q.line("0"))
	assert.Equal(t, `there is no "0" here`, q.run.hear.view.Note)
	assert.Len(t, q.readings(), 2)
}
