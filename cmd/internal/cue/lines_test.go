package cue

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestLines plays a short session and holds its lines against a golden file.
func TestLines(t *testing.T) {
	var out strings.Builder
	now := noon
	l := NewLines(&out, func() time.Time { return now })
	v := View{Heading: "in line, tone 1010 Hz, device cable", Keys: "x and Enter: throw the newest opening away", Health: "signal: listening"}
	show := func(after time.Duration, change func()) {
		now = noon.Add(after)
		change()
		l.Show(v)
		l.Show(v) // what is not new is not told
	}
	show(100*time.Millisecond, func() {})
	show(2*time.Second, func() { v.State, v.Health, v.Record = Closed, "signal: tone -14.1 dBFS", "recording take-01.wav 0:01" })
	show(3*time.Second, func() { v.Health, v.Record = "signal: tone -14.2 dBFS", "recording take-01.wav 0:02" })
	show(12410*time.Millisecond, func() {
		v.State, v.Number, v.OpenedAt, v.Provisional = Open, 1, noon.Add(12402*time.Millisecond), true
		v.Prompt = "reading for opening 1, mm:"
	})
	show(13*time.Second, func() { v.Typed = "2.03" })
	show(20*time.Second, func() { v.State, v.Provisional, v.Prompt, v.Typed = Closed, false, "", "" })
	show(30*time.Second, func() { v.State, v.Number, v.OpenedAt, v.Provisional = Open, 2, now, true })
	show(31*time.Second, func() { v.Number, v.Thrown, v.Note, v.OpenedAt = 1, 1, "opening 2 thrown away", time.Time{} })
	show(32*time.Second, func() { v.State, v.Warning = Lost, "the tone does not come back:\nlook at the leads" })
	show(33*time.Second, func() { v.State, v.Warning = Unknown, "" })
	show(34*time.Second, func() { v.State, v.Advice, v.Record = Closed, "turn slowly forward", "" })
	// An opening of which the end is told at once.
	show(40*time.Second, func() { v.Number, v.OpenedAt, v.Provisional = 2, noon.Add(39500*time.Millisecond), false })
	require.NoError(t, l.Err())
	golden(t, "lines.txt", out.String())
}

// TestLinesOfAPage goes through a step and a measurement and holds the lines against a golden file.
func TestLinesOfAPage(t *testing.T) {
	var out strings.Builder
	now := noon
	l := NewLines(&out, func() time.Time { return now })
	v := View{State: Closed, Keys: "Enter: tick, next  b: back  q: end", Page: safePage()}
	show := func(change func()) {
		now = now.Add(time.Second)
		change()
		l.Show(v)
		l.Show(v) // what is not new is not told
	}
	tick := func(i int) {
		lines := strings.Split(v.Page.Items, "\n")
		lines[i] = strings.Replace(lines[i], openMark, doneMark, 1)
		v.Page.Items = strings.Join(lines, "\n")
	}
	show(func() {})
	show(func() { v.Page.Current = 2 })
	show(func() { tick(2); v.Page.Current = 3 })
	show(func() { tick(3) })
	show(func() { v.Page.Current = 4 }) // none is left
	show(func() { v.Page = Page{Title: "Which ignition?", Items: "1 battery and coil\n2 magneto\n", Current: 1} })
	show(func() {
		v.Page = Page{Title: "all steps", Items: "[x] 1 make safe\n[-] 2 plugs out\n[ ] 3 the cable", Current: 2}
	})
	show(func() { v.Page, v.Task = Page{}, "! take the cable off before the engine is kicked" })
	show(func() { v.Task, v.Prompt = "Turn back to 2.85 or beyond.", "Dial reading, left, as found" })
	show(func() { v.Result, v.Advice = "0.28 EARLY", "2.03/1.98: 0.28 mm too early; out of tolerance" })
	show(func() { v.Result, v.Task = "?", "" })
	show(func() { v.Result = "" })
	require.NoError(t, l.Err())
	golden(t, "lines-page.txt", out.String())
}

// TestLinesArePlain: whatever is shown, each write is one line without control characters.
func TestLinesArePlain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := writerFunc(func(p []byte) (int, error) {
			text, ended := strings.CutSuffix(string(p), "\n")
			assert.True(t, ended)
			assert.Equal(t, text, clean(text))
			assert.Regexp(t, `^\d+\.\d{3} s  .`, text)
			return len(p), nil
		})
		l := NewLines(w, func() time.Time { return noon })
		for range 3 {
			l.Show(anyView().Draw(t, "view"))
		}
	})
}

func TestLinesError(t *testing.T) {
	writes := 0
	l := NewLines(writerFunc(func([]byte) (int, error) { writes++; return 0, errors.New("pipe is closed") }), func() time.Time { return noon })
	l.Show(View{Heading: "a", Keys: "b"})
	assert.EqualError(t, l.Err(), "cue: writing a line: pipe is closed")
	assert.Equal(t, 1, writes)
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }
