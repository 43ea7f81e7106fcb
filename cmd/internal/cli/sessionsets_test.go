package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing/logbook"
)

// deafFollower hears nothing: the test says what is known of each set of points.
type deafFollower struct {
	pump.Hearer
	frame  int64
	state  [3]detect.State
	health [3]pump.Health
}

func (f *deafFollower) Frame() int64                   { return f.frame }
func (f *deafFollower) State(set int) detect.State     { return f.state[set] }
func (f *deafFollower) Health(set int) pump.Health     { return f.health[set] }
func (f *deafFollower) EdgeModel(int) detect.EdgeModel { return detect.Gate }
func (f *deafFollower) Times() int                     { return 1 }
func (f *deafFollower) Guard() (guard, error)          { return nil, nil }

// quietTwo is a live session without sound that follows both sets of points.
type quietTwo struct {
	*quiet
	f  *deafFollower
	id int64
}

func newQuietTwo(t *testing.T) *quietTwo {
	q := &quietTwo{quiet: newQuiet(t), f: &deafFollower{}}
	q.sheets.AtOnce = true
	q.rec.BySet(q.sheets.SetOf)
	q.run.follower, q.run.hear.follower = q.f, q.f
	q.run.hear.wiring = detect.Series
	q.run.hear.both("left", "right")
	require.NoError(t, q.takeInHand())
	return q
}

// tells lets an event of a set be heard at one of its stages; 0 is a new one.
func (q *quietTwo) tells(set int, id int64, kind detect.Kind, stage detect.Stage) int64 {
	q.f.frame += 4800
	if id == 0 {
		q.id++
		id = q.id
	}
	e := detect.Event{ID: id, Set: set, Kind: kind, Stage: stage, Frame: 24000 * id, LastFrame: 24000 * id, Before: 1, After: 0}
	q.f.state[set] = detect.Open
	if kind == detect.KindClose {
		e.Before, e.After = e.After, e.Before
		q.f.state[set] = detect.Closed
	}
	q.run.hear.event(e)
	require.NoError(q.t, q.event(e))
	return id
}

// opens lets a set of points open, whole, and closes lets them close.
func (q *quietTwo) opens(set int) int64 {
	id := q.tells(set, 0, detect.KindOpen, detect.Decided)
	return q.tells(set, id, detect.KindOpen, detect.Settled)
}

func (q *quietTwo) closes(set int) {
	id := q.tells(set, 0, detect.KindClose, detect.Decided)
	q.tells(set, id, detect.KindClose, detect.Settled)
}

func (q *quietTwo) reads(text string) { require.NoError(q.t, q.line(text)) }

func (q *quietTwo) report() session.Report {
	require.NoError(q.t, q.queue.Wait())
	j, err := logbook.Read(q.journal.Dir())
	require.NoError(q.t, err)
	assert.Empty(q.t, logbook.Check(j))
	r, err := session.FromJournal(j)
	require.NoError(q.t, err)
	return r
}

// passes are the openings of the passes of a cylinder, as found; those not used are negative.
func (q *quietTwo) passes(cylinder string) (ids []int64) {
	ph, _ := q.report().Phase(logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound})
	for _, p := range ph.Passes {
		id := int64(0)
		if p.Edge != nil {
			id = p.Edge.ID
		}
		if p.Unused != "" {
			id = -id
		}
		ids = append(ids, id)
	}
	return ids
}

// What opens of the points that are not measured is on the screen and in the journal; it takes no reading, and no reading away.
func TestOpeningsOfTheOtherSetAreNoPasses(t *testing.T) {
	q := newQuietTwo(t)
	h := q.run.hear
	q.opens(1)
	assert.Equal(t, cue.Points{Name: "left", State: cue.Open, Number: 1, OpenedAt: h.view.Sets[0].OpenedAt, Provisional: true}, h.view.Sets[0])
	assert.Equal(t, 1, h.view.Hand)
	q.opens(2)
	assert.Equal(t, 2, h.view.Sets[1].Number)
	assert.Equal(t, 1, h.view.Sets[0].Number, "the number of the one at hand stays")
	assert.False(t, h.view.Sets[1].Provisional, "it never counts, so nothing is awaited")
	q.reads("2.20/2.14")
	result := h.view.Result
	assert.NotEmpty(t, result)
	q.closes(2)
	q.opens(2)
	assert.Equal(t, result, h.view.Result, "the result stays where the other points open")
	q.closes(1)
	q.reads("2.1")
	assert.Contains(t, h.view.Note, "there is no new opening")
	q.closes(2)
	q.reads("# right as_found")
	assert.Equal(t, 2, h.view.Hand)
	q.reads("2.1")
	assert.Contains(t, h.view.Note, "there is no new opening", "it opened before it was measured")
	q.opens(2)
	q.opens(1)
	q.reads("2.03/1.98")
	assert.Equal(t, []int64{1}, q.passes("left")[:1])
	assert.Equal(t, int64(4), q.passes("right")[len(q.passes("right"))-1])
	var other []int64
	for _, e := range q.report().Other {
		other = append(other, e.ID)
	}
	assert.Equal(t, []int64{2, 3, 5}, other)
	assert.Empty(t, q.report().Unread)
}

