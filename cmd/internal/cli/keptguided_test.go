//go:build unix

package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// harms is what came of many kills, or of many full disks.
type harms struct {
	kills      int
	empty      int   // times there was no session yet
	damaged    int   // lines of the journal at hand that are half
	lost       int   // readings that were typed, not answered, and not kept
	unanswered int   // readings that were not answered, and are kept
	unseen     int   // times more steps or ticks were kept than were seen
	asked      int   // times what must still hold was asked first
	same       int   // times the step was compared with how it looked before
	over       int   // sessions that were finished when the program was killed
	sessions   int   // that were gone through to their end
	within     int   // results whose interval holds the truth
	results    int   // all of them
	missing    int64 // most frames of sound that were lost
}

// String is for the log of a test.
func (h harms) String() string {
	return fmt.Sprintf("nothing lost that was seen; of what was not seen yet, %d readings were kept and %d lost, steps or ticks kept %d times; "+
		"%d times there was no session yet; asked first what must still hold %d times; the same step as before, with its ticks, %d times of those compared; "+
		"%d sessions gone through to their end and %d ended already, %d of %d results hold the truth; at most %.2f s of sound lost",
		h.unanswered, h.lost, h.unseen, h.empty, h.asked, h.same, h.sessions, h.over, h.within, h.results, float64(h.missing)/demoRate)
}

// catchesUp looks at the last screen: what it shows was done in sight.
func (w *walk) catchesUp() {
	screen := w.o.screen()
	if !w.over() && containsAll(screen, w.shown()) {
		w.acked = len(w.log)
	}
	if w.answered < len(w.typed) && w.answersLast(screen) {
		w.answered = len(w.typed)
	}
}

// requireShownIsKept looks for all that the last screen shows as ticked, done or begun: it is in the journal.
func (w *walk) requireShownIsKept(j logbook.Journal) {
	w.t.Helper()
	items, begun := map[string]bool{}, map[string]bool{}
	for _, e := range j.Entries {
		switch d := e.Data.(type) {
		case logbook.Tick:
			items[d.Item] = true
		case logbook.Step:
			begun[d.Step] = true
		}
	}
	steps, _ := w.guide.Steps()
	for _, row := range w.o.rows() {
		row = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(row), "> "))
		if text, ok := strings.CutPrefix(row, "[x] "); ok {
			known := slices.ContainsFunc(steps, func(st session.Step) bool { return strings.HasSuffix(text, " "+st.Title) && begun[st.ID] })
			for item := range items {
				known = known || strings.HasPrefix(item, text)
			}
			require.True(w.t, known, "%q was shown as ticked", text)
		}
		if _, title, ok := strings.Cut(row, ": "); ok && strings.HasPrefix(row, "step ") {
			known := slices.ContainsFunc(steps, func(st session.Step) bool { return strings.HasPrefix(st.Title, title) && begun[st.ID] })
			require.True(w.t, known, "%q was shown as begun", title)
		}
	}
}

// requireKept looks at the journal after the program was ended: all that was seen on the screen is there, once, in its order, and of
// what was not seen yet a first part, or nothing. begun is false where there was nothing to keep.
func (w *walk) requireKept(h *harms) (begun bool) {
	w.t.Helper()
	dir, j := w.journal()
	raw, err := os.ReadFile(filepath.Join(dir, logbook.FileName))
	if dir != "" && !errors.Is(err, fs.ErrNotExist) {
		require.NoError(w.t, err)
	}
	require.LessOrEqual(w.t, len(j.Damaged), h.damaged+1, "%s", raw)
	if len(j.Damaged) > h.damaged {
		h.damaged++
		require.Equal(w.t, bytes.Count(raw, []byte("\n"))+1, j.Damaged[h.damaged-1].Line, "only the last line can be half\n%s", raw)
	}
	raw = raw[max(0, len(raw)-3000):] // enough to look at
	w.requireShownIsKept(j)
	var log []logbook.Data
	var readings []padReading
	openings, paired := map[string]bool{}, map[string]bool{}
	for _, e := range j.Entries {
		switch d := e.Data.(type) {
		case logbook.Step, logbook.Tick:
			log = append(log, d)
		case logbook.Opening:
			openings[fmt.Sprint(d.Take, d.ID)] = true
		case logbook.Reading:
			if d.Text == timing.NoReading {
				continue // an opening that was passed over
			}
			at := fmt.Sprint(d.Take, d.Opening)
			require.True(w.t, openings[at] && !paired[at], "reading %q belongs to opening %d of take %d\n%s", d.Text, d.Opening, d.Take, raw)
			require.Empty(w.t, d.Unusable)
			paired[at] = true
			readings = append(readings, padReading{d.Text, logbook.Place{Cylinder: d.Cylinder, Phase: d.Phase}})
		}
	}
	require.GreaterOrEqual(w.t, len(log), w.acked, "a tick or a step that was shown is lost, of %v\n%s", w.log[max(0, w.acked-1):], raw)
	require.LessOrEqual(w.t, len(log), len(w.log), "%s", raw)
	require.Equal(w.t, append([]logbook.Data{}, w.log[:len(log)]...), append([]logbook.Data{}, log...), "%s", raw)
	require.GreaterOrEqual(w.t, len(readings), w.answered, "a reading that was answered is lost, of %v\n%s", w.typed, raw)
	require.LessOrEqual(w.t, len(readings), len(w.typed), "%s", raw)
	require.Equal(w.t, append([]padReading{}, w.typed[:len(readings)]...), append([]padReading{}, readings...), "%s", raw)
	if len(log) > w.acked {
		h.unseen++
	}
	if len(readings) > w.answered {
		h.unanswered++
	}
	if len(readings) < len(w.typed) {
		h.lost++
	}
	w.typed, w.answered = readings, len(readings)
	_, begun = j.Begin()
	return begun
}

// stood is what the screen showed of a step.
type stood struct {
	id    string            // of the step: what is watched for the points shows no title
	title string            // of its page
	marks map[string]string // of what is to do
}

// stands reads it off the screen, where a step is shown.
func (w *walk) stands() *stood {
	st, _, _ := w.guide.Step()
	if w.face != faceStep || st.ID == "go_on" {
		return nil
	}
	s := stood{id: st.ID, marks: map[string]string{}}
	for _, row := range w.o.rows() {
		row = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(row), "> "))
		if step, title, is := strings.Cut(row, ": "); is && strings.HasPrefix(step, "step ") {
			s.title = title
		}
		if strings.HasPrefix(row, "[") {
			mark, text, _ := strings.Cut(row[1:], "] ")
			s.marks[text] = mark
		}
	}
	return &s
}
