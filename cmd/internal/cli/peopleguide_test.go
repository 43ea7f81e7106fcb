package cli

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// mechanic does a whole job as the guide of a live session leads through it. What an item asks for is done to the points, then it is
// ticked, by the keys of a number pad. The cable is on no points until the guide says so.
type mechanic struct {
	*workplace
	t     *testing.T
	bench *bench.Bench
	slow  bench.Chatter // how the points part, where it is not zero
	steps []session.Step

	moved   []bench.Change // all that became of the points
	opened  int            // so many times
	between int            // of them in steps that do not measure
	passes  []int          // of opened, from 0, by pass of the job

	// sight looks at the screen at each item, whileOpen while the points are open in a step that does not measure. measure makes the
	// passes of a place, which begin at the i-th of the job.
	sight     func(st session.Step, item string, rows []string)
	whileOpen func(st session.Step, before []seen)
	settled   func(st session.Step) // waits until the screen shows that the points are closed, where it matters
	measure   func(place logbook.Place, i int)
}

// newMechanic stands before a workplace, whose sound is not begun yet.
func newMechanic(t *testing.T, w *workplace) *mechanic {
	sheets, err := session.LoadSheets(sheetArgs[2], sheetArgs[4])
	require.NoError(t, err)
	steps, err := session.Steps(sheets)
	require.NoError(t, err)
	m := &mechanic{workplace: w, t: t, steps: steps}
	w.sound.Frames, w.sound.StartOpen = 48000*180, true
	inner := w.wrap
	w.wrap = func(src audio.Source) audio.Source {
		m.bench = src.(*bench.Bench)
		return inner(src)
	}
	m.sight = func(session.Step, string, []string) {}
	m.whileOpen, m.settled = func(session.Step, []seen) {}, func(session.Step) {}
	return m
}

// now is how much was heard [s].
func (m *mechanic) now() float64 { return float64(m.heard.Load()) / 48000 }

// strike strikes keys of the number pad.
func (m *mechanic) strike(keys string) {
	m.t.Helper()
	require.Empty(m.t, strings.Trim(keys, "0123456789./*-+\n"), "there is no such key on the pad")
	m.workplace.strike(keys)
}

// does lets the points move.
func (m *mechanic) does(changes ...bench.Change) {
	require.NoError(m.t, m.bench.Add(changes...))
	m.moved = append(m.moved, changes...)
}

// opens lets the points be open for so long [s], once they have been closed for a while, and returns when they begin to be.
func (m *mechanic) opens(length float64) (at float64) {
	if n := len(m.moved); n > 0 {
		m.until(m.moved[n-1].At + 0.45)
	}
	at = m.now() + 0.05
	changes := []bench.Change{{At: at}, {At: at + length, Closed: true}}
	if m.slow != (bench.Chatter{}) {
		var err error
		changes, err = bench.AddChatter(changes, m.slow, uint64(m.opened))
		require.NoError(m.t, err)
	}
	m.does(changes...)
	m.opened++
	return at
}

// fumbles lets the points be open for so long [s] in a step that does not measure, and waits until they have been closed for a while.
func (m *mechanic) fumbles(st session.Step, length float64) {
	m.between++
	m.settled(st)
	_, before := m.glance()
	at := m.opens(length)
	m.until(at + length*0.8)
	m.whileOpen(st, before)
	m.until(at + length + 0.45)
}

// hands are what the points do at the items that begin like this: for how long they are open [s], one time after the other.
var hands = []struct {
	item string
	open []float64
}{
	{"open the points by hand", []float64{1}},
	{"open these points by hand", []float64{1}},
	{"rock the crank over the top", []float64{0.6, 0.5}},
	{"over the top once more", []float64{0.5}},
	{"turn the crank by hand to full lift", []float64{0.7}},
	{"try the feelers", []float64{0.1, 0.3}}, // one that is too thick, and lets them fall shut
	{"pull a clean dry card", []float64{0.2}},
	{"tighten, and try the feeler", []float64{0.3}},
	{"turn the crank on to full lift", []float64{0.5}},
	{"clip the cable on", []float64{0.8}}, // off the other points, on to these
	{"turn it slowly", []float64{0.9}},    // the plate
	{"set it the same way", []float64{0.9}},
	{"check the first set again", []float64{0.4}},
}

