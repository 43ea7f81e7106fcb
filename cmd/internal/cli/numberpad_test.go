//go:build unix

package cli

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// A whole session of an engine with two cylinders, from the cold engine to what is put back, with no key but those of the number pad.
func TestAWholeSessionByTheNumberPad(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "session", "--bench", "--engine", "../../../testdata/sheets/twin.toml", "--dial", "../../../testdata/sheets/dial.toml")
	sheets, err := session.LoadSheets("../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	steps, err := session.Steps(sheets)
	require.NoError(t, err)
	for i, st := range steps {
		for _, item := range append(append([]string{}, st.Care...), st.Do...) {
			if st.ID == "set" { // what to move comes first
				break
			}
			o.sees(item[:min(len(item), 30)])
			o.press("\r")
		}
		_ = i
		if st.Work == session.ByRead {
			o.measures(3)
			o.press("*")
			o.sees("what next?")
			o.press("\r")
		}
		if st.ID == "set" {
			o.press("+")
		}
	}
	for o.tick() {
	}
	<-o.ended
	require.NoError(t, o.cmd.Wait(), "%s", o.screen())
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	require.Empty(t, j.Damaged)
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	assert.LessOrEqual(t, len(r.Unread), 4, "the hand at the bench may have begun one pass more before it is told of the next step")
	for _, c := range sheets.Engine.Cylinders {
		for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
			ph, ok := r.Phase(logbook.Place{Cylinder: c, Phase: phase})
			require.True(t, ok, "%s %s", c, phase)
			assert.Equal(t, 3, ph.N)
		}
	}
	assert.Equal(t, logbook.End{Reason: "finished"}, j.Entries[len(j.Entries)-1].Data)
}

// However somebody jumps, the engine is not started before the list of what is put back is ticked. Whoever leaves is told how to go on
// practising, not at the sound card.
func TestTheStartWaitsForWhatIsPutBack(t *testing.T) {
	o := sit(t, filepath.Join(t.TempDir(), "sessions"), "session", "--bench")
	o.sees("step 1 of 20")
	o.press("*")
	o.sees("what next?")
	o.press("5")
	o.sees("all steps")
	o.press("20\r")
	o.sees("step 19 of 20", "step 20 comes after this one")
	o.press("*")
	o.sees("what next?")
	o.press("9")
	for o.tick() {
	}
	<-o.ended
	assert.Contains(t, o.screen(), "breakcue session --resume --bench --dir")
	assert.NotContains(t, o.screen(), "no result", "none is expected")
	require.NoError(t, o.cmd.Wait())
	var errs strings.Builder
	env := Env{Out: io.Discard, Err: &errs, Getenv: func(string) string { return "" }}
	assert.Equal(t, ExitFailed, Main(t.Context(), []string{"session", "--resume", "--dir", o.root}, env))
	assert.Contains(t, errs.String(), "give --bench too to go on with ")
}

// The crank goes once round only after the dial has been taken out.
func TestTurningOnceMoreTakesTheDialOutFirst(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	o := sit(t, filepath.Join(t.TempDir(), "sessions"), "session", "--bench", "--engine", "../../../testdata/sheets/twin-half.toml",
		"--dial", "../../../testdata/sheets/dial.toml")
	const out = "[ ] take the dial out, then turn the crank once round by hand"
	for _, typed := range []string{"6\r", "7", "5\r"} {
		o.sees("step ")
		o.press("*")
		o.sees("what next?")
		if typed != "7" {
			o.press("5")
			o.sees("all steps")
		}
		o.press(typed)
		if typed == "7" {
			o.sees("step 5 of 20", out)
			o.press("*")
			o.sees("what next?")
			o.press("2")
			o.sees("step 5 of 20", out) // whoever begins it once more still has the dial in
		}
	}
	o.sees("step 5 of 20")
	assert.NotContains(t, o.screen(), out, "not for somebody who only looks at the step")
}

// Whoever closes the window interrupts the work, as by Ctrl-C: the recording and the journal are ended.
func TestTheWindowIsClosed(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "session", "--bench")
	o.sees("step 1 of 20", "recording take-01.wav")
	require.NoError(t, o.tty.Close())
	for o.tick() {
	}
	<-o.ended
	require.Error(t, o.cmd.Wait(), "an exit code of its own")
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	assert.Equal(t, logbook.End{Reason: "interrupted"}, j.Entries[len(j.Entries)-1].Data)
}
