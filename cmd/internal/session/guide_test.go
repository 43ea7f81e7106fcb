package session

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/timing/logbook"
)

// pad is a journal in memory.
type pad struct {
	entries []logbook.Entry
	full    bool // nothing more is taken
}

func (p *pad) Append(d logbook.Data) (logbook.Entry, error) {
	if p.full {
		return logbook.Entry{}, assert.AnError
	}
	e := logbook.Entry{Seq: int64(len(p.entries) + 1), Data: d}
	p.entries = append(p.entries, e)
	return e, nil
}

// shortJob is a short job with every kind of work.
func shortJob() []Step {
	left := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	return []Step{
		{ID: "make_safe", Work: ByList, Care: []string{"live points"}, Do: []string{"switch off", "lead off"}, Refit: []string{"lead on"},
			still: []check{{aboutSafety, "is the lead off?"}, {aboutFuel, "is the fuel off?"}}},
		{ID: "cable", Work: ByWatch, Do: []string{"clip it on"}, Refit: []string{"cable off"}},
		{ID: "tdc/left/as_found", Work: ByList, Do: []string{"dial in"}, Place: left},
		{ID: "measure/left/as_found", Work: ByRead, Do: []string{"turn back", "come forward"}, Place: left},
		{ID: "put_together", Work: ByTick, Do: []string{"cable off", "lead on"},
			still: []check{{aboutSafety, ""}, {aboutFuel, ""}}},
		{ID: "start", Work: ByList, Do: []string{"fuel on"}},
	}
}

// where is the ID of the step at hand and the text of the item at hand.
func where(g *Guide) string {
	st, _, _ := g.Step()
	at, read := g.Item()
	if read {
		return st.ID
	}
	return st.ID + ": " + g.Items()[at].Text
}

func begun(t *testing.T) (*Guide, *pad) {
	p := &pad{}
	g := NewGuide(p, shortJob())
	require.NoError(t, g.Start())
	return g, p
}

func TestGuideFromFirstToLast(t *testing.T) {
	g, p := begun(t)
	for _, want := range []string{
		"make_safe: live points", "make_safe: switch off", "make_safe: lead off", "cable: clip it on", "tdc/left/as_found: dial in",
		"measure/left/as_found: turn back", "measure/left/as_found: come forward", "measure/left/as_found", "measure/left/as_found",
	} {
		assert.Equal(t, want, where(g))
		require.NoError(t, g.Next())
	}
	ok, err := g.Finish()
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, []string{"cable off", "lead on"}, g.Open())
	for _, refused := range []func() (bool, error){g.Finish, g.Skip} {
		ok, err = refused()
		require.NoError(t, err)
		assert.False(t, ok, "not before each is ticked")
	}
	for _, want := range []string{"put_together: cable off", "put_together: lead on", "start: fuel on"} {
		assert.Equal(t, want, where(g))
		require.NoError(t, g.Next())
	}
	assert.True(t, g.Over())
	assert.Empty(t, g.Open())
	assert.Equal(t, logbook.Step{Step: "start", State: logbook.StepDone}, p.entries[len(p.entries)-1].Data)
	assert.NotContains(t, p.entries, logbook.Tick{Step: "make_safe", Item: "live points"}, "a caution is read, not done")
}

// What must be ticked is not jumped over: the engine would be started with the cable on.
func TestGuideDoesNotStartBeforeAllIsTicked(t *testing.T) {
	g, _ := begun(t)
	for range 2 {
		ok, err := g.GoTo(6)
		require.NoError(t, err)
		assert.True(t, ok)
		assert.Equal(t, "put_together: cable off", where(g))
	}
	require.NoError(t, g.Next())
	assert.Equal(t, "put_together: lead on", where(g))
	require.NoError(t, g.Next())
	assert.Equal(t, "start: fuel on", where(g))
	ok, err := g.GoTo(6)
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, "start: fuel on", where(g), "all is ticked")
	require.NoError(t, g.Next())
	assert.True(t, g.Over())
	for _, n := range []int{0, -1, 7} {
		ok, err := g.GoTo(n)
		require.NoError(t, err)
		assert.False(t, ok, "%d", n)
	}
}