// The number on the screen is that in the log, whichever opening settles first, and though one before it was none.
func TestNumbersOfTwoSetsAreThoseOfTheLog(t *testing.T) {
	q := newQuietTwo(t)
	one := q.tells(1, 0, detect.KindOpen, detect.Decided)
	two := q.tells(2, 0, detect.KindOpen, detect.Decided)
	q.tells(2, two, detect.KindOpen, detect.Settled)
	three := q.tells(1, 0, detect.KindOpen, detect.Decided)
	assert.Equal(t, [2]int{3, 2}, [2]int{q.run.hear.view.Sets[0].Number, q.run.hear.view.Sets[1].Number})
	q.tells(1, one, detect.KindOpen, detect.Withdrawn)
	q.tells(1, three, detect.KindOpen, detect.Settled)
	assert.Equal(t, [2]int{3, 2}, [2]int{q.run.hear.view.Sets[0].Number, q.run.hear.view.Sets[1].Number}, "what is in the log keeps its number")
	q.reads("3*2.03/1.98")
	assert.Equal(t, []int64{3}, q.passes("left"))
	q.reads("1*2.1")
	assert.Contains(t, q.run.hear.view.Note, "there is no opening 1")
	q.reads("2*2.1")
	assert.Contains(t, q.run.hear.view.Note, "opening 2 is of set 2 of the points, cylinder left has set 1")
}

// What is thrown away is the newest of the points at hand, and nothing of the others.
func TestThrowingAwayLeavesTheOtherSetAlone(t *testing.T) {
	q := newQuietTwo(t)
	h := q.run.hear
	q.opens(1)
	q.closes(1)
	q.opens(2)
	q.closes(2)
	q.reads("x")
	assert.Equal(t, "opening 1 thrown away", h.view.Note)
	assert.Equal(t, [2]int{1, 0}, [2]int{h.view.Sets[0].Thrown, h.view.Sets[1].Thrown})
	assert.Equal(t, [2]int{0, 2}, [2]int{h.view.Sets[0].Number, h.view.Sets[1].Number})
	q.reads("x")
	assert.Equal(t, "there is no opening to throw away", h.view.Note)
	assert.Equal(t, []int64{-1}, q.passes("left"))
	assert.Empty(t, q.passes("right"))
}

// Whether an opening counts is known for each set by its own closing: that of the other set, or its level, says nothing.
func TestEachSetIsDoubtedByItself(t *testing.T) {
	q := newQuietTwo(t)
	h := q.run.hear
	h.hand = 0
	q.opens(1)
	q.opens(2)
	q.closes(2)
	assert.Equal(t, [2]bool{true, false}, [2]bool{h.view.Sets[0].Provisional, h.view.Sets[1].Provisional})
	// The tone of the first comes back at half its level, and stays there.
	e := detect.Event{ID: 99, Set: 1, Kind: detect.KindClose, Stage: detect.Decided, Frame: 24000 * 99, LastFrame: 24000 * 99, Before: 0, After: 0.5}
	q.f.state[1], q.f.health[1].Levels.Closed = detect.Closed, 0.5
	h.event(e)
	e.Stage = detect.Settled
	h.event(e)
	require.NoError(t, q.event(e))
	q.f.frame += 48000
	h.tick()
	require.NoError(t, q.tick())
	assert.Equal(t, "opening 1 does not count: the tone came back 6 dB quieter; check the clips", h.view.Note)
	assert.Equal(t, [2]int{0, 2}, [2]int{h.view.Sets[0].Number, h.view.Sets[1].Number})
	q.f.state[2] = detect.Lost
	h.health()
	h.refresh()
	assert.Equal(t, "right: what comes back fits neither state: check the clips", h.view.Warning)
	assert.Equal(t, [2]cue.State{cue.Closed, cue.Lost}, [2]cue.State{h.view.Sets[0].State, h.view.Sets[1].State})
}

// A gap of which both detectors tell is one.
func TestAGapIsToldOnce(t *testing.T) {
	q := newQuietTwo(t)
	for set := 1; set <= 2; set++ {
		q.run.hear.event(detect.Event{Set: set, Kind: detect.KindFault, Cause: detect.CauseGap, Stage: detect.Settled, Frame: 100, LastFrame: 200})
	}
	assert.Equal(t, 1, q.run.hear.gaps)
	q.run.hear.event(detect.Event{Set: 2, Kind: detect.KindFault, Cause: detect.CauseGap, Stage: detect.Settled, Frame: 300, LastFrame: 400})
	assert.Equal(t, 2, q.run.hear.gaps)
}

// A reading that waits for its opening goes there, though the next step is about the other points by then.
func TestAReadingThatWaitsKeepsItsSet(t *testing.T) {
	q := newQuietTwo(t)
	id := q.tells(1, 0, detect.KindOpen, detect.Decided)
	q.reads("2.20/2.14")
	assert.Contains(t, q.run.hear.view.Note, "is taken as soon as the opening has settled")
	q.reads("# right as_found")
	q.tells(1, id, detect.KindOpen, detect.Settled)
	assert.Equal(t, []int64{1}, q.passes("left"))
}

// What the sets are called on the screen.
func TestSetNames(t *testing.T) {
	of := func(names ...string) session.Sheets {
		s := sampleSheets(t, "twin", "dial")
		s.Engine.Cylinders = names
		return s
	}
	assert.Equal(t, [2]string{"left", "right"}, setNames(sampleSheets(t, "twin", "dial")))
	assert.Equal(t, [2]string{"set 1", "set 2"}, setNames(of("1", "2")))
	assert.Equal(t, [2]string{"set 1", "hind"}, setNames(of("the front one of all", "hind")))
}
