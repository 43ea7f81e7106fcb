package session

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// Out of tolerance as left, it is set again: what was measured before that is of a setting that is gone.
func TestPassesAsLeftBeforeItWasSetAgain(t *testing.T) {
	left := func(again func(g *guided)) Phase {
		g := newGuided(t, 0.3)
		g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14", "2.18/2.15")
		g.step(t, "set", logbook.StepBegun)
		g.ticked(t, "set")
		g.step(t, "set", logbook.StepDone)
		g.passes(t, "left", logbook.AsLeft, 3, "2.16/2.12", "2.15/2.12")
		again(g)
		g.passes(t, "left", logbook.AsLeft, 5, "2.02/1.98", "2.01/1.99")
		r := g.report(t)
		found, ok := r.Phase(logbook.Place{Cylinder: "left", Phase: logbook.AsFound})
		require.True(t, ok)
		assert.Equal(t, 2, found.N, "as found is as found")
		ph, ok := r.Phase(logbook.Place{Cylinder: "left", Phase: logbook.AsLeft})
		require.True(t, ok)
		require.Len(t, ph.Passes, 4, "nothing is lost")
		return ph
	}
	for name, again := range map[string]func(*guided){
		"the plate":               func(g *guided) { g.step(t, "set", logbook.StepBegun); g.step(t, "set", logbook.StepDone) },
		"the plate, not finished": func(g *guided) { g.step(t, "set", logbook.StepBegun); g.ticked(t, "set") },
		"the gap":                 func(g *guided) { g.step(t, "gap", logbook.StepBegun); g.step(t, "gap", logbook.StepDone) },
	} {
		ph := left(again)
		assert.Equal(t, 2, ph.N, name)
		assert.Equal(t, workedAfter, ph.Passes[0].Unused, name)
		assert.Empty(t, ph.Passes[2].Unused, name)
		assert.InDelta(t, 0, *ph.ErrorMM, 1e-9, name) // the mean of 2.02, 1.98, 2.01 and 1.99 is 2 mm, as the sheet wants
	}
	for name, looked := range map[string]func(*guided){
		"looked at":         func(*guided) {},
		"ticked by mistake": func(g *guided) { g.ticked(t, "set"); g.unticked(t, "set") },
		"ticked that nothing is to move": func(g *guided) {
			g.tickedItem(t, "set", "all cylinders in tolerance when last measured: "+nothingToMove)
		},
	} {
		ph := left(func(g *guided) {
			g.step(t, "set", logbook.StepBegun)
			looked(g)
			g.step(t, "set", logbook.StepSkipped)
		})
		assert.Equal(t, 4, ph.N, name)
	}
	for name, more := range map[string]func(*guided){
		"ticks taken off, for the step is done once more": func(g *guided) { g.ticked(t, "set"); g.unticked(t, "set"); g.step(t, "set", logbook.StepBegun) },
		"ticked anew after a mistake":                     func(g *guided) { g.ticked(t, "set"); g.unticked(t, "set"); g.ticked(t, "set") },
		"one of two things was done":                      func(g *guided) { g.ticked(t, "set"); g.tickedItem(t, "set", "more"); g.unticked(t, "set") },
	} {
		ph := left(func(g *guided) {
			g.step(t, "set", logbook.StepBegun)
			more(g)
			g.step(t, "set", logbook.StepSkipped)
		})
		assert.Equal(t, 2, ph.N, name)
	}
}

// unticked takes a tick off as Undo does.
func (g *guided) unticked(t testing.TB, step string) {
	_, err := g.Append(logbook.Tick{Step: step, Item: "some of it", Undone: true})
	require.NoError(t, err)
}

// What SetItems says where no plate is to be moved says that no work is done, for one cylinder and for several.
func TestNothingToMoveIsNoWork(t *testing.T) {
	for _, n := range []int{1, 2} {
		r := Report{Advice: &Advice{}, Cylinders: make([]Cylinder, n)}
		items := SetItems(r)
		require.Len(t, items, 1)
		assert.False(t, works(logbook.Tick{Step: "set", Item: items[0]}))
		assert.True(t, works(logbook.Tick{Step: "set", Item: "loosen"}))
	}
}

// A step that was not done, or a thing ticked that was not done, is corrected; who wants the passes back is told how.
func TestPassesOfASettingThatIsNotGone(t *testing.T) {
	for _, c := range []struct {
		name, field, how string
		to               any
		then             func(g *guided)
	}{
		{"step", "state", "--field state --to skipped", "skipped", func(g *guided) { g.step(t, "gap", logbook.StepDone) }},
		{"tick", "undone", "--field undone --to true", true, func(g *guided) { g.ticked(t, "gap") }},
	} {
		g := newGuided(t, 0.3)
		g.passes(t, "left", logbook.AsLeft, 1, "2.02/1.98", "2.01/1.99")
		g.step(t, "gap", logbook.StepBegun)
		c.then(g)
		by := int64(len(g.entries))
		j := logbook.Journal{Entries: g.entries}
		correct, err := NewCorrector(j)
		require.NoError(t, err, c.name)
		pass, err := correct.Pass(logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}, 1)
		require.NoError(t, err, c.name)
		err = correct.BringBack(&Correction{Seq: pass})
		assert.ErrorContains(t, err, fmt.Sprintf("because %s; if they were not, --entry %d %s corrects what says so", workedAfter, by, c.how))
		step := Correction{Seq: by}
		require.NoError(t, correct.Set(&step, c.field, c.to), c.name)
		r, err := FromJournal(corrected(t, j, correct, step))
		require.NoError(t, err, c.name)
		ph, _ := r.Phase(logbook.Place{Cylinder: "left", Phase: logbook.AsLeft})
		assert.Equal(t, 2, ph.N, c.name)
	}
}
