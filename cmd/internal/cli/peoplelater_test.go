package cli

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// again runs a command on another day, at a terminal or not, and gives what it printed.
func (w *workplace) again(t *testing.T, tty bool, in string, args ...string) string {
	w.out.Reset()
	w.errs.Reset()
	w.env.In, w.env.InTTY, w.env.OutTTY = strings.NewReader(in), tty, false
	require.Equal(t, ExitOK, w.run(t, args...), "%v: %s", args, w.errs.String())
	return w.out.String()
}

// guidedTake is the whole job with the guide. Where nothing is typed the readings are said aloud into the second channel.
func guidedTake(t *testing.T, typed bool) *mechanic {
	w := newWorkplace(t, nil)
	if inner := w.wrap; !typed {
		w.wrap = func(src audio.Source) audio.Source {
			return inner(&talker{Source: src, channel: 1, loud: 0.5, rng: rand.New(rand.NewPCG(7, 1))})
		}
	}
	m := newMechanic(t, w)
	m.measure = func(place logbook.Place, i int) {
		for k := i; k < len(job) && job[k].place == place; k++ {
			at := m.opens(0.8)
			m.passes = append(m.passes, m.opened-1)
			m.until(at + 0.5)
			if typed {
				m.strike(job[k].reading + "\n")
			}
			m.until(at + 2)
		}
	}
	m.begin(t, append(append([]string{}, sheetArgs...), "--dir", m.root)...)
	m.work()
	return m
}

// The readings are on paper on the day, or spoken, and are given to the openings of the recording on the next.
func TestReviewingLater(t *testing.T) {
	live := guidedTake(t, true)
	require.Equal(t, ExitOK, live.code, live.errs.String())
	typed, _ := live.journal(t)
	assertJob(t, typed, live.ofPasses(), 1e-3) // noise
	live.assertGuided(typed, 0)

	m := guidedTake(t, false)
	require.Equal(t, ExitInconclusive, m.code, "nothing was typed")
	bare, dir := m.journal(t)
	require.Len(t, bare.Unread, len(job), "those of the steps that measure, and no others")
	assert.Contains(t, m.errs.String(), fmt.Sprintf("breakcue log amend %s --ask", filepath.Base(dir)))
	require.Len(t, bare.Steps.Openings, m.between)
	tuesday := time.Date(2026, 5, 5, 9, 0, 0, 0, time.UTC)
	m.env.Now = func() time.Time { return tuesday }
	take := filepath.Join(dir, "take-01.wav")
	name := filepath.Base(dir)

	// The recording has every opening, each with a mark of the same number.
	var found reviewResult
	require.NoError(t, json.Unmarshal([]byte(m.again(t, false, "", "review", take, "--json")), &found))
	var opened []float64
	for _, e := range found.Edges {
		if e.Kind == "open" {
			opened = append(opened, e.Time)
		}
	}
	truth := m.truth()
	require.Len(t, opened, len(truth))
	for i := range opened {
		assert.InDelta(t, truth[i], opened[i], 1e-3) // some frames: noise
	}
	marks := map[string]int64{}
	cues, _ := cuesOf(t, take)
	for _, c := range cues {
		marks[c.Label] = c.Frame
	}

	// What awaits a reading is told with its number and its instant in the take: there it was said.
	shown := m.again(t, false, "", "log", "show", name, "--dir", m.root)
	flat := strings.Join(strings.Fields(shown), " ")
	assert.Contains(t, flat, fmt.Sprintf("; left, as left: number %d at ", bare.Unread[4].ID), "the step tells where they belong")
	for i, e := range bare.Unread {
		assert.Contains(t, flat, fmt.Sprintf("number %d at %.3f s", e.ID, e.TimeS))
		assert.InDelta(t, m.ofPasses()[i], e.TimeS, 1e-3)
		assert.InDelta(t, e.TimeS, float64(marks[fmt.Sprintf("points open %d", e.ID)])/48000, 1e-3) // placed before it was settled
	}

	// By the numbers of the openings that were passes, whatever was heard between them: some in a command each, the others asked for.
	var lines, asked strings.Builder
	for i := len(job) - 1; i >= 0; i-- {
		pass := job[i]
		fmt.Fprintf(&lines, "# %s %s\n%d*%s\n", pass.place.Cylinder, pass.place.Phase, bare.Unread[i].ID, pass.reading)
		if i%4 == 1 {
			m.again(t, false, "", "log", "amend", name, "--dir", m.root, "--opening", strconv.FormatInt(bare.Unread[i].ID, 10),
				"--reading", pass.reading, "--why", "from the paper", "--who", "Ada")
		}
	}
	for i, pass := range job {
		if i%4 != 1 {
			fmt.Fprintln(&asked, pass.reading)
		}
	}
	given := m.again(t, true, asked.String(), "log", "amend", name, "--dir", m.root, "--ask", "--why", "from the paper", "--who", "Ada")
	assert.Contains(t, given, "no opening awaits a reading\n")
	for i, e := range bare.Unread {
		next := ""
		for _, later := range found.Edges {
			if later.Kind == "open" && later.Time > e.TimeS+0.01 { // not itself
				next = fmt.Sprintf(", next at %.3f s", later.Time)
				break
			}
		}
		prompt := fmt.Sprintf("opening %d, %s, %s, at %.3f s of take-01.wav%s: ", e.ID, job[i].place.Cylinder, job[i].place.Phase.Words(), e.TimeS, next)
		assert.Equal(t, i%4 != 1, strings.Contains(m.errs.String(), prompt), prompt)
	}
	amended, _ := m.journal(t)
	assertJob(t, amended, m.ofPasses(), 1e-3)
	m.assertGuided(amended, 0)
	assert.Equal(t, results(t, typed), results(t, amended))

	// The same asked for one by one: a number gives the reading of any opening, and nothing has to be typed for the others.
	var fresh session.Report
	require.NoError(t, json.Unmarshal([]byte(m.again(t, true, lines.String(), append(append([]string{}, sheetArgs...),
		"--dir", t.TempDir(), "--input", take, "--json")...)), &fresh))
	assert.Contains(t, m.errs.String(), fmt.Sprintf("opening %d at %.3f s: taken, as of left, as found\n", bare.Unread[0].ID, bare.Unread[0].TimeS))
	assert.Len(t, fresh.Unread, m.between)
	fresh.Unread = nil
	assertJob(t, fresh, m.ofPasses(), 1e-3)
	assert.Equal(t, results(t, typed), results(t, fresh))

	shown = m.again(t, false, "", "log", "show", name, "--dir", m.root)
	for _, pass := range job {
		assert.Contains(t, shown, fmt.Sprintf("corrected by Ada on 2026-05-05 09:00: text from \"-\" to %q: from the paper", pass.reading))
	}
}
