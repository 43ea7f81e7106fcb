//go:build unix

package cue

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"
)

const (
	enterAlternate = "\x1b[?1049h"
	leaveAlternate = "\x1b[?1049l"
	showCursor     = "\x1b[?25h"
)

// bench is a terminal with the test at its far end.
type bench struct {
	t             *testing.T
	master, slave *os.File
	before        *term.State
	seen          []byte // all that came out
	read          int    // how much of it until has gone through
	stderr        bytes.Buffer
}

func newBench(t *testing.T) *bench {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { _ = master.Close(); _ = slave.Close() })
	b := &bench{t: t, master: master, slave: slave}
	b.resize(80, 24)
	// Far more than anything here takes: a test that waits in vain fails instead of hanging.
	require.NoError(t, master.SetReadDeadline(time.Now().Add(10*time.Second)))
	b.before = b.modes()
	return b
}

func (b *bench) resize(columns, rows uint16) {
	require.NoError(b.t, pty.Setsize(b.master, &pty.Winsize{Cols: columns, Rows: rows}))
	// Setsize makes reads block for ever.
	require.NoError(b.t, syscall.SetNonblock(int(b.master.Fd()), true))
}

func (b *bench) modes() *term.State {
	s, err := term.GetState(int(b.slave.Fd()))
	require.NoError(b.t, err)
	return s
}

// start runs a command on the terminal, as the first of a session of its own.
func (b *bench) start(mode string, command ...string) *exec.Cmd {
	cmd := exec.Command(command[0], command[1:]...)
	cmd.Env = append(os.Environ(), childMode+"="+mode, "TERM=xterm-256color", "COLORTERM=", "LC_ALL=C.UTF-8", "NO_COLOR=")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = b.slave, b.slave, &b.stderr
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	require.NoError(b.t, cmd.Start())
	b.t.Cleanup(func() { _ = cmd.Process.Kill() })
	return cmd
}

// until reads on until text has come and returns what came before it.
func (b *bench) until(text string) string {
	b.t.Helper()
	for {
		if before, _, found := strings.Cut(string(b.seen[b.read:]), text); found {
			b.read += len(before) + len(text)
			return before
		}
		chunk := make([]byte, 4096)
		n, err := b.master.Read(chunk)
		b.seen = append(b.seen, chunk[:n]...)
		require.NoError(b.t, err, "waiting for %q, there was %q", text, b.seen[b.read:])
	}
}

func (b *bench) strike(keys string) {
	_, err := b.master.WriteString(keys)
	require.NoError(b.t, err)
}

func TestInterruptRestoresTerminal(t *testing.T) {
	b := newBench(t)
	cmd := b.start("open", os.Args[0])
	b.until(enterAlternate)
	b.until("Ctrl-C ends.")
	assert.NotEqual(t, b.before, b.modes())
	b.strike("\x03")
	assert.Contains(t, b.until(leaveAlternate), showCursor)
	b.until("interrupted")
	require.NoError(t, cmd.Wait())
	assert.Equal(t, b.before, b.modes())
	assert.Empty(t, b.stderr.String())
}

func TestPanicRestoresTerminal(t *testing.T) {
	for mode, message := range map[string]string{"panic-drawing": "the pen broke", "panic-main": "the engine fell off the bench"} {
		t.Run(mode, func(t *testing.T) {
			b := newBench(t)
			cmd := b.start(mode, os.Args[0])
			b.until(leaveAlternate)
			var exit *exec.ExitError
			require.ErrorAs(t, cmd.Wait(), &exit)
			assert.Equal(t, 2, exit.ExitCode(), "the panic goes on")
			assert.Contains(t, b.stderr.String(), message)
			assert.Equal(t, b.before, b.modes())
		})
	}
}

func TestStalledTerminal(t *testing.T) {
	b := newBench(t)
	cmd := b.start("stalled", os.Args[0]) // nobody reads what it writes
	require.Error(t, cmd.Wait())
	assert.Equal(t, ErrStalled.Error()+"\n", b.stderr.String())
	assert.Equal(t, b.before, b.modes())
}

func TestResize(t *testing.T) {
	b := newBench(t)
	cmd := b.start("closed", os.Args[0])
	b.until("Ctrl-C ends.")
	b.resize(120, 40)
	b.until("\x1b[40;1H") // the last row
	b.until("Ctrl-C ends.")
	b.strike("\x03")
	require.NoError(t, cmd.Wait())
}

