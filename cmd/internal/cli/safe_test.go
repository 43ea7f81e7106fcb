//go:build unix

package cli

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// program builds breakcue and returns its path.
func program(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "breakcue")
	out, err := exec.Command("go", "build", "-o", path, "breakcue/cmd/breakcue").CombinedOutput()
	require.NoError(t, err, "%s", out)
	return path
}

func exitCode(err error) int {
	if e, ok := err.(*exec.ExitError); ok {
		return e.ExitCode()
	}
	return 0
}

// linger lets the program get on with what it does, mostly for microseconds, seldom for a tenth of a second.
func linger(random *rand.Rand) {
	for range random.IntN(1 << random.IntN(22)) {
		runtime.Gosched()
	}
}

// harm is what a session was left as when something ended it.
type harm struct {
	begun   bool // its journal has a beginning
	kept    int  // readings
	half    int  // lines of the journal that are not whole
	cut     bool // the last line is whole but for its end
	dir     string
	journal logbook.Journal
}

// requireSafe looks at the one session in root after something ended it. The readings in its journal must be the first of those
// typed, in their order, and at least those that were answered; at most the last line is damaged.
func requireSafe(t *testing.T, root string, typed []string, answered int) (h harm) {
	t.Helper()
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	var raw []byte
	if len(dirs) > 0 {
		require.Len(t, dirs, 1)
		h.dir = dirs[0]
		if raw, err = os.ReadFile(filepath.Join(h.dir, logbook.FileName)); !os.IsNotExist(err) {
			require.NoError(t, err)
			h.journal, err = logbook.Read(h.dir)
			require.NoError(t, err)
		}
	}
	_, h.begun = h.journal.Begin()
	h.cut = len(raw) > 0 && !bytes.HasSuffix(raw, []byte("\n")) && len(h.journal.Damaged) == 0
	texts := []string{}
	for _, e := range h.journal.Entries {
		if r, ok := e.Data.(logbook.Reading); ok && r.Text != "-" { // that is written for openings passed over
			texts = append(texts, r.Text)
		}
	}
	h.kept, h.half = len(texts), len(h.journal.Damaged)
	require.GreaterOrEqual(t, h.kept, answered, "a reading that was answered is lost: %q\n%s", typed[:answered], raw)
	require.LessOrEqual(t, h.kept, len(typed), "%s", raw)
	require.True(t, slices.Equal(typed[:h.kept], texts), "%q were typed: %s", typed, raw)
	require.LessOrEqual(t, h.half, 1, "%s", raw)
	for _, d := range h.journal.Damaged {
		require.Equal(t, bytes.Count(raw, []byte("\n"))+1, d.Line, "only the last line can be: %s\n%s", d, raw)
	}
	return h
}

// requireGoesOn looks at a session that something ended with the commands for it, and goes on with it, live: one more reading is taken,
// and every one from before is still there. Then it is removed: hundreds of recordings are large.
func requireGoesOn(t *testing.T, root string, h harm) {
	t.Helper()
	defer os.RemoveAll(root)
	s := newShop(t, fourTimes[:2]...)
	shown := s.run(t, "log", "list", "--dir", root)
	require.Equal(t, ExitOK, shown, s.errs.String())
	if !h.begun {
		require.Zero(t, h.kept)
		require.Equal(t, ExitFailed, s.run(t, "session", "--resume", "--dir", root), "there is nothing to go on with")
		require.Contains(t, s.errs.String(), "breakcue: hint: ")
		return
	}
	require.Equal(t, ExitOK, s.run(t, "log", "show", h.dir), s.errs.String())
	s.sound.Frames = 48000 * 1000 // until it is ended, whenever what was typed arrives
	s.typedAt(map[float64]string{1.6: "2.40/2.37", 1.7: "q"})
	before, err := os.ReadFile(filepath.Join(h.dir, logbook.FileName))
	require.NoError(t, err)
	require.Equal(t, ExitOK, s.run(t, "session", "--resume="+filepath.Base(h.dir), "--plain", "--dir", root), s.errs.String())
	after, err := os.ReadFile(filepath.Join(h.dir, logbook.FileName))
	require.NoError(t, err)
	require.True(t, bytes.HasPrefix(after, before), "what was written stays as it was")
	j, err := logbook.Read(h.dir)
	require.NoError(t, err)
	require.Len(t, j.Damaged, h.half)
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	require.Equal(t, h.kept+1, passesOf(r), "%s", after)
	assert.LessOrEqual(t, logbook.Wrong(logbook.Check(j)), h.half, "%v", logbook.Check(j))
}

// passesOf returns how many readings a report has, whether used or not, those passed over left out.
func passesOf(r session.Report) (n int) {
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			for _, p := range ph.Passes {
				if p.Reading != "-" {
					n++
				}
			}
		}
	}
	return n
}