func TestGuideGoesBack(t *testing.T) {
	g, _ := begun(t)
	require.NoError(t, g.Next())
	require.NoError(t, g.Next())
	assert.Equal(t, "make_safe: lead off", where(g))
	require.NoError(t, g.Undo())
	assert.Equal(t, "make_safe: switch off", where(g))
	assert.False(t, g.Items()[1].Ticked)
	require.NoError(t, g.Undo())
	require.NoError(t, g.Undo())
	assert.Equal(t, "make_safe: live points", where(g), "there is no step before the first")
	ok, err := g.Skip()
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, "cable: clip it on", where(g))
	require.NoError(t, g.Next())
	require.NoError(t, g.Undo())
	assert.Equal(t, "cable: clip it on", where(g))
	assert.False(t, g.Items()[0].Ticked, "done before, it is to be done anew")

	require.NoError(t, g.Next())
	require.NoError(t, g.Next())
	require.NoError(t, g.Next())
	g.Read()
	assert.Equal(t, "measure/left/as_found", where(g))
	require.NoError(t, g.Again())
	assert.Equal(t, "measure/left/as_found: turn back", where(g))
	assert.False(t, g.Items()[0].Ticked)
	ok, err = g.TurnOnce()
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, "tdc/left/as_found: dial in", where(g), "the other turn has a TDC of its own")
	require.NoError(t, g.Back())
	require.NoError(t, g.Back())
	ok, err = g.TurnOnce()
	require.NoError(t, err)
	assert.False(t, ok, "of no cylinder")
}

// What was put back may have been taken off again.
func TestGuideForgetsWhatWasPutBackOnceItGoesBack(t *testing.T) {
	g, _ := begun(t)
	goTo := func(n int) {
		_, err := g.GoTo(n)
		require.NoError(t, err)
	}
	goTo(5)
	require.NoError(t, g.Next())
	require.NoError(t, g.Next())
	assert.Equal(t, "start: fuel on", where(g))
	assert.Empty(t, g.Open())
	goTo(4)
	assert.Equal(t, []string{"cable off", "lead on"}, g.Open())
	goTo(6)
	assert.Equal(t, "put_together: cable off", where(g), "not over")
}

// Somebody who leaves is told of what was taken off, and not of the rest.
func TestGuideKnowsWhatMayBeOff(t *testing.T) {
	g := NewGuide(&pad{}, shortJob())
	assert.Empty(t, g.Off(), "nothing was begun")
	require.NoError(t, g.Start())
	assert.Equal(t, []string{"lead on"}, g.Off())
	_, err := g.Skip()
	require.NoError(t, err)
	assert.Equal(t, []string{"cable off", "lead on"}, g.Off(), "skipped: somebody else may have taken it off")
	_, err = g.GoTo(5)
	require.NoError(t, err)
	require.NoError(t, g.Next())
	assert.Equal(t, []string{"lead on"}, g.Off())
	h := NewGuide(&pad{}, shortJob())
	_, err = h.GoTo(4)
	require.NoError(t, err)
	assert.Equal(t, []string{"cable off", "lead on"}, h.Off(), "jumped over: who measures has the cable on")
	h = NewGuide(&pad{}, shortJob())
	_, err = h.GoTo(5)
	require.NoError(t, err)
	assert.Equal(t, []string{"cable off", "lead on"}, h.Off(), "all that the list says, once it is begun")
}

// What is known only when a step begins is added to it, once, however often it begins.
func TestGuidePreparesAStep(t *testing.T) {
	g, _ := begun(t)
	g.Prepare = func(st *Step) {
		if st.ID == "cable" {
			st.Do = append(st.Do, "look")
		}
	}
	for range 3 {
		_, err := g.GoTo(2)
		require.NoError(t, err)
		require.NoError(t, g.Again())
		assert.Len(t, g.Items(), 2)
	}
	assert.Equal(t, []string{"clip it on"}, shortJob()[1].Do)
}

// What is not in the journal has not happened.
func TestGuideStaysWhereTheJournalIsFull(t *testing.T) {
	g, p := begun(t)
	require.NoError(t, g.Next())
	p.full = true
	at, n := where(g), len(p.entries)
	finish := func() error { _, err := g.Finish(); return err }
	skip := func() error { _, err := g.Skip(); return err }
	for _, do := range []func() error{g.Next, finish, skip, g.Back, g.Again} {
		require.Error(t, do())
		assert.Equal(t, at, where(g))
		assert.Len(t, p.entries, n)
		assert.False(t, g.Items()[1].Ticked)
	}
	p.full = false
	require.NoError(t, g.Next())
	assert.Equal(t, "make_safe: lead off", where(g))
}

