//go:build unix

package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// padRoot names the folder for sessions; with it the test of this file is the program, at its terminal. Its clock goes on only when
// it is let, a tick after the other.
const padRoot = "BREAKCUE_PAD_ROOT"

// padArgs are the arguments of the program.
const padArgs = "BREAKCUE_PAD_ARGS"

const padTick = 20 * time.Millisecond

// bePad is the program.
func bePad(root string) {
	env := OSEnv()
	told, tell := os.NewFile(3, "told"), os.NewFile(4, "tell")
	var mu sync.Mutex
	now, let := monday, time.Duration(0)
	env.Now = func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		return now
	}
	env.Sleep = func(d time.Duration) {
		mu.Lock()
		defer mu.Unlock()
		for now, let = now.Add(d), let-d; let < 0; let += padTick {
			var tick [1]byte
			if _, err := told.Read(tick[:]); err != nil {
				os.Exit(3) // whoever tests is gone
			}
			_, _ = tell.Write(tick[:])
		}
	}
	os.Exit(Main(context.Background(), append(strings.Fields(os.Getenv(padArgs)), "--dir", root), env))
}

// operator sits before the terminal of the program, and has nothing but a number pad.
type operator struct {
	t   *testing.T
	cmd *exec.Cmd
	tty *os.File

	root       string
	told, tell *os.File // ticks, and that they were taken
	ticks      int

	mu    sync.Mutex
	emu   *vt.Emulator
	ended chan struct{} // the terminal is closed
}

// sit starts the program in a terminal of 80x24.
func sit(t *testing.T, root string, args ...string) *operator {
	o := &operator{t: t, root: root, emu: vt.NewEmulator(80, 24), ended: make(chan struct{})}
	o.cmd = exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$") // which is the program then
	o.cmd.Env = append(os.Environ(), padRoot+"="+root, padArgs+"="+strings.Join(args, " "), "TERM=xterm-256color",
		"XDG_CONFIG_HOME="+root+"-config", "XDG_STATE_HOME="+root+"-state")
	told, give, err := os.Pipe()
	require.NoError(t, err)
	take, tell, err := os.Pipe()
	require.NoError(t, err)
	o.told, o.tell = give, take
	o.cmd.ExtraFiles = []*os.File{told, tell}
	o.tty, err = pty.StartWithSize(o.cmd, &pty.Winsize{Cols: 80, Rows: 24})
	require.NoError(t, err)
	require.NoError(t, errors.Join(told.Close(), tell.Close()))
	t.Cleanup(func() { _ = o.cmd.Process.Kill(); o.tty.Close(); <-o.ended; _ = o.cmd.Wait() })
	go func() { _, _ = io.Copy(o.tty, o.emu) }() // what a terminal answers by itself
	go func() {
		defer close(o.ended)
		buf := make([]byte, 4096)
		for {
			n, err := o.tty.Read(buf)
			o.mu.Lock()
			_, _ = o.emu.Write(buf[:n])
			o.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	return o
}

// screen is what stands on the terminal, line breaks undone.
func (o *operator) screen() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return strings.Join(strings.Fields(o.emu.String()), " ")
}

// press presses keys of the pad.
func (o *operator) press(keys string) {
	o.t.Helper()
	require.Empty(o.t, strings.Trim(keys, "0123456789.+-*/\r"), "there is no such key on the pad")
	_, err := o.tty.WriteString(keys)
	require.NoError(o.t, err)
}

// recorded waits until no more than ten seconds of sound wait for the disk, on which a clock that goes so fast is hard.
func (o *operator) recorded() {
	const second = 48000 * 3 // bytes
	for {
		takes, _ := filepath.Glob(filepath.Join(o.root, "*", "take-*.wav"))
		if len(takes) == 0 || sizeOf(takes[len(takes)-1]) > second*(int64(time.Duration(o.ticks)*padTick/time.Second)-10) {
			return
		}
		runtime.Gosched()
	}
}

// tick lets the program's clock go on; it returns false when the program has ended.
func (o *operator) tick() bool {
	if o.ticks++; o.ticks%50 == 0 {
		o.recorded()
	}
	tick := []byte{'t'}
	if _, err := o.told.Write(tick); err != nil {
		return false
	}
	_, err := io.ReadFull(o.tell, tick)
	return err == nil
}

// watch lets time go on until the screen is such; it returns false when the program has ended before.
func (o *operator) watch(what string, such func(screen string) bool) bool {
	o.t.Helper()
	for range 5 * time.Minute / padTick { // far more than anything takes
		if such(o.screen()) {
			return true
		}
		if !o.tick() {
			<-o.ended
			return such(o.screen())
		}
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	require.Fail(o.t, "not on the screen", "want %s on\n%s", what, o.emu.String())
	return false
}

func (o *operator) sees(texts ...string) {
	o.t.Helper()
	require.True(o.t, o.watch(fmt.Sprintf("%q", texts), func(screen string) bool {
		for _, text := range texts {
			if !strings.Contains(screen, text) {
				return false
			}
		}
		return true
	}), "%q, the program has ended\n%s", texts, o.screen())
}

var shownByTheBench = regexp.MustCompile(`([0-9.+/]+) is on the dial of the bench`)

// measures types what the dial of the bench shows in so many passes.
func (o *operator) measures(passes int) {
	for i := range passes {
		var reading string
		o.watch("a reading", func(screen string) bool {
			m := shownByTheBench.FindStringSubmatch(screen)
			if m == nil || !strings.Contains(screen, "Dial reading") {
				return false
			}
			reading = m[1]
			return true
		})
		o.press(reading + "\r")
		o.watch("the reading taken", func(screen string) bool {
			return strings.Contains(screen, fmt.Sprintf("%s (%s): ", reading, pump.Count(i+1, "pass", "passes"))) && !shownByTheBench.MatchString(screen)
		})
	}
}

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
	if root := os.Getenv(padRoot); root != "" {
		bePad(root)
	}
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