// TestStopAndGoOn stops the screen by Ctrl-Z under a shell that has jobs, and makes it go on in the foreground.
func TestStopAndGoOn(t *testing.T) {
	b := newBench(t)
	cmd := b.start("closed", "sh", "-c", `set -m; "$0"; echo stopped; read x; fg`, os.Args[0])
	b.until("Ctrl-C ends.")
	b.strike("\x1a")
	assert.Contains(t, b.until("stopped"), leaveAlternate)
	assert.Equal(t, b.before, b.modes())
	b.strike("\r")
	b.until(enterAlternate)
	b.until("Ctrl-C ends.")
	b.strike("\x03")
	b.until("interrupted")
	require.NoError(t, cmd.Wait())
	assert.Equal(t, b.before, b.modes())
}

// TestCtrlZWithoutJobs: where there is nobody to make the process go on, it is not stopped for good.
func TestCtrlZWithoutJobs(t *testing.T) {
	b := newBench(t)
	cmd := b.start("closed", os.Args[0])
	b.until("Ctrl-C ends.")
	b.strike("\x1a")
	b.until(leaveAlternate)
	b.until(enterAlternate)
	b.until("Ctrl-C ends.")
	b.strike("\x03")
	require.NoError(t, cmd.Wait())
}

// open takes the terminal over in this process.
func (b *bench) open(shown func(View, time.Time)) *Screen {
	b.t.Setenv("TERM", "xterm-256color")
	tty, err := tcell.NewDevTtyFromDev(b.slave.Name())
	require.NoError(b.t, err)
	s, err := OpenScreen(Options{Tty: tty, Shown: shown, Now: func() time.Time { return noon }})
	require.NoError(b.t, err)
	return s
}

// TestManyKeys: none is lost, though nobody takes them for a while.
func TestManyKeys(t *testing.T) {
	b := newBench(t)
	s := b.open(nil)
	typed := strings.Repeat("1.98 2,03+", 100)
	b.strike(typed + "\r")
	for _, want := range typed {
		require.Equal(t, Key{Rune: want}, <-s.Keys())
	}
	assert.Equal(t, Key{Name: Enter}, <-s.Keys())
	b.strike("\x1b[57414u")
	assert.Equal(t, Key{Name: Enter}, <-s.Keys(), "that of the keypad")
	require.NoError(t, s.Close())
	assert.Equal(t, b.before, b.modes())
	b.until(leaveAlternate)
	assert.NotContains(t, string(b.seen), "\x1b=", "the keypad stays as it is")
}

// TestQuietScreen: a frame is one write, and what is there already is not written again.
func TestQuietScreen(t *testing.T) {
	b := newBench(t)
	shown := make(chan View)
	s := b.open(func(v View, _ time.Time) { shown <- v })
	before := s.wire.writes.Load()
	s.Show(scenes()[3].view)
	<-shown
	assert.EqualValues(t, 1, s.wire.writes.Load()-before)
	assert.Less(t, s.wire.bytes.Load(), int64(4096), "what a terminal of Linux takes at once")
	for range 5 {
		s.Show(scenes()[3].view)
		<-shown
	}
	assert.EqualValues(t, 1, s.wire.writes.Load()-before)
	require.NoError(t, s.Close())
}

// TestNoColourOnTerminal: with NO_COLOR nothing that sets a colour goes out, from taking over to giving back.
func TestNoColourOnTerminal(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	b := newBench(t)
	s := b.open(nil)
	s.Show(scenes()[4].view)
	b.until("Ctrl-C ends.")
	require.NoError(t, s.Close())
	b.until(leaveAlternate)
	assert.NotRegexp(t, `\x1b\[([0-9]*;)*(3|4|9|10)[0-9](;[0-9]*)*m`, string(b.seen))
	assert.Contains(t, string(b.seen), "\x1b[7m", "reverse video")
}

// TestHangUp closes the far end of the terminal.
func TestHangUp(t *testing.T) {
	b := newBench(t)
	s := b.open(nil)
	s.Show(View{State: Open})
	require.NoError(t, b.master.Close())
	<-s.Lost()
	assert.ErrorContains(t, s.Err(), "cue: the terminal is lost: ")
	s.Show(View{State: Closed})
	_ = s.Close() // returns, whatever it could do
}

func TestNoSuchTerminal(t *testing.T) {
	b := newBench(t)
	tty, err := tcell.NewDevTtyFromDev(b.slave.Name())
	require.NoError(t, err)
	_, err = OpenScreen(Options{Tty: tty, Getenv: func(name string) string { return map[string]string{"TERM": "no-such-thing"}[name] }})
	assert.ErrorContains(t, err, `cue: taking over the terminal: TERM is "no-such-thing": `)
	assert.Equal(t, b.before, b.modes())
}
