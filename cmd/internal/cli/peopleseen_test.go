package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// kept are rows of a screen kept with package cue, from the first to before the second, counted as on the screen.
func kept(t *testing.T, scene string, from, to int) []string {
	raw, err := os.ReadFile(filepath.Join("..", "cue", "testdata", scene+"-80x24.txt"))
	require.NoError(t, err)
	return strings.Split(string(raw), "\n")[from+1 : to+1] // colours come first
}

// The rows of a screen with the big word of a state, and with the newest result where there is one.
const (
	wordFrom, wordTo     = 3, 10
	resultFrom, resultTo = 16, 20
)

// assertWord asserts that the big word is that of a scene.
func assertWord(t *testing.T, scene string, rows []string) {
	t.Helper()
	for i, row := range kept(t, scene, wordFrom, wordTo) {
		assert.Equal(t, inside(row), inside(rows[wordFrom+i]), "the big word of the scene %s, row %d", scene, i)
	}
}

// inside is a row without the pattern at its ends.
func inside(row string) string {
	r := []rune(row + strings.Repeat(" ", 80))
	return strings.TrimSpace(string(r[4:76]))
}

// glance is a screen as it is now.
func (w *workplace) glance() (rows []string, cells []seen) {
	w.screen.mu.Lock()
	defer w.screen.mu.Unlock()
	return w.screen.rows, w.screen.cells
}

// turned is how much of a screen differs from another: cells with another background or other letters, and those with other letters.
func turned(a, b []seen) (all, letters float64) {
	for i := range a {
		switch {
		case a[i].text != b[i].text:
			all++
			letters++
		case a[i].style != b[i].style:
			all++
		}
	}
	return all / float64(len(a)), letters / float64(len(a))
}

// Not a sound comes out but the test tone: all that happens is on the screen, with colours and without, and in no colour alone.
func TestSomebodyHardOfHearing(t *testing.T) {
	told := map[string][]string{}
	for name, env := range map[string]map[string]string{"colours": nil, "no colours": {"NO_COLOR": "1"}} {
		t.Run(name, func(t *testing.T) { told[name] = byEye(t, name == "colours", env) })
	}
	assert.Equal(t, told["colours"], told["no colours"], "what is told with colours is told without them")
}

// byEye is the whole job by somebody who looks at the screen alone. It returns the state of the points as it was told at each item.
func byEye(t *testing.T, coloured bool, env map[string]string) (told []string) {
	m := newMechanic(t, newWorkplace(t, env))
	m.sound.Open = 0.1 // the condenser lets some of the tone through
	word := func(scene string) []string {
		return m.watch(t, "the big word of the scene "+scene, func(rows []string) bool {
			for i, row := range kept(t, scene, wordFrom, wordTo) {
				if len(rows) == 0 || inside(row) != inside(rows[wordFrom+i]) {
					return false
				}
			}
			return true
		})
	}
	var open seen // the last cell, while the points were open
	closed := func() {
		word("closed-count")
		frames := 0
		m.watch(t, "the background of points closed", func([]string) bool {
			_, now := m.glance()
			if frames++; frames > 5 {
				m.block()
			}
			return open == (seen{}) || now[len(now)-1].style != open.style
		})
	}
	whole := func(before []seen) { // the background of all, and the big word
		frames := 0
		m.watch(t, "the whole screen changed", func([]string) bool {
			_, after := m.glance()
			all, letters := turned(before, after)
			// Where the frame before was drawn late, the background waits, for it must not flash: its clock is the sound.
			if frames++; frames > 5 {
				m.block()
			}
			if all > 0.95 && letters > 0.1 { // whatever the colours
				open = after[len(after)-1]
				return true
			}
			return false
		})
	}
	m.sight = func(st session.Step, _ string, rows []string) {
		if st.Work == session.ByWatch {
			told = append(told, strings.Join(rows[wordFrom:wordTo], "\n"))
			assert.Contains(t, unbroken(rows), "P O I N T S")
			return
		}
		assert.Contains(t, unbroken(rows), ": "+st.Title)
		told = append(told, m.bar(rows))
	}
	m.settled = func(st session.Step) {
		if st.Work == session.ByWatch && m.opened > 0 {
			closed()
		}
	}
	m.whileOpen = func(st session.Step, before []seen) {
		if st.Work != session.ByWatch {
			rows := m.sees(t, "POINTS OPEN", fmt.Sprintf("pening %d was", m.opened))
			assert.Equal(t, "POINTS OPEN", m.bar(rows))
			return
		}
		rows := word("open")
		if m.opened > 1 { // the first time the levels are learnt
			assert.Contains(t, unbroken(rows), fmt.Sprintf("Opening %d was", m.opened))
			whole(before)
		}
	}
	m.measure = func(place logbook.Place, i int) {
		for k := i; k < len(job) && job[k].place == place; k++ {
			closed()
			_, before := m.glance()
			at := m.opens(0.8)
			m.passes = append(m.passes, m.opened-1)
			m.until(at + 0.3)
			m.sees(t, fmt.Sprintf("Opening %d was just now.", m.opened))
			word("open-prompt")
			whole(before)
			m.strike(job[k].reading)
			typed := m.sees(t, "P O I N T S")
			m.strike("\n")
			m.until(at + 1.3)
			rows := m.sees(t, append(verdicts[k], job[k].reading+" (")...)
			assert.NotEqual(t, typed[resultFrom:resultTo], rows[resultFrom:resultTo])
			if large[k] != "" {
				assert.Equal(t, kept(t, large[k], resultFrom, resultTo), rows[resultFrom:resultTo], "the error in large letters")
			}
		}
	}
	m.begin(t, append(append([]string{}, sheetArgs...), "--dir", m.root)...)
	m.work()
	require.Equal(t, ExitOK, m.code, m.errs.String())
	r, _ := m.journal(t)
	assertJob(t, r, m.ofPasses(), 1e-3) // noise
	m.assertGuided(r, 0)
	assert.Nil(t, m.asked.Alert)
	assert.Zero(t, m.card.sounded)
	assert.Contains(t, m.out.String(), "verdict: in tolerance")
	for style := range m.screen.style {
		ink, paper, _ := style.Decompose()
		assert.Equal(t, coloured, ink != tcell.ColorDefault || paper != tcell.ColorDefault, "%v", style)
	}
	return told
}

