//go:build unix

package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// sides tells which big word stands on the left and on the right half of the terminal: "open", "closed", or nothing.
func (o *operator) sides() (left, right string) {
	word := func(half string) string {
		switch strings.TrimSpace(half) {
		case "███  █      ███   ████ █████ ████":
			return "closed"
		case "███  ████  █████ █  █":
			return "open"
		}
		return ""
	}
	for _, row := range o.rows() {
		r := []rune(row + strings.Repeat(" ", 80))
		if l := word(string(r[:40])); l != "" {
			left = l
		}
		if r := word(string(r[40:80])); r != "" {
			right = r
		}
	}
	return left, right
}

// shows lets time go on until both sides show these words.
func (o *operator) shows(left, right string) {
	o.t.Helper()
	require.True(o.t, o.watch(left+" on the left, "+right+" on the right", func(string) bool {
		l, r := o.sides()
		return l == left && r == right
	}))
}

// Both sets of points of an engine are tried, measured and set, seen side by side, with no key but those of the number pad.
func TestBothSetsByTheNumberPad(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	root := filepath.Join(t.TempDir(), "sessions")
	engine, dial := "../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml"
	o := sit(t, root, "session", "--bench", "--sets", "2", "--engine", engine, "--dial", dial)
	sheets, err := session.LoadSheets(engine, dial)
	require.NoError(t, err)
	sheets.AtOnce = true
	steps, err := session.Steps(sheets)
	require.NoError(t, err)
	goTo := func(id string) {
		n := slices.IndexFunc(steps, func(st session.Step) bool { return st.ID == id }) + 1
		require.Positive(t, n, id)
		o.press("*")
		o.sees("what next?")
		o.press("5")
		o.sees("all steps")
		o.press(fmt.Sprintf("%d\r", n))
		o.sees(fmt.Sprintf("step %d of %d", n, len(steps)))
	}
	o.sees("step 1 of", "left: POINTS UNKNOWN", "right: POINTS UNKNOWN")
	goTo(session.CableStep)
	for range 2 { // a hand opens the one, then the other
		o.shows("open", "closed")
		o.shows("closed", "open")
	}
	for _, cylinder := range []string{"left", "right"} {
		goTo("measure/" + cylinder + "/as_found")
		o.press("+")
		o.sees("Dial reading, " + cylinder)
		o.measures(3)
	}
	goTo(session.SetStep)
	for range 30 * time.Second / padTick { // the one plate, then the other, which may be too quick for a screen whose clock is driven so fast
		o.tick()
	}
	o.shows("open", "closed")
	o.press("*")
	o.sees("what next?")
	o.press("9")
	for o.tick() {
	}
	<-o.ended
	require.NoError(t, o.cmd.Wait(), "%s", o.screen())
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	assert.Empty(t, logbook.Check(j))
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	for i, cylinder := range []string{"left", "right"} {
		ph, ok := r.Phase(logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound})
		require.True(t, ok, cylinder)
		assert.Equal(t, 3, ph.N, cylinder)
		for _, p := range ph.Passes {
			assert.Equal(t, i+1, p.Edge.Set, "%s, opening %d", cylinder, p.Edge.ID)
		}
	}
	var set []int // of the openings while the plates were moved
	at := ""
	for _, e := range j.Entries {
		switch d := e.Data.(type) {
		case logbook.Step:
			at = d.Step
		case logbook.Opening:
			if at == session.SetStep {
				set = append(set, d.Set)
			}
		}
	}
	assert.Equal(t, []int{1, 2, 1}, slices.Compact(set), "the base plate, the plate of the second set, and the first set again")
	sets := map[int]int{}
	for _, e := range r.Steps.Openings {
		sets[e.Set]++
	}
	assert.GreaterOrEqual(t, sets[1], 3, "while the cable was tried")
	assert.GreaterOrEqual(t, sets[2], 3)
	assert.LessOrEqual(t, len(r.Other), 1, "one may settle when the next step has begun")
}
