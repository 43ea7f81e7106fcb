//go:build unix

package cli

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// onItsWay is a guided session somewhere on its way, in its first measurement.
func onItsWay(t *testing.T, by ...string) *walk {
	w := newWalk(t, rand.New(rand.NewPCG(20260504, 12)), filepath.Join(t.TempDir(), "sessions"))
	w.lead(nil)
	w.o = sitLater(t, w.root, 0, by, "session", "--bench", "--engine", padEngine, "--dial", padDial)
	require.True(t, w.sees())
	for n := 0; n < 1; n = len(w.typed) {
		require.True(t, w.goesOn(), "%s", w.o.screen())
	}
	return w
}

// ends lets time go on until the program has ended, and returns its exit code.
func (w *walk) ends() int {
	for w.o.tick() {
	}
	<-w.o.ended
	return exitCode(w.o.cmd.Wait())
}

// requireGoesOnAt looks at a session that was ended so, and goes on with it: at the very step, whose reading is still there.
func (w *walk) requireGoesOnAt(end logbook.End) {
	w.t.Helper()
	_, j := w.journal()
	require.Equal(w.t, end, j.Entries[len(j.Entries)-1].Data)
	var h harms
	require.True(w.t, w.requireKept(&h))
	require.Zero(w.t, h.damaged)
	st, _, _ := w.guide.Step()
	w.begin(1)
	w.was = &stood{id: st.ID}
	for h.same == 0 {
		w.resumes(&h)
		require.Equal(w.t, 1, h.asked)
	}
	require.Contains(w.t, w.o.screen(), "step ")
}

func TestAGuidedSessionIsEndedBySignals(t *testing.T) {
	for _, tt := range []struct {
		name string
		end  func(w *walk)
		code int
	}{
		{"a hang-up, told by the system and by the shell", func(w *walk) {
			require.NoError(t, w.o.cmd.Process.Signal(syscall.SIGHUP))
			w.o.tick()
			_ = w.o.cmd.Process.Signal(syscall.SIGHUP) // should it not have ended yet
		}, ExitTerminated},
		{"told to end", func(w *walk) { require.NoError(t, w.o.cmd.Process.Signal(syscall.SIGTERM)) }, ExitTerminated},
		{"Ctrl-C", func(w *walk) {
			_, err := w.o.tty.WriteString("\x03")
			require.NoError(t, err)
		}, ExitInterrupted},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := onItsWay(t)
			tt.end(w)
			require.Equal(t, tt.code, w.ends(), "%s", w.o.screen())
			w.o.requireGivenBack()
			assert.Contains(t, w.o.screen(), "go on with: breakcue session --resume --bench --dir")
			w.requireGoesOnAt(logbook.End{Reason: "interrupted"})
		})
	}
}

// The window of the terminal is closed: the system tells so by a signal, and takes nothing any more.
func TestTheTerminalOfAGuidedSessionIsClosed(t *testing.T) {
	w := onItsWay(t)
	require.NoError(t, w.o.tty.Close())
	require.NotZero(t, w.ends())
	_, j := w.journal()
	end, ok := j.Entries[len(j.Entries)-1].Data.(logbook.End)
	require.True(t, ok)
	require.Equal(t, "interrupted", end.Reason, "whatever is seen first: the signal, or that the terminal is gone")
	w.requireGoesOnAt(end)
}

// Ctrl-Z stops the session, and gives the terminal back meanwhile; fg goes on with it.
func TestAGuidedSessionIsStopped(t *testing.T) {
	w := onItsWay(t, "sh", "-c", `set -m; "$@"; echo it stands still; read go; fg`, "sh")
	_, err := w.o.tty.WriteString("\x1a")
	require.NoError(t, err)
	for !strings.Contains(w.o.screen(), "it stands still") {
		runtime.Gosched() // no tick: nobody would take it
	}
	w.o.requireGivenBack()
	before, err := os.ReadFile(filepath.Join(w.dir(), logbook.FileName))
	require.NoError(t, err)
	_, err = w.o.tty.WriteString("go\r")
	require.NoError(t, err)
	for n := 1; n < 2; n = len(w.typed) {
		require.True(t, w.goesOn(), "%s", w.o.screen())
	}
	after, err := os.ReadFile(filepath.Join(w.dir(), logbook.FileName))
	require.NoError(t, err)
	require.Equal(t, string(before), string(after[:len(before)]))
	w.o.press("*")
	w.o.sees("what next?")
	w.o.press("9")
	require.Equal(t, ExitOK, w.ends(), "%s", w.o.screen())
	w.o.requireGivenBack()
	w.requireGoesOnAt(logbook.End{Reason: "left"})
}
