package cli

import (
	"fmt"
	"io"
	"regexp"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
)

// lineByLine is a keyboard on which whole lines are typed, each when the test says so.
type lineByLine struct {
	lines chan string
	rest  string
	given int64
	asked atomic.Int64 // for so many: all before the last were taken
}

func (d *lineByLine) give(line string) {
	d.given++
	d.lines <- line + "\n"
}

// waits tells that a line was given and not taken yet.
func (d *lineByLine) waits() bool { return d.asked.Load() <= d.given }

func (d *lineByLine) Read(p []byte) (int, error) {
	if d.rest == "" {
		d.asked.Add(1)
		line, ok := <-d.lines
		if !ok {
			return 0, io.EOF
		}
		d.rest = line
	}
	n := copy(p, d.rest)
	d.rest = d.rest[n:]
	return n, nil
}

// aloud is somebody who does the whole job by what a screen reader reads out.
type aloud struct {
	*mechanic
	keys *lineByLine
	want []string // what must have been told, in this order
}

// types types a line, and lets hardly any sound be heard until it was taken.
func (a *aloud) types(line string) {
	a.keys.give(line)
	for !a.ended && a.keys.waits() {
		for range 20 { // whoever reads the keyboard comes between
			runtime.Gosched()
		}
		a.gives <- 1
		a.await()
	}
}

func (a *aloud) wants(texts ...string) { a.want = append(a.want, texts...) }

// step does a step of the job, and says what must be told of it.
func (a *aloud) step(n int, st session.Step) {
	do := st.Do
	if st.ID == session.SetStep {
		r, _ := a.journal(a.t)
		do = append(session.SetItems(r), do...)
	}
	if st.Work != session.ByWatch {
		a.wants(fmt.Sprintf("step %d of %d: %s", n, len(a.steps), st.Title))
	}
	for k, item := range append(append([]string{}, st.Care...), do...) {
		if k < len(st.Care) {
			a.wants("now, caution: " + item)
		} else {
			a.wants("now, to do: " + item)
		}
		before := a.opened
		a.hand(st, item)
		for ; before < a.opened && st.ID != session.TogetherStep; before++ { // there the cable comes off, and the points are not told of
			a.wants(fmt.Sprintf("points open, number %d", before+1), "points closed")
		}
		a.types("")
	}
	if st.Work != session.ByRead {
		return
	}
	a.wants(fmt.Sprintf("Dial reading, %s, %s", st.Place.Cylinder, st.Place.Phase.Words()))
	for k := len(a.passes); k < len(job) && job[k].place == st.Place; k++ {
		at := a.opens(0.8)
		a.passes = append(a.passes, a.opened-1)
		a.until(at + 0.3)
		a.types(job[k].reading)
		a.until(at + 1.4)
		a.wants(fmt.Sprintf("points open, number %d", a.opened), job[k].reading+" (")
		a.wants(verdicts[k]...)
	}
	a.types("*")
	a.wants("now, choice 1: this step is done: go on to")
	a.types("")
}

// The same job told in lines, for a screen reader: every thing to do, every danger, every opening, every result, in words.
func TestSomebodyWithAScreenReader(t *testing.T) {
	a := &aloud{mechanic: newMechanic(t, newWorkplace(t, nil)), keys: &lineByLine{lines: make(chan string, 1)}}
	a.env.In = a.keys
	a.keys.give("") // no headphones
	a.begin(t, append(append([]string{}, sheetArgs...), "--dir", a.root, "--plain")...)
	for i, st := range a.steps {
		require.False(t, a.ended, a.errs.String())
		a.step(i+1, st)
	}
	require.True(t, a.ended)
	require.Equal(t, ExitOK, a.code, a.errs.String())
	told, report, _ := strings.Cut(a.out.String(), "Lathe-shed twin: points specified")
	for line := range strings.Lines(told) {
		assert.Regexp(t, regexp.MustCompile(`^\d+\.\d{3} s  [[:print:]°±]+\n$`), line)
	}
	rest := told
	for _, want := range a.want {
		at := strings.Index(rest, want)
		require.GreaterOrEqual(t, at, 0, "not told: %q after\n%s", want, told[:len(told)-len(rest)])
		rest = rest[at:]
	}
	for large, n := range map[string]int{"result: 0.28 early": 1, "result: 0.29 late": 1} {
		assert.Equal(t, n, strings.Count(told, large), large)
	}
	assert.Contains(t, report, "verdict: in tolerance")
	r, _ := a.journal(t)
	assertJob(t, r, a.ofPasses(), 1e-3) // noise
	a.assertGuided(r, 0)
	assert.Zero(t, a.card.sounded)
}
