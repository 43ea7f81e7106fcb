package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/timing/sheet"
)

// newSheetFrom runs sheet new with what is typed, and returns the exit code, what it printed and the file.
func newSheetFrom(t require.TestingT, dir, kind string, typed io.Reader) (code int, out, errs, file string) {
	file = filepath.Join(dir, kind+".toml")
	var stdout, stderr bytes.Buffer
	env := Env{In: typed, Out: &stdout, Err: &stderr, Getenv: os.Getenv}
	code = Main(context.Background(), []string{"sheet", "new", kind, file}, env)
	return code, stdout.String(), stderr.String(), file
}

// lines are what somebody types.
func lines(typed ...string) io.Reader { return strings.NewReader(strings.Join(typed, "\n") + "\n") }

// Wherever the answers end, nothing is written, and it is said.
func TestANewSheetIsWrittenOnlyWhenWhole(t *testing.T) {
	all := []string{"Twin", "1", "1", "54", "110", "", "2", "left", "right", "1", "1", "2,0", "", "0,1", "", "1", "1", "0,35", "", "30", "", ""}
	for n := range len(all) {
		code, out, errs, file := newSheetFrom(t, t.TempDir(), "engine", strings.NewReader(strings.Join(all[:n], "\n")))
		assert.Equal(t, ExitFailed, code, "%d answers", n)
		assert.Empty(t, out)
		assert.Contains(t, errs, "\nbreakcue: nothing was written\nbreakcue: error: the answers end before the sheet is whole\n")
		assert.NoFileExists(t, file)
	}
	code, out, errs, file := newSheetFrom(t, t.TempDir(), "engine", lines(all...))
	require.Equal(t, ExitOK, code, errs)
	assert.NotContains(t, errs, "no:")
	assert.Contains(t, out, "an engine sheet, nothing wrong with it")
	info, err := os.Stat(file)
	require.NoError(t, err)
	assert.Zero(t, info.Mode().Perm()&^0o644, "less where the user's umask says so")
	e, err := sheet.LoadEngine(file)
	require.NoError(t, err)
	assert.Equal(t, []string{"left", "right"}, e.Cylinders)
	assert.Equal(t, sheet.Battery, e.Ignition)
	assert.Equal(t, 2, e.Breaker.Sets)
}

func TestANewSheetInterrupted(t *testing.T) {
	for _, typed := range []string{"", "Twin\n1\n1\n"} {
		code, out, errs, file := newSheetFrom(t, t.TempDir(), "engine", interrupting{strings.NewReader(typed), t})
		assert.Equal(t, ExitInterrupted, code)
		assert.Empty(t, out)
		assert.Contains(t, errs, "\nbreakcue: nothing was written\n")
		assert.NotContains(t, errs, "error:")
		assert.NoFileExists(t, file)
	}
}

// A question after which a wrong answer or a step back was typed comes again; Enter then takes what was answered before.
func TestANewSheetGoesBack(t *testing.T) {
	_, _, errs, file := newSheetFrom(t, t.TempDir(), "engine", lines(
		"<", "Twn", "/", "Twin", "3", "1", "left", "1", "54", "20", "<", "40", "20", "25", // 25 mm of rod will do for a stroke of 40 mm
		"<", "<", "54", "", "110", "-", "", "", "", "4", "zero", "79", "<", "", "<", "<", "1", "2", "4", "90", "4", "1", "1", "0,35", "", "", ""))
	for _, want := range []string{
		`no: got "3", want a number from 1 to 2`, `no: got "left", want a number from 1 to 2`,
		"no: got 20 mm between centres, want more than 27 mm", "no: got 20 mm between centres, want more than 20 mm",
		"no: got 25 mm between centres, want more than 27 mm", `no: number, got "zero" (no digits where the number should be), want one`,
		"[79 thou] >", "[Twn] >", "no: got 90 thou, want less than the timing itself, 2 mm",
	} {
		assert.Contains(t, errs, want)
	}
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(text), "value = '2 mm' # before top dead centre\ntolerance = '4 thou' # plus or minus\n")
	assert.NotContains(t, string(text), "pin_offset", "left out")
}

// Whatever a name has in it, the sheet holds it as it was typed.
func TestANewSheetHoldsAnyName(t *testing.T) {
	for _, name := range []string{`a "b" 'c' \d`, `'''`, `"""`, `\u0041`, "Zündapparat № 5 🔧", "# no comment", "[breaker]", "x = 1", "2026-05-04", "C:\\new", "tab in", "=", "0"} {
		holdsName(t, t.TempDir(), name)
	}
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		name := strings.TrimSpace(rapid.StringOfN(rapid.RuneFrom([]rune{'"', '\'', '\\', '#', '=', '[', ']', ' ', 'a', 'ü', '語', '\u0301', '🔧', ',', '{', '.'}), 1, 20, -1).Draw(t, "name"))
		if name == "" || name == "<" || name == "/" || name == "-" {
			return
		}
		holdsName(t, dir, name)
	})
}

