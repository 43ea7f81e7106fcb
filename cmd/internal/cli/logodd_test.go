//go:build unix

package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// logged runs a command of log and returns what it prints.
func logged(ctx context.Context, args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	env := Env{Out: &o, Err: &e, Getenv: func(string) string { return "somebody" }, Now: time.Now}
	code = Main(ctx, append([]string{"log"}, args...), env)
	return code, o.String(), e.String()
}

// What is called a journal and is no file is told what it is by every command; none waits for it to say something.
func TestAJournalThatIsNoFile(t *testing.T) {
	for what, puts := range map[string]func(path string) error{
		"is a named pipe, want a file":                func(path string) error { return syscall.Mkfifo(path, 0o600) },
		"is a folder, want a file":                    func(path string) error { return os.Mkdir(path, 0o755) },
		"is a device, want a file":                    func(path string) error { return os.Symlink("/dev/zero", path) },
		"is a link to what is not there, want a file": func(path string) error { return os.Symlink("nowhere", path) },
		"too many levels of symbolic links":           func(path string) error { return os.Symlink(logbook.FileName, path) },
	} {
		t.Run(what, func(t *testing.T) {
			root := t.TempDir()
			wholeSession(t, root, "twin")
			dir := filepath.Join(root, "odd")
			require.NoError(t, os.Mkdir(dir, 0o755))
			require.NoError(t, puts(filepath.Join(dir, logbook.FileName)))
			for _, args := range [][]string{
				{"show", "odd"}, {"show", dir}, {"check", "odd"}, {"check", "--all"}, {"check", "odd", "--repair"}, {"export", "odd"}, {"compare", "odd"}, {"compare", "odd", "2026"},
				{"amend", "odd", "--entry", "1", "--field", "name", "--to", "x", "--why", "y"},
			} {
				code, _, errs := logged(t.Context(), append(args, "--dir", root)...)
				assert.Equal(t, ExitFailed, code, "%q: %s", args, errs)
				assert.Contains(t, errs, what, "%q", args)
				assert.Contains(t, errs, "breakcue: hint: ", "%q", args)
			}
			for _, args := range [][]string{{"list"}, {"export", "--all"}} {
				code, out, errs := logged(t.Context(), append(args, "--dir", root)...)
				assert.Equal(t, ExitOK, code, errs)
				assert.Contains(t, errs, what, "%q", args)
				assert.Contains(t, out, "2026-05-04-1011-twin", "the others are there all the same")
			}
		})
	}
}

// A recording that is a pipe holds up no check, and neither does a lock that is one hold up a correction.
func TestPipesBesideTheJournal(t *testing.T) {
	root := t.TempDir()
	dir := wholeSession(t, root, "twin")
	w, err := logbook.OpenAppend(dir, time.Now)
	require.NoError(t, err)
	_, err = w.Append(logbook.Take{Take: 2, File: "take-02.wav"})
	require.NoError(t, err)
	require.NoError(t, w.Close())
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "take-02.wav"), 0o600))
	code, out, errs := logged(t.Context(), "check", dir)
	assert.Equal(t, ExitFailed, code, errs)
	assert.Contains(t, out, "recording of take 2, take-02.wav: is a named pipe, want a file")

	lock := filepath.Join(dir, "journal.lock")
	require.NoError(t, os.Remove(lock))
	require.NoError(t, syscall.Mkfifo(lock, 0o600))
	code, _, errs = logged(t.Context(), "amend", dir, "--pass", "left as_found 2", "--throw-away", "--why", "it slipped")
	assert.Equal(t, ExitFailed, code)
	assert.Contains(t, errs, "journal.lock is a named pipe, want a file")
}

// In its own folder a session is called as everywhere.
func TestASessionFromWithin(t *testing.T) {
	root := t.TempDir()
	t.Chdir(wholeSession(t, root, "twin"))
	for _, args := range [][]string{{"show", "."}, {"check", "."}, {"export", "."}, {"show", "../2026-05-04-1011-twin/."}} {
		code, out, errs := logged(t.Context(), args...)
		assert.Equal(t, ExitOK, code, errs)
		assert.Contains(t, out, "2026-05-04-1011-twin", "%q", args)
	}
	code, _, errs := logged(t.Context(), "compare", ".")
	assert.Equal(t, ExitFailed, code)
	assert.Contains(t, errs, `2026-05-04-1011-twin: no session of "Lathe-shed twin" before it`)
}

// Whoever interrupts a command is not kept waiting; what a check has done by then is told.
func TestLogCommandsStop(t *testing.T) {
	root := t.TempDir()
	wholeSession(t, root, "twin")
	stopped, stop := context.WithCancelCause(t.Context())
	stop(interrupted{os.Interrupt})
	for _, args := range [][]string{{"list"}, {"show", "2026"}, {"check", "--all"}, {"export", "--all"}, {"compare", "2026"},
		{"amend", "2026", "--pass", "left as_found 2", "--throw-away", "--why", "it slipped"}} {
		code, out, errs := logged(stopped, append(args, "--dir", root)...)
		assert.Equal(t, ExitInterrupted, code, "%q", args)
		assert.Empty(t, errs, "%q: whoever interrupted knows", args)
		if !slices.Contains(args, "check") {
			assert.Empty(t, out, "%q", args)
		}
		assert.False(t, strings.Contains(out, "sound"), "%q: %s", args, out)
	}
}
