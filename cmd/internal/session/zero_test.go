package session

import (
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// oneCylinder are the sheets of the twin with one of its cylinders alone.
func oneCylinder(t testing.TB) Sheets {
	engine, err := os.ReadFile(twin)
	require.NoError(t, err)
	scale, err := os.ReadFile(dial)
	require.NoError(t, err)
	s, err := ParseSheets("engine", strings.Replace(string(engine), `["left", "right"]`, `["left"]`, 1), "dial", string(scale))
	require.NoError(t, err)
	return s
}

// passes lets openings be heard in a step that measures, from one ID on, and types the reading of each.
func (g *guided) passes(t testing.TB, cylinder string, phase logbook.Phase, first int64, readings ...string) {
	g.step(t, "measure/"+cylinder+"/"+string(phase), logbook.StepBegun)
	for i, text := range readings {
		g.hear(t, first+int64(i), float64(first)+float64(i))
		_, err := g.rec.Reading(Typed{Text: text, Place: logbook.Place{Cylinder: cylinder, Phase: phase}})
		require.NoError(t, err)
	}
}

// ticked ticks one thing of a step.
func (g *guided) ticked(t testing.TB, step string) { g.tickedItem(t, step, "some of it") }

func (g *guided) tickedItem(t testing.TB, step, item string) {
	_, err := g.Append(logbook.Tick{Step: step, Item: item})
	require.NoError(t, err)
}

// Of one cylinder the dial stands untouched from as found to as left, unless a step says that it was taken out or set anew.
func TestZeroOfTheDialByTheSteps(t *testing.T) {
	const tdc = "tdc/left/as_left"
	shift := func(between func(g *guided)) Shift {
		g := guidedOn(t, oneCylinder(t), 0.3)
		g.step(t, "tdc/left/as_found", logbook.StepBegun)
		g.ticked(t, "tdc/left/as_found")
		g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14", "2.18/2.15", "2.19/2.15")
		between(g)
		g.passes(t, "left", logbook.AsLeft, 4, "2.02/1.98", "2.01/1.99", "2.01/1.98")
		r := g.report(t)
		require.Len(t, r.Shifts, 1)
		return r.Shifts[0]
	}
	begun, done, skipped := logbook.StepBegun, logbook.StepDone, logbook.StepSkipped
	same := shift(func(*guided) {})
	require.False(t, same.ZeroedAnew)
	for _, c := range []struct {
		name    string
		anew    bool
		between func(g *guided)
	}{
		{"TDC found anew", true, func(g *guided) { g.step(t, tdc, begun); g.step(t, tdc, done) }},
		{"begun alone", true, func(g *guided) { g.step(t, tdc, begun) }},
		{"skipped", false, func(g *guided) { g.step(t, tdc, begun); g.step(t, tdc, skipped) }},
		{"skipped after a break", false, func(g *guided) {
			g.step(t, tdc, begun)
			g.step(t, "go_on", begun)
			g.step(t, "go_on", done)
			g.step(t, tdc, begun)
			g.step(t, tdc, skipped)
		}},
		{"skipped when some was done", true, func(g *guided) { g.step(t, tdc, begun); g.ticked(t, tdc); g.step(t, tdc, skipped) }},
		{"skipped, after the gap was set with the dial out", true, func(g *guided) {
			g.step(t, "gap", begun)
			g.step(t, "gap", done)
			g.step(t, tdc, begun)
			g.step(t, tdc, skipped)
		}},
		{"gap found", true, func(g *guided) { g.step(t, "gap_found", begun); g.ticked(t, "gap_found") }},
		{"all skipped but the plate", false, func(g *guided) {
			for _, id := range []string{"gap_found", "gap", tdc} {
				g.step(t, id, begun)
				g.step(t, id, skipped)
			}
			g.step(t, "set", begun)
			g.ticked(t, "set")
			g.step(t, "set", done)
		}},
		{"a break", false, func(g *guided) { g.step(t, "go_on", begun); g.ticked(t, "go_on"); g.step(t, "go_on", done) }},
		{"a break, and TDC in doubt", true, func(g *guided) { g.step(t, "go_on", begun); g.step(t, "go_on", done); g.step(t, tdc, begun) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := shift(c.between)
			assert.Equal(t, c.anew, got.ZeroedAnew)
			// Graduation, hysteresis and repeatability, 0.01, 0.003 and 0.003 mm, are widths of rectangles: the variance of one zero is
			// (0.01² + 0.003² + 0.003²)/12 mm², and two zeros have twice as much.
			extra := 0.0
			if c.anew {
				extra = 2 * (0.01*0.01 + 2*0.003*0.003) / 12
			}
			assert.InDelta(t, math.Sqrt(same.UncertaintyMM*same.UncertaintyMM+extra), got.UncertaintyMM, 1e-12, "rounding only")
			assert.Equal(t, same.MM, got.MM)
		})
	}
}

// To set a second set of points the dial goes from one cylinder to the other, and back.
func TestZeroOfTheDialOfTwoSets(t *testing.T) {
	g := newGuided(t, 0.3)
	g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14", "2.18/2.15")
	g.step(t, "set", logbook.StepBegun)
	g.ticked(t, "set")
	g.passes(t, "left", logbook.AsLeft, 3, "2.02/1.98", "2.01/1.99")
	assert.True(t, g.report(t).Shifts[0].ZeroedAnew)
}

// One pass more, after TDC was found anew, has another zero than those before.
func TestZeroOfTheDialWithinAPhase(t *testing.T) {
	g := guidedOn(t, oneCylinder(t), 0.3)
	g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14")
	g.passes(t, "left", logbook.AsLeft, 2, "2.02/1.98")
	require.False(t, g.report(t).Shifts[0].ZeroedAnew)
	g.step(t, "tdc/left/as_left", logbook.StepBegun)
	g.passes(t, "left", logbook.AsLeft, 3, "2.02/1.98")
	assert.True(t, g.report(t).Shifts[0].ZeroedAnew)
}

// Between cylinders the zero is another one always, whatever the steps say.
func TestSpreadIsOfTwoZeros(t *testing.T) {
	spread := func(steps ...string) Spread {
		g := newGuided(t, 0.3)
		g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14", "2.18/2.15")
		for _, id := range steps {
			g.step(t, id, logbook.StepBegun)
		}
		g.passes(t, "right", logbook.AsFound, 3, "2.02/1.98", "2.01/1.99")
		r := g.report(t)
		require.Len(t, r.Spreads, 1)
		return r.Spreads[0]
	}
	assert.Equal(t, spread(), spread("tdc/right/as_found", "clip/right/as_found"))
}

// What was found before the points were worked on is no longer what was left, though nothing was measured after it.
func TestSinceLastAfterWorkThatWasNotMeasured(t *testing.T) {
	then := func(step string, state logbook.StepState, tick bool, undone ...string) logbook.Journal {
		g := newGuided(t, 0.3)
		g.passes(t, "left", logbook.AsFound, 1, "2.01/1.98", "2.02/2.00")
		g.step(t, step, logbook.StepBegun)
		if tick {
			g.ticked(t, step)
		}
		for _, id := range undone {
			g.unticked(t, id)
		}
		if state != "" {
			g.step(t, step, state)
		}
		return logbook.Journal{Entries: g.entries}
	}
	now := lived(t, clock(), as, as, foundNow)
	for _, c := range []struct {
		name  string
		j     logbook.Journal
		known bool
	}{
		{"gap only begun", then("gap", "", false), true},
		{"gap skipped", then("gap", logbook.StepSkipped, false), true},
		{"gap set", then("gap", logbook.StepDone, false), false},
		{"plate moved, not to the end", then("set", "", true), false},
		{"a plate ticked by mistake", then("set", logbook.StepSkipped, true, "set"), true},
		{"gap looked at", then("gap_found", logbook.StepDone, true), true},
	} {
		s, err := SinceLast(c.j, now)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.known, s.Cylinders[0].Then != nil, c.name)
		assert.Equal(t, c.known, s.Cylinders[0].Change != nil, c.name)
	}
}