func holdsName(t require.TestingT, dir, name string) {
	code, _, errs, file := newSheetFrom(t, dir, "engine",
		lines(name, "1", "1", "54", "110", "", "", name+"!", "2", "2", "20", "", "1", "3", name+"?", "", "14 thou", "", "", "2", "2", name))
	require.Equal(t, ExitOK, code, errs)
	e, err := sheet.LoadEngine(file)
	require.NoError(t, err)
	assert.Equal(t, name, e.Name)
	assert.Equal(t, []string{name + "!"}, e.Cylinders)
	assert.Equal(t, name+"?", e.Hold)
	assert.Equal(t, []string{name}, e.Coils)
	assert.Equal(t, sheet.StaysOn, e.SourceCoil)
	require.NoError(t, os.Remove(file))
}

// What cannot be a name is told; a leaning inch dial of a long range is asked for all it needs.
func TestANewDial(t *testing.T) {
	code, out, errs, file := newSheetFrom(t, t.TempDir(), "dial", lines(
		"\xff", "bad\x07", "long one", "2", "", "", "1", "2", "2", "99", "0", "99", "0.6", "2", "20", "x", "5", "", "2", "-", "0.001", "", "0,0002", "0.0002", ""))
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, `which is no UTF-8 text`)
	assert.Contains(t, errs, `no: got "bad\a", want a name`)
	assert.Contains(t, errs, `no: got 99, want 0..11, the revolutions in its range`)
	assert.Contains(t, errs, "no: this is needed\n")
	assert.Contains(t, out, "it moves 1.0313 mm for each millimetre")
	d, err := sheet.LoadDial(file)
	require.NoError(t, err)
	assert.Equal(t, "mark", d.Zero.String())
	assert.Equal(t, "out", d.Counting.String())
	assert.InDelta(t, 0.6*25.4, float64(d.Preload), 1e-12, "rounding only")
	assert.InDelta(t, 2, float64(d.CrownSlopeU), 0)
	assert.False(t, d.Unchecked)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(text), "hysteresis = '0,0002 in'\n", "as it was typed")
}

// At a terminal each question waits for its answer; the number pad is enough, the file giving the name.
func TestANewSheetAtATerminal(t *testing.T) {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	defer master.Close()
	file := filepath.Join(t.TempDir(), "punt.toml")
	done := make(chan int, 1)
	go func() {
		env := Env{In: slave, Out: slave, Err: slave, InTTY: true, OutTTY: true, Getenv: os.Getenv}
		done <- Main(context.Background(), []string{"sheet", "new", "engine", file}, env)
		slave.Close()
	}()
	screen := ""
	until := func(what string) {
		buf := make([]byte, 4096)
		for !strings.Contains(screen, what) {
			n, err := master.Read(buf)
			screen += string(buf[:n])
			require.NoError(t, err, screen)
		}
		_, screen, _ = strings.Cut(screen, what)
	}
	for i, key := range []string{"", "1", "1", "54", "110", "-1", "/", "", "", "", "2", "1", "2.0", "", "0.1", "", "", ".35", "", "", "", ""} {
		until("> ")
		_, err := fmt.Fprint(master, key+"\r")
		require.NoError(t, err, "answer %d", i)
	}
	until("breakcue: written: ")
	until("an engine sheet, nothing wrong with it")
	until("engine: punt, a two-stroke with one cylinder (only)")
	until("pin: 1 mm off the crank's centre")
	until("ignition: by magneto")
	assert.Equal(t, ExitOK, <-done)
	assert.FileExists(t, file)
}

// Whatever is typed, a sheet that is written is one that can be read, and nothing else is written.
func FuzzSheetNew(f *testing.F) {
	f.Add("Twin\n1\n1\n54\n110\n\n2\nleft\nright\n1\n1\n2,0\n\n0,1\n\n1\n1\n0,35\n\n30\n\n2\nred\nblack\n")
	f.Add("\n2\n\n\n\n2\n1\n0\n\n2\n20\n5\n\n\n<\n/\n-\n\n\n\n\n")
	f.Fuzz(func(t *testing.T, typed string) {
		dir := t.TempDir()
		for kind, load := range map[string]func(string) error{
			"engine": func(file string) error { _, err := sheet.LoadEngine(file); return err },
			"dial":   func(file string) error { _, err := sheet.LoadDial(file); return err },
		} {
			code, out, errs, file := newSheetFrom(t, dir, kind, strings.NewReader(typed))
			if code == ExitOK {
				assert.NoError(t, load(file), errs)
				assert.Contains(t, out, "nothing wrong with it")
				continue
			}
			assert.NoFileExists(t, file)
			assert.Contains(t, errs, "nothing was written")
		}
	})
}
