//go:build unix

package cli

import (
	"bytes"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// begin sits down before the program: for a new session, or to go on with the one that is there.
func (w *walk) begin(nth int) {
	args := []string{"session", "--bench", "--engine", padEngine, "--dial", padDial}
	_, j := w.journal()
	if nth > 0 {
		args = []string{"session", "--resume", "--bench"}
	}
	entries, _ := j.Current()
	w.lead(entries)
	w.o = sitLater(w.t, w.root, time.Duration(nth)*time.Hour, nil, args...)
}

// journal reads the journal of the one session; dir is empty where there is none.
func (w *walk) journal() (dir string, j logbook.Journal) {
	w.t.Helper()
	dirs, err := filepath.Glob(filepath.Join(w.root, "*"))
	require.NoError(w.t, err)
	if len(dirs) == 0 {
		return "", j
	}
	require.Len(w.t, dirs, 1)
	j, err = logbook.Read(dirs[0])
	if !errors.Is(err, fs.ErrNotExist) {
		require.NoError(w.t, err)
	}
	return dirs[0], j
}

// dir is the folder of the one session.
func (w *walk) dir() string {
	w.t.Helper()
	dir, _ := w.journal()
	return dir
}

// kill kills the program (SIGKILL): while it waits, or does what keys tell it, or before all of them were typed.
func (w *walk) kill(h *harms) {
	w.t.Helper()
	settle := func() { w.o.recorded(700 * time.Millisecond) }
	ticks := func(n int) {
		for range n {
			settle() // a disk keeps up with sound that comes in its own time
			if !w.o.tick() {
				return
			}
		}
	}
	how := w.random.IntN(3)
	switch {
	case how == 0:
		ticks(w.random.IntN(30))
	case w.passes():
		text, ok := w.o.reading()
		require.True(w.t, ok)
		settle()
		if how == 1 { // before Enter
			w.o.press(text[:w.random.IntN(len(text)+1)])
		} else {
			require.True(w.t, w.types())
			w.o.press("\r")
		}
		ticks(w.random.IntN(4))
	default:
		settle()
		keys, does := w.next()
		does()
		w.o.press(keys)
		ticks(w.random.IntN(4))
	}
	w.was = nil
	if how == 0 {
		w.was = w.stands()
	}
	linger(w.random)
	h.kills++
	_ = w.o.leave()
	w.catchesUp()
	missing := w.o.heard()
	if frames, ok := w.o.take(); ok {
		missing -= frames
	}
	h.missing = max(h.missing, missing)
	require.LessOrEqual(w.t, missing, int64(demoRate), "more than a second of sound is lost")
}

// killAtOnce kills it while it starts: before there is a journal, while its first lines are written, or soon after.
func (w *walk) killAtOnce(h *harms) {
	dir, _ := w.journal()
	size := func() int64 { return sizeOf(filepath.Join(dir, logbook.FileName)) }
	before := size()
	switch w.random.IntN(3) {
	case 0:
		more := w.random.Int64N(300) // that of one that is gone on with
		if dir == "" {
			more *= 6
		}
		for turn := 0; turn < 1e5 && size() < before+more; turn++ {
			if dir == "" {
				dir, _ = w.journal()
			}
			runtime.Gosched()
		}
	case 1:
		for range w.random.IntN(20) {
			if !w.o.tick() {
				break
			}
		}
	}
	linger(w.random)
	h.kills++
	_ = w.o.leave()
}

// resumes sees that the session goes on where it was: what must still hold is asked first, then comes the very step, with its ticks.
func (w *walk) resumes(h *harms) {
	w.t.Helper()
	require.True(w.t, w.sees(), "%s", w.o.screen())
	st, _, _ := w.guide.Step()
	asks := st.ID == "go_on"
	if asks {
		require.Contains(w.t, w.o.screen(), "before you go on")
		h.asked++
		if w.random.IntN(4) == 0 {
			w.was = nil // it goes on as chance has it
			return
		}
	}
	for st.ID == "go_on" {
		w.plan = []string{[]string{"+", "\r"}[w.random.IntN(2)]}
		require.True(w.t, w.goesOn(), "%s", w.o.screen())
		st, _, _ = w.guide.Step()
	}
	if w.was == nil {
		return
	}
	is := w.stands()
	require.NotNil(w.t, is, "%s", w.o.screen())
	require.Equal(w.t, w.was.id, is.id)
	require.True(w.t, w.was.title == is.title || w.was.title == "" || is.title == "", "%q, %q", w.was.title, is.title)
	for text, mark := range is.marks {
		if was, both := w.was.marks[text]; both {
			require.Equal(w.t, was, mark, "%s: %s", is.title, text)
		}
	}
	h.same++
}

// A session that was ended before its first step is led through all of them.
func TestKilledBeforeTheFirstStep(t *testing.T) {
	w := newWalk(t, rand.New(rand.NewPCG(20260504, 13)), filepath.Join(t.TempDir(), "sessions"))
	w.begin(0)
	require.True(t, w.sees())
	_ = w.o.leave()
	path := filepath.Join(w.dir(), logbook.FileName)
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := bytes.SplitAfter(raw, []byte("\n"))
	require.NoError(t, os.WriteFile(path, bytes.Join(lines[:2], nil), 0o600)) // its beginning and its recording
	w.begin(1)
	w.o.sees("step 1 of 20: ")
}

// A guided session is killed again and again on its way, and gone on with each time, up to its end.
func TestKilledWhileGuided(t *testing.T) {
	random := rand.New(rand.NewPCG(20260504, 10))
	var h harms
	for h.kills < padMoments {
		w := newWalk(t, random, filepath.Join(t.TempDir(), "sessions"))
		h.damaged = 0
		w.session(&h)
	}
	t.Logf("%d kills: %s", h.kills, h)
}

// session walks through one session, with kills on the way.
func (w *walk) session(h *harms) {
	starts := 0
	kept := func() { // and go on
		begun := w.requireKept(h)
		starts++
		if !begun {
			h.empty++
			require.NoError(w.t, os.RemoveAll(w.root))
			starts = 0
		}
	}
	for {
		w.begin(starts)
		if n := w.random.IntN(8); h.kills < padMoments && (n == 0 || n < 4 && starts == 0) {
			w.killAtOnce(h)
			kept()
			continue
		}
		w.resumes(h)
		for !w.over() && (h.kills >= padMoments || w.random.IntN(w.often()) > 0) {
			require.True(w.t, w.goesOn(), "%s", w.o.screen())
		}
		if w.over() {
			break
		}
		w.kill(h)
		kept()
		if _, j := w.journal(); finished(j) {
			h.over++
			return
		}
	}
	require.NoError(w.t, w.o.cmd.Wait(), "%s", w.o.screen())
	w.acked = len(w.log)
	w.requireKept(h)
	w.requireFinished(h)
}

// often is how seldom the program is killed: about each reading the more often, because they are few.
func (w *walk) often() int {
	if w.passes() {
		return 3
	}
	return 12
}

// requireFinished looks at a session that was gone through to its end.
func (w *walk) requireFinished(h *harms) {
	h.sessions++
	_, j := w.journal()
	require.True(w.t, finished(j))
	assert.LessOrEqual(w.t, logbook.Wrong(logbook.Check(j)), h.damaged, "%v", logbook.Check(j))
	r, err := session.FromJournal(j)
	require.NoError(w.t, err)
	hand, err := newBenchHand(w.sheets, demoSeed)
	require.NoError(w.t, err)
	for _, c := range w.sheets.Engine.Cylinders {
		for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
			at := logbook.Place{Cylinder: c, Phase: phase}
			ph, ok := r.Phase(at)
			require.True(w.t, ok, "%s %s", c, phase)
			gone := 0 // of a setting that was worked on once more
			for _, p := range ph.Passes {
				if strings.Contains(p.Unused, "were worked on after it") {
					gone++
				}
			}
			assert.Equal(w.t, w.passesAt(at), ph.N+gone)
			if assert.True(w.t, gone == 0 || phase == logbook.AsLeft); ph.N == 0 {
				continue
			}
			travel, err := w.sheets.Engine.Crank.Travel(w.sheets.Engine.Target.Angle + hand.off[at])
			require.NoError(w.t, err)
			truth := travel - w.sheets.Engine.Target.Travel
			// As left every process of the bench has a plate of its own, 0.05 degrees from the mark at most: that is 0.01 mm.
			slack := 0.0
			if phase == logbook.AsLeft {
				truth, slack = 0, 0.01
			}
			require.NotNil(w.t, ph.IntervalMM)
			h.results++
			if float64(truth) >= ph.IntervalMM[0]-slack && float64(truth) <= ph.IntervalMM[1]+slack {
				h.within++
			}
			assert.InDelta(w.t, float64(truth), *ph.ErrorMM, ph.IntervalMM[1]-ph.IntervalMM[0]+slack, "twice as far as the interval, %s %s", c, phase)
		}
	}
}
