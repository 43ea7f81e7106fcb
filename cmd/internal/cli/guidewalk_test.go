//go:build unix

package cli

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// The sheets of the guided sessions: two cylinders, and a dial with a revolution counter.
const (
	padEngine = "../../../testdata/sheets/twin.toml"
	padDial   = "../../../testdata/sheets/dial.toml"
)

// padPasses is how many passes a walk makes for each cylinder and phase, at least: the fewest with a scatter.
const padPasses = 2

// padReading is a reading that was typed.
type padReading struct {
	text  string
	place logbook.Place
}

// walk is an operator who walks through a guided session as chance has it, mostly forward. Beside the program walks a Guide of the
// test's own, which says what the screen must show after each key, and what must be in the journal then.
type walk struct {
	t      *testing.T
	random *rand.Rand
	root   string
	sheets session.Sheets
	o      *operator

	guide *session.Guide
	face  guideFace
	plan  []string // keys that come next, for one of many ways through the menus

	log   []logbook.Data // what the keys write: steps and ticks
	acked int            // of log was seen on the screen

	was *stood // how the step at hand looked before a kill in a quiet moment; nil: it was none

	typed    []padReading
	answered int // of typed were, in sight
}

// Append implements session.Journal.
func (w *walk) Append(d logbook.Data) (logbook.Entry, error) {
	w.log = append(w.log, d)
	return logbook.Entry{Data: d}, nil
}

func newWalk(t *testing.T, random *rand.Rand, root string) *walk {
	sheets, err := session.LoadSheets(padEngine, padDial)
	require.NoError(t, err)
	return &walk{t: t, random: random, root: root, sheets: sheets}
}

// lead puts a Guide of the test's own where the program's stands after entries of its journal.
func (w *walk) lead(entries []logbook.Entry) {
	w.face, w.plan, w.log = faceStep, nil, nil
	for _, e := range entries {
		switch e.Data.(type) {
		case logbook.Step, logbook.Tick:
			w.log = append(w.log, e.Data)
		}
	}
	w.acked = len(w.log)
	steps, err := session.Steps(w.sheets)
	require.NoError(w.t, err)
	w.guide = session.NewGuide(w, steps)
	w.guide.Resume(entries)
	w.guide.Prepare = func(st *session.Step) {
		if st.ID != session.SetStep {
			return
		}
		if r, ok := w.report(); ok {
			st.Do = append(session.SetItems(r), st.Do...)
		}
	}
	if w.guide.Over() {
		w.face = faceSteps
		return
	}
	require.NoError(w.t, w.guide.Start())
}

// report is what the journal says up to now.
func (w *walk) report() (session.Report, bool) {
	_, j := w.journal()
	r, err := session.FromJournal(j)
	return r, err == nil
}

// next returns the keys that come next, all of them at once, and what they do to the walk.
func (w *walk) next() (keys string, does func()) {
	if len(w.plan) == 0 {
		w.plan = w.way()
	}
	keys, w.plan = w.plan[0], w.plan[1:]
	return keys, func() { w.does(keys) }
}

// way chooses what to do at the step at hand. Readings are no keys: see reads.
func (w *walk) way() []string {
	st, n, _ := w.guide.Step()
	at, read := w.guide.Item()
	chance := w.random.IntN(100)
	switch {
	case w.guide.Over():
		return []string{"*"}
	case chance < 3:
		return []string{"*", "*"}
	case chance < 6:
		return []string{"*", "5", "*"}
	case chance == 6:
		return []string{"*", "2"}
	case chance == 7 && n > 1:
		return []string{"*", "3"}
	case chance == 8 && st.Work == session.ByList:
		return []string{"*", "4"}
	case chance == 9 && n > 0:
		return []string{"*", "5", fmt.Sprintf("%d\r", max(1, n-w.random.IntN(3)))}
	case read && st.Work == session.ByRead:
		return []string{"*", "\r"}
	case chance < 14 && n+at > 1: // before the very first item there is nothing to see of it
		return []string{"-"}
	case chance < 40 && st.Work != session.ByTick && st.Work != session.ByRead:
		return []string{"+"}
	}
	return []string{"\r"}
}