// Interrupted after any moves, a guide that is resumed stands where the first one stood, with the same ticks.
func TestGuideResumes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &pad{}
		g := NewGuide(p, shortJob())
		require.NoError(t, g.Start())
		for range rapid.IntRange(0, 40).Draw(t, "moves") {
			var err error
			switch rapid.SampledFrom([]string{"next", "next", "next", "undo", "finish", "skip", "back", "again", "goto", "turn"}).Draw(t, "move") {
			case "next":
				err = g.Next()
			case "undo":
				err = g.Undo()
			case "finish":
				_, err = g.Finish()
			case "skip":
				_, err = g.Skip()
			case "back":
				err = g.Back()
			case "again":
				err = g.Again()
			case "goto":
				_, err = g.GoTo(rapid.IntRange(0, 8).Draw(t, "number"))
			case "turn":
				_, err = g.TurnOnce()
			}
			require.NoError(t, err)
		}
		h := NewGuide(&pad{}, shortJob())
		require.True(t, h.Resume(p.entries))
		assert.Equal(t, g.Over(), h.Over())
		assert.Equal(t, g.Open(), h.Open())
		if g.Over() {
			assert.Empty(t, g.Open())
			return
		}
		require.NoError(t, h.Start())
		if st, _, _ := h.Step(); st.ID == goOn {
			_, err := h.Finish()
			require.NoError(t, err)
		}
		was, _, _ := g.Step()
		is, _, _ := h.Step()
		assert.Equal(t, was, is)
		assert.Equal(t, g.Items(), h.Items())
		if len(was.Care) == 0 { // cautions are read again
			assert.Equal(t, firstOpen(g.Items()), firstOpen(h.Items()))
		}
		_, states := g.Steps()
		_, resumed := h.Steps()
		assert.Equal(t, states, resumed)
	})
}

func firstOpen(items []Item) int {
	return slices.IndexFunc(items, func(it Item) bool { return !it.Ticked })
}

func TestGuideResumesOnlyWhatWasGuided(t *testing.T) {
	g := NewGuide(&pad{}, shortJob())
	assert.False(t, g.Resume([]logbook.Entry{{Data: logbook.Begin{}}, {Data: logbook.Reading{Text: "1.98"}}, {Data: logbook.Step{Step: "of a later version"}}}))
	require.NoError(t, g.Start())
	assert.Equal(t, "make_safe: live points", where(g))
}

// Killed between the end of a step and the beginning of the next, it goes on with the next.
func TestGuideResumesBetweenSteps(t *testing.T) {
	g, p := begun(t)
	_, err := g.Skip()
	require.NoError(t, err)
	h := NewGuide(&pad{}, shortJob())
	require.True(t, h.Resume(p.entries[:len(p.entries)-1]))
	require.NoError(t, h.Start())
	st, _, _ := h.Step()
	if st.ID == goOn {
		_, err = h.Finish()
		require.NoError(t, err)
	}
	assert.Equal(t, "cable: clip it on", where(h))
}

// What must still hold is asked anew each time that it is gone on, and then the step at hand is gone on with, not the one after it.
func TestGuideAsksEachTimeWhatStillHolds(t *testing.T) {
	g, p := begun(t)
	_, err := g.GoTo(2)
	require.NoError(t, err)
	for range 2 {
		g = NewGuide(p, shortJob())
		require.True(t, g.Resume(p.entries))
		require.NoError(t, g.Start())
		assert.Equal(t, []Item{{Text: "is the lead off?"}, {Text: "is the fuel off?"}}, g.Items())
		assert.Equal(t, "go_on: is the lead off?", where(g))
		require.NoError(t, g.Next())
		assert.Equal(t, "go_on: is the fuel off?", where(g))
	}
	require.NoError(t, g.Again())
	assert.Equal(t, "go_on: is the lead off?", where(g))
	_, err = g.Skip()
	require.NoError(t, err)
	assert.Equal(t, "cable: clip it on", where(g))
}

func TestGuideHasASkippedStepDoneAnew(t *testing.T) {
	g, _ := begun(t)
	require.NoError(t, g.Next())
	require.NoError(t, g.Next())
	_, err := g.Skip()
	require.NoError(t, err)
	require.NoError(t, g.Back())
	assert.Equal(t, []Item{{Text: "live points", Care: true}, {Text: "switch off"}, {Text: "lead off"}}, g.Items())
}

// Whichever entry was the last before the power failed, the job can be gone on with to its end.
func TestGuideComesToItsEndFromAnyEntry(t *testing.T) {
	through := func(t *testing.T, g *Guide) {
		for range 40 {
			if g.Over() {
				return
			}
			require.NoError(t, g.Next())
			if st, _, _ := g.Step(); st.Work == ByRead {
				_, err := g.Finish()
				require.NoError(t, err)
			}
		}
		require.Fail(t, "no end", where(g))
	}
	g, p := begun(t)
	through(t, g)
	for n := range p.entries {
		h := NewGuide(&pad{}, shortJob())
		h.Resume(p.entries[:n])
		require.NoError(t, h.Start())
		through(t, h)
		assert.Empty(t, h.Open())
	}
}
