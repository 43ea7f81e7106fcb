//go:build unix

package cli

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/profiles"
)

// A whole check of the cable at a terminal, with the keys of a number pad: every step, one of them left off, one skipped and made
// afterwards.
func TestACheckOfTheCableByTheNumberPad(t *testing.T) {
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "leads", "--bench", "--wiring", "series", "--resistor", "47ohm", "--profile", root+".json")
	o.sees("step 1 of 6: make it safe", "coil lead off the points", "Enter: all of this is so")
	o.press("\r")
	o.sees("step 2 of 6: clips apart", "touch neither each other", "COMES BACK", "hardly anything", "[ ] points open")
	o.press("\r")
	o.glimpses("MEASURING, KEEP STILL [##")
	o.press("\r")
	o.glimpses("it is being measured")
	o.press("-") // left off
	o.sees("step 2 of 6: clips apart", "COMES BACK")
	o.press("\r")
	o.sees("[x] clips apart: hardly anything", "step 3 of 6: clips together", "-26.5 dBFS")
	o.press("-")
	o.sees("step 2 of 6")
	o.press("+")
	o.sees("step 3 of 6")
	o.press("\r")
	o.sees("[x] clips together: -26.5 dBFS", "step 4 of 6: clips on the resistor")
	o.press("+")
	o.sees("[-] clips on the resistor", "step 5 of 6: points closed", "one clip on the insulated side")
	o.press("\r")
	o.sees("step 6 of 6: points open", "leave the clips where they are")
	o.press("\r")
	o.sees("the cable will do", "condenser of about", "the output may have up to 600 Ω")
	o.press("*")
	o.sees("which step?", "3 clips on the resistor", "8 what it comes to")
	o.press("3")
	o.sees("step 4 of 6: clips on the resistor")
	o.press("\r") // all others were made: what it comes to is next
	o.sees("the cable will do", "condenser of about 0.22 µF", "a lead that falls off from an opening", "breakcue session --bench")
	o.press("\r")
	for o.tick() {
	}
	<-o.ended
	require.NoError(t, o.cmd.Wait(), "%s", o.screen())
	o.requireGivenBack()
	assert.Contains(t, o.screen(), "go on with: breakcue session --bench", "what it came to stays on the terminal")
	k, err := profiles.Read(root + ".json")
	require.NoError(t, err)
	assert.Equal(t, builtInBench, k.Device)
	assert.True(t, k.Profile.LeadOff)
}

// On a small terminal all of the verdict can be read, page by page, and what stays on it afterwards has no more columns.
func TestAVerdictOnASmallTerminal(t *testing.T) {
	o := sit(t, filepath.Join(t.TempDir(), "sessions"), "leads", "--bench", "--wiring", "series")
	o.sees("step 1 of 5")
	o.resize(40, 15)
	o.press("\r")
	o.sees("step 2 of 5: clips apart", "COMES BACK hardly anything, -9")
	o.press("\r")
	o.glimpses("MEASURING, KEEP STILL [##")
	for _, next := range []string{"step 3 of 5", "step 4 of 5", "step 5 of 5"} {
		o.sees(next)
		o.press("\r")
	}
	o.sees("the cable will do", "more below", "+: more")
	require.NotContains(t, o.screen(), "go on with")
	page := func(screen string) string {
		_, text, _ := strings.Cut(screen, "the cable will do") // what the level does above it is no other page
		return text
	}
	turn := func() {
		before := page(o.screen())
		o.press("+")
		require.True(t, o.watch("another page", func(screen string) bool { return page(screen) != "" && page(screen) != before }))
	}
	for range 20 { // more than there are sentences
		if strings.Contains(o.screen(), "go on with") {
			break
		}
		turn()
		require.Contains(t, o.screen(), "more above")
	}
	require.Contains(t, o.screen(), "- go on with: breakcue session --bench")
	turn() // from the top again
	require.NotContains(t, o.screen(), "more above")
	o.press("\r")
	for o.tick() {
	}
	<-o.ended
	require.NoError(t, o.cmd.Wait(), "%s", o.screen())
	var rows []string
	for _, row := range o.rows() {
		rows = append(rows, strings.TrimRight(row, " "))
	}
	assert.Contains(t, rows, "  the cable is wired in line with the")
	assert.Contains(t, rows, "    points, as given")
	assert.Contains(t, rows, "  go on with: breakcue session --bench")
}

// What is wrong is said at its step, which stays until somebody has decided.
func TestAStepThatWentWrongStays(t *testing.T) {
	root := filepath.Join(t.TempDir(), "sessions")
	o := sit(t, root, "leads", "--bench", "--fault", "clips-touch")
	o.sees("step 1 of 5")
	o.press("\r")
	o.sees("step 2 of 5", "COMES BACK")
	o.press("\r")
	o.sees("step 3 of 5: clips together", "COMES BACK")
	o.press("\r")
	o.sees("step 3 of 5: clips together", "sound alike", "Enter: measure again")
	o.press("\r")
	o.glimpses("MEASURING")
	o.sees("sound alike", "Enter: measure again")
	o.press("-")
	o.sees("step 2 of 5: clips apart")
	o.press("+")
	o.sees("step 3 of 5: clips together")
	o.press("+")
	o.sees("step 4 of 5: points closed")
	o.press("*")
	o.sees("which step?")
	o.press("9")
	for o.tick() {
	}
	<-o.ended
	require.Error(t, o.cmd.Wait())
	assert.Equal(t, ExitInconclusive, o.cmd.ProcessState.ExitCode())
	o.requireGivenBack()
	assert.Contains(t, o.screen(), "the check was ended before it came to a result")
}

// Ctrl-C ends a check, on the screen and as lines, and gives the terminal back.
func TestACheckIsInterrupted(t *testing.T) {
	for _, plain := range []bool{false, true} {
		args := []string{"leads", "--bench"}
		if plain {
			args = append(args, "--plain")
		}
		o := sit(t, filepath.Join(t.TempDir(), "sessions"), args...)
		o.sees("step 1 of 5", "Enter: all of this is so")
		o.press("\r")
		o.sees("step 2 of 5", "Enter: measure")
		o.press("\r")
		if plain {
			o.sees("measuring, some seconds")
			o.press("\r")
			o.glimpses("it is being measured")
			o.press("-\r")
			o.sees("left off")
		} else {
			o.glimpses("MEASURING")
		}
		_, err := o.tty.WriteString("\x03")
		require.NoError(t, err)
		for o.tick() {
		}
		<-o.ended
		require.Error(t, o.cmd.Wait())
		assert.Equal(t, ExitInterrupted, o.cmd.ProcessState.ExitCode())
		o.requireGivenBack()
	}
}
