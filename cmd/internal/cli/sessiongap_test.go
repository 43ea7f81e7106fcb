//go:build unix

package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// stepNumber returns the number of a step of the twin's job.
func stepNumber(t *testing.T, id string) int {
	sheets, err := session.LoadSheets("../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	steps, err := session.Steps(sheets)
	require.NoError(t, err)
	for i, st := range steps {
		if st.ID == id {
			return i + 1
		}
	}
	require.Fail(t, "no step "+id)
	return 0
}

// jumps goes to a step by its number; on a screen each key stands for itself, else it is a line.
func (o *operator) jumps(n int, line string) {
	o.t.Helper()
	o.press("*" + line)
	o.sees("what next?")
	o.press("5" + line)
	o.sees("Number of the step")
	o.press(fmt.Sprintf("%d\r", n))
}

// leaves ends the program, to be gone on with later.
func (o *operator) leaves(line string) {
	o.t.Helper()
	o.press("*" + line)
	o.sees("what next?")
	o.press("9" + line)
	for o.tick() {
	}
	<-o.ended
	_ = o.cmd.Wait()
}

// gapsOf returns the gaps in the one journal below a folder, in order.
func gapsOf(t *testing.T, root string) (dir string, out []logbook.Gap, ticks int) {
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	for _, e := range j.Entries {
		switch d := e.Data.(type) {
		case logbook.Gap:
			out = append(out, d)
		case logbook.Tick:
			ticks++
		}
	}
	return dirs[0], out, ticks
}

// The gap is typed with the keys of a number pad, corrected by typing it again, and known when the session is gone on with.
func TestTheGapByTheNumberPad(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "session", "--bench", "--engine", "../../../testdata/sheets/twin.toml", "--dial", "../../../testdata/sheets/dial.toml")
	o.sees("step 1 of")
	o.jumps(stepNumber(t, "gap_found"), "")
	o.sees("Gap of set 1, cylinder left, as found, in mm", "0.35 mm is the feeler that drags at the bench", "digits: the gap")
	o.press("\r") // it ticks as ever
	o.press("0.5")
	o.sees("> 0.5_")
	o.press("\r")
	o.sees("set 1, 0.50 mm: 0.15 mm wider than specified", "Gap of set 2, cylinder right, as found, in mm")
	o.press("4.\r")
	o.sees("kept, but not used: number, got \"4.\"", "Gap of set 2, cylinder right, as found, in mm")
	o.press(".35\r")
	o.sees("set 2, 0.35 mm: as specified; 1*0.5 corrects set 1", ".35 is taken")
	o.press("1*0.42\r")
	o.sees("set 1, 0.42 mm: 0.07 mm wider than specified; 1*0.42 corrects set 1", "0.42 is taken")
	o.press("+")
	o.sees("Gap of set 1, cylinder left, as left, in mm")
	o.press("0.35\r")
	o.sees("Gap of set 2, cylinder right, as left, in mm")
	o.leaves("")
	_, gaps, ticks := gapsOf(t, root)
	want := []logbook.Gap{
		{Text: "0.5", Set: 1, Phase: logbook.AsFound},
		{Text: "4.", Set: 2, Phase: logbook.AsFound, Unusable: gaps[1].Unusable},
		{Text: ".35", Set: 2, Phase: logbook.AsFound}, {Text: "0.42", Set: 1, Phase: logbook.AsFound}, {Text: "0.35", Set: 1, Phase: logbook.AsLeft},
	}
	assert.Equal(t, want, gaps)
	assert.NotEmpty(t, gaps[1].Unusable)
	assert.Equal(t, 0, ticks, "the first thing of the step is a caution")

	o = sit(t, root, "session", "--bench", "--resume")
	o.sees("before you go on")
	o.press("+")
	o.sees("Gap of set 2, cylinder right, as left, in mm")
	o.jumps(stepNumber(t, "gap_found"), "")
	o.sees("the gap as found", "set 1, 0.42 mm: 0.07 mm wider than specified; 1*0.42 corrects set 1")
	o.leaves("")
}

// Line by line it is the same.
func TestTheGapInLines(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "session", "--bench", "--plain", "--engine", "../../../testdata/sheets/twin.toml", "--dial", "../../../testdata/sheets/dial.toml")
	o.sees("step 1 of")
	o.jumps(stepNumber(t, "gap"), "\r")
	o.sees("Gap of set 1, cylinder left, as left, in mm")
	o.press("0\r") // one key alone, and no choice
	o.sees("set 1, 0.00 mm: 0.35 mm narrower than specified")
	o.press("1*.36\r")
	o.sees("set 1, 0.36 mm: 0.01 mm wider than specified")
	_, err := o.tty.WriteString("about four\r")
	require.NoError(t, err)
	o.sees("kept, but not used: number, got \"about four\"")
	o.leaves("\r")
	_, gaps, _ := gapsOf(t, root)
	require.Len(t, gaps, 3)
	assert.Equal(t, logbook.Gap{Text: "0", Set: 1, Phase: logbook.AsLeft}, gaps[0])
	assert.Equal(t, logbook.Gap{Text: ".36", Set: 1, Phase: logbook.AsLeft}, gaps[1])
	assert.Equal(t, "about four", gaps[2].Text)
	assert.Equal(t, 2, gaps[2].Set)
}

// With one set of points there is one question, in the unit of the sheet.
func TestTheGapOfOneSet(t *testing.T) {
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "session", "--bench", "--engine", "../../../testdata/sheets/single.toml", "--dial", "../../../testdata/sheets/dial.toml")
	o.sees("step 1 of")
	o.jumps(8, "")
	o.sees("Gap of the points, as found, in thou", "15.0 thou is the feeler that drags at the bench")
	_, err := o.tty.WriteString("17,5\r") // its decimal sign on a pad of another country
	require.NoError(t, err)
	o.sees("17.5 thou: 2.5 thou wider than specified, as found; type it again to correct it", "17,5 is taken")
	o.press("16.5\r")
	o.sees("16.5 thou: 1.5 thou wider than specified, as found", "16.5 is taken")
	o.leaves("")
	_, gaps, _ := gapsOf(t, root)
	assert.Equal(t, []logbook.Gap{{Text: "17,5", Set: 1, Phase: logbook.AsFound}, {Text: "16.5", Set: 1, Phase: logbook.AsFound}}, gaps)
}