// hand does what an item asks for.
func (m *mechanic) hand(st session.Step, item string) {
	switch {
	case st.ID == session.CableStep && strings.HasPrefix(item, "clip it on"):
		m.does(bench.Change{At: m.now() + 0.05, Closed: true})
		m.until(m.now() + 1)
		return
	case st.ID == session.TogetherStep && strings.HasPrefix(item, "cable off"):
		m.does(bench.Change{At: m.now() + 0.05})
		m.opened++
		m.between++
		m.until(m.now() + 1)
		return
	}
	for _, h := range hands {
		if strings.HasPrefix(item, h.item) {
			for _, length := range h.open {
				m.fumbles(st, length)
			}
		}
	}
}

// work does all that the guide asks for, to the end of the job, and sees each item on the screen.
func (m *mechanic) work() {
	m.t.Helper()
	for i, st := range m.steps {
		do := st.Do
		if st.ID == session.SetStep {
			r, _ := m.journal(m.t)
			do = append(session.SetItems(r), do...)
		}
		for k, item := range append(append([]string{}, st.Care...), do...) {
			mark := "[ ] "
			if k < len(st.Care) {
				mark = "! "
			}
			now := "> " + mark + item // that is dealt with stands out without colours
			if st.Work == session.ByWatch {
				title, _, _ := strings.Cut(st.Title, ":")
				now = fmt.Sprintf("%s%s (step %d of %d: %s)", mark, item, i+1, len(m.steps), title)
			}
			m.sight(st, item, m.sees(m.t, now, fmt.Sprintf("step %d of %d", i+1, len(m.steps))))
			m.hand(st, item)
			m.strike("\n")
		}
		if st.Work == session.ByRead {
			m.sees(m.t, "Dial reading, "+st.Place.Cylinder+", "+st.Place.Phase.Words())
			first := len(m.passes)
			m.measure(st.Place, first)
			m.strike("*")
			m.sees(m.t, "what next?", "1 this step is done: go on to")
			m.strike("\n")
		}
		require.Equal(m.t, i == len(m.steps)-1, m.ended, "after step %s: %s", st.ID, m.errs.String())
	}
}

// truth gives when each opening began [s].
func (m *mechanic) truth() []float64 {
	c := m.sound
	c.Changes = m.moved
	at := broken(m.t, c)
	require.Len(m.t, at, m.opened)
	return at
}

// ofPasses gives when the openings of the job's passes began [s].
func (m *mechanic) ofPasses() (at []float64) {
	all := m.truth()
	for _, n := range m.passes {
		at = append(at, all[n])
	}
	return at
}

// assertGuided asserts that a session is the whole job: all steps are done, all that was taken off is back, and every opening is
// where it belongs.
func (m *mechanic) assertGuided(r session.Report, thrown int) {
	m.t.Helper()
	require.NotNil(m.t, r.Steps)
	assert.Len(m.t, r.Steps.Done, len(m.steps))
	assert.Empty(m.t, r.Steps.NotTicked)
	assert.Len(m.t, r.Steps.Openings, m.between, "openings that are no passes")
	assert.Equal(m.t, m.opened, m.between+len(job)+thrown)
}

// used are the passes that results rest on, in the order of their openings, and why the others are not.
func used(ph session.Phase) (passes []session.Pass, unused []string) {
	for _, p := range ph.Passes {
		if p.Unused != "" {
			unused = append(unused, p.Reading+": "+p.Unused)
			continue
		}
		at := len(passes)
		for at > 0 && p.Edge != nil && passes[at-1].Edge.TimeS > p.Edge.TimeS {
			at--
		}
		passes = append(passes[:at], append([]session.Pass{p}, passes[at:]...)...)
	}
	return passes, unused
}
