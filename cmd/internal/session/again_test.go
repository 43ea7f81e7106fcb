package session

import (
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
	ph := left(func(g *guided) { g.step(t, "set", logbook.StepBegun); g.step(t, "set", logbook.StepSkipped) })
	assert.Equal(t, 4, ph.N, "it was only looked at")
}