// verdicts are what stands on the screen after each pass of the job: the error, the verdict, its interval, what is still needed, what to move.
var verdicts = [][]string{
	{"too early: move the base plate", "clockwise; out of tolerance, 95 %: "},
	{"0.28 mm too early: move the base plate 1.4° clockwise; out of tolerance, 95 %: 0.20 to 0.36 mm too early"},
	{"too late: move "},
	{"too late: move its own plate"},
	{"0.01 mm too late; cannot tell yet, 1 more pass, 95 %: "},
	{"0.00 mm: neither early nor late; in tolerance, 95 %: "},
	{"cannot tell yet, 1 more pass"},
	{"in tolerance, 95 %: "},
}

// large are the scenes that show the error of the pass in the same large letters.
var large = []string{1: "result", 7: ""}

// bar is what a page says of the points.
func (m *mechanic) bar(rows []string) string {
	words := strings.Fields(rows[1])
	require.Greater(m.t, len(words), 2)
	return words[0] + " " + words[1]
}

// In line, with no condenser, a lead that falls off looks as open points do: the screen says when an opening counts, and when not.
func TestWhetherAnOpeningCountsIsSeen(t *testing.T) {
	w := newWorkplace(t, map[string]string{"NO_COLOR": "1"}, fourTimes[:6]...)
	w.sound.Frames = 48000 * 6
	inner := w.wrap
	w.wrap = func(src audio.Source) audio.Source { return inner(&halved{Source: src, at: 48000 * 32 / 10}) } // a clip slips, third time
	w.session(t)
	w.until(1.3)
	w.sees(t, "Opening 1 was just now. It counts when the points close again.")
	w.until(1.8)
	rows := w.sees(t, "1 opening so far.")
	assert.NotContains(t, unbroken(rows), "It counts when")
	w.strike("2.03/")
	w.strike("\n")
	w.sees(t, "2.03/; first open? left, as found")
	w.until(3.96) // half a second after the points closed
	lost := w.sees(t, "! WARNING: what comes back fits neither state: check the clips", "Open and close the points once")
	assertWord(t, "lost", lost)
	w.until(5)
	w.sees(t, "2 openings so far.", "opening 3 does not count: the tone came back 6 dB quieter; check the clips")
	w.strike("q")
	require.True(t, w.ended)
}