// does lets the test's own Guide do what the keys do.
func (w *walk) does(keys string) {
	g, face := w.guide, w.face
	w.face = faceStep
	var err error
	switch {
	case face == faceMore && keys == "5":
		w.face = faceSteps
	case face == faceSteps && keys != "*":
		var n int
		_, err = fmt.Sscan(keys, &n)
		require.NoError(w.t, err)
		_, err = g.GoTo(n)
	case face == faceStep && keys == "*":
		w.face = faceMore
	case face == faceMore && keys == "2":
		err = g.Again()
	case face == faceMore && keys == "3":
		err = g.Back()
	case keys == "-":
		err = g.Undo()
	case face == faceMore && keys == "4":
		_, err = g.Skip()
	case face == faceMore && keys == "\r", keys == "+":
		_, err = g.Finish()
	case face == faceStep && keys == "\r":
		err = g.Next()
	}
	require.NoError(w.t, err)
}

// asked tells that a reading is asked for.
func (w *walk) asked() bool {
	st, _, _ := w.guide.Step()
	_, read := w.guide.Item()
	return w.face == faceStep && st.Work == session.ByRead && read
}

// shown is what the screen must show.
func (w *walk) shown() []string {
	st, n, of := w.guide.Step()
	at, none := w.guide.Item()
	items := w.guide.Items()
	switch {
	case w.face == faceMore:
		return []string{"what next?"}
	case w.face == faceSteps:
		return []string{"all steps", "Number of the step"}
	case w.asked():
		return []string{fmt.Sprintf("Dial reading, %s, %s", st.Place.Cylinder, phaseWords(st.Place.Phase))}
	}
	title := st.Title
	if n > 0 { // what is asked first is none of the steps
		title = fmt.Sprintf("step %d of %d: %s", n, of, st.Title)
	}
	if none {
		return []string{title}
	}
	if st.Work == session.ByWatch {
		return []string{" " + beginning(itemLine(items[at]), 50), fmt.Sprintf("(step %d of %d", n, of)}
	}
	return []string{title, "> " + beginning(itemLine(items[at]), 60)}
}

// beginning is at most the first n characters of a text.
func beginning(text string, n int) string {
	r := []rune(strings.Join(strings.Fields(text), " "))
	return string(r[:min(n, len(r))])
}

// over tells that the session ends with the keys pressed last.
func (w *walk) over() bool { return w.guide.Over() && w.face == faceStep }

// goesOn presses the next keys, and sees what they do; it returns false when the program has ended instead.
func (w *walk) goesOn() bool {
	w.t.Helper()
	if w.passes() {
		return w.reads()
	}
	keys, does := w.next()
	does()
	w.o.press(keys)
	return w.sees()
}

// passes tells that one more reading is to be taken now.
func (w *walk) passes() bool {
	if !w.asked() || len(w.plan) > 0 {
		return false
	}
	st, _, _ := w.guide.Step()
	return w.passesAt(st.Place) < padPasses
}

// passesAt is how many readings were typed for a cylinder and phase.
func (w *walk) passesAt(at logbook.Place) (n int) {
	for _, r := range w.typed {
		if r.place == at {
			n++
		}
	}
	return n
}

// sees waits until the screen shows what the keys have done; it returns false when the program has ended instead.
func (w *walk) sees() bool {
	w.t.Helper()
	if w.over() {
		for w.o.tick() {
		}
		<-w.o.ended
		return true // what was written last is known by how the program ended
	}
	if want := w.shown(); !w.o.watch(fmt.Sprintf("%q", want), func(screen string) bool { return containsAll(screen, want) }) {
		return false
	}
	w.acked = len(w.log)
	return true
}

// reads takes the next reading, and sees what comes of it; it returns false when the program has ended instead.
func (w *walk) reads() bool {
	w.t.Helper()
	if !w.types() {
		return false
	}
	w.o.press("\r")
	ok := w.o.watch("the reading taken", func(screen string) bool {
		return w.answersLast(screen) && !shownByTheBench.MatchString(screen)
	})
	if ok {
		w.answered = len(w.typed)
	}
	return ok
}

// answersLast tells that the screen shows what came of the reading typed last.
func (w *walk) answersLast(screen string) bool {
	last := w.typed[len(w.typed)-1]
	if last.place.Phase == logbook.AsLeft { // they are counted anew once the points were worked on again
		return strings.Contains(screen, last.text+" (")
	}
	return answers(screen, last.text, w.passesAt(last.place))
}

// types types a reading, without Enter; it returns false when the program has ended.
func (w *walk) types() bool {
	w.t.Helper()
	text, ok := w.o.reading()
	if ok {
		st, _, _ := w.guide.Step()
		w.typed = append(w.typed, padReading{text, st.Place})
		w.o.press(text)
	}
	return ok
}
