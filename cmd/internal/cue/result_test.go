package cue

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// differing counts the rows in which two frames of one size differ.
func differing(a, b frame) (n int) {
	for y := range a.h {
		for x := range a.w {
			if a.cells[y*a.w+x] != b.cells[y*a.w+x] {
				n++
				break
			}
		}
	}
	return n
}

// TestResultIsLarge: on a screen of 80x24 a result has letters of three rows or more, also without half blocks, until something is
// typed. A row is 5 to 8 mm high, and 2 m ask for 10 mm.
func TestResultIsLarge(t *testing.T) {
	for _, coarse := range []bool{false, true} {
		for _, size := range [][2]int{{80, 24}, {120, 40}, {60, 24}, {80, 20}} {
			draw := func(result, typed string) frame {
				v := measured(View{State: Open, Number: 7, OpenedAt: noon})
				v.Result, v.Typed = result, typed
				return paint(v, at{now: noon, coarse: coarse}, size[0], size[1])
			}
			for _, other := range []string{"1.75 LATE", "0.00", "?"} {
				assert.GreaterOrEqual(t, differing(draw("0.28 EARLY", ""), draw(other, "")), 3, "%s at %v", other, size)
				assert.Zero(t, differing(draw("0.28 EARLY", "2"), draw(other, "2")), "what is typed takes its place")
			}
			assert.NotZero(t, differing(draw("0.28 EARLY", "2"), draw("0.28 EARLY", "3")))
		}
	}
}

// TestVerdictIsReadable: after a reading the words of the verdict are whole, with a task and with a warning beside.
func TestVerdictIsReadable(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {120, 40}, {40, 12}} {
		for _, said := range []string{"out of tolerance", "in tolerance", "cannot tell yet, 2 more passes"} {
			for _, warning := range []string{"", "The sound card clips: turn the input down until the level is below -3 dBFS."} {
				v := measured(View{State: Closed, Number: 7, Heading: "in line", Health: "Signal: tone -14.1 dBFS.", Note: "Opening 6 thrown away."})
				v.Warning = warning
				v.Advice = "2.03/1.98: 0.28 mm too early: move the base plate 1.4° anticlockwise; " + said + ", 95 %: 0.21 to 0.35 mm too early"
				text := paint(v, at{now: noon}, size[0], size[1]).String()
				assert.Contains(t, strings.Join(strings.Fields(text), " "), said, "%v\n%s", size, text)
				assert.Contains(t, text, "Turn back to 2.85", "the task")
			}
		}
	}
}

// TestBigWordStays: a task or a result neither moves nor shrinks the big word.
func TestBigWordStays(t *testing.T) {
	for size, rows := range map[[2]int]int{{80, 24}: 10, {120, 40}: 19, {40, 12}: 5} {
		asked := View{State: Open, Number: 7, OpenedAt: noon, Prompt: "Dial reading, left, as found"}
		task, result := asked, measured(asked)
		task.Task = "Turn back to 2.85 or beyond."
		want := paint(asked, at{now: noon}, size[0], size[1])
		require.Contains(t, want.String(), "█", "the word is big")
		for _, v := range []View{task, result} {
			got := paint(v, at{now: noon}, size[0], size[1])
			assert.True(t, slices.Equal(want.cells[:rows*size[0]], got.cells[:rows*size[0]]), "%v\n%s", size, got)
		}
	}
}

// TestResultInTwoRows: where a result is too wide for the area it is broken at a blank, and written small where that does not do.
func TestResultInTwoRows(t *testing.T) {
	draw := func(w, h int) string {
		f := newFrame(w, h)
		f.figures("0.28 EARLY", at{}, area{0, 0, w, h})
		return strings.TrimSpace(f.String())
	}
	assert.Equal(t, 4, strings.Count(draw(60, 4), "\n")+1)
	assert.Equal(t, 8, strings.Count(draw(40, 8), "\n")+1)
	assert.Equal(t, "0.28 EARLY", draw(40, 7))
	assert.Equal(t, "0.28 EARLY", draw(20, 20))
	_, ok := spell("ABCDEFGHIJKLMNOPQRSTUVWXYZ 0123456789.,:/+-%°?")
	assert.True(t, ok)
}

// TestKeysBesideATask: who practises sees what the dial shows, what came of the pass before, and still what the keys do.
func TestKeysBesideATask(t *testing.T) {
	v := measured(View{State: Closed, Number: 8})
	v.Result, v.Task = "", "2.28/2.24 is on the dial of the bench."
	assert.Contains(t, paint(v, at{now: noon}, 80, 24).String(), "Enter: take the reading")
}
