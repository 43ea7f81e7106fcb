//go:build unix

package cli

import (
	"bytes"
	"encoding/binary"
	"flag"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// limitedTo is how large a file may become [bytes]; with it TestFullDiskWhileReadingsAreTyped becomes the program that its arguments
// name. To who writes, such a limit (RLIMIT_FSIZE) is what a full disk is: the first part of a line goes in, then there is an error.
const limitedTo = "BREAKCUE_LIMITED_TO"

func beLimited(size string) error {
	n, err := strconv.ParseUint(size, 10, 64)
	if err != nil {
		return err
	}
	limit := syscall.Rlimit{Cur: n, Max: n}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		return err
	}
	return syscall.Exec(flag.Arg(0), flag.Args(), os.Environ())
}

// sizeOf returns how many bytes a file has; 0 when it is not there.
func sizeOf(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

var notInTheLog = regexp.MustCompile(`reading "([^"]*)" (?:is|and those after it are) not in the log`)

// requireFull looks at how a session ended on a full disk: exit code 1, and in words why and what to do. A reading of which is said that
// it is not in the log is the first of those typed that is not; and no line is there by half.
func requireFull(t *testing.T, ended error, screen string, h harm, typed []string) {
	t.Helper()
	require.Equal(t, ExitFailed, exitCode(ended), screen)
	require.Regexp(t, `breakcue: error: .*(file too large|no space left on device)`, screen)
	require.Contains(t, screen, "breakcue: hint: ")
	require.NotContains(t, screen, "goroutine ")
	if said := notInTheLog.FindStringSubmatch(screen); said != nil {
		at := slices.Index(typed, said[1])
		require.Equal(t, h.kept, at, "so many are in the log: %s", screen)
	}
	require.Zero(t, h.half, "what did not fit is taken back: %s", screen)
	require.False(t, h.cut, "what did not fit is taken back: %s", screen)
	if !h.begun {
		require.Empty(t, h.dir, "a session that could not be begun leaves nothing")
	}
}

func TestFullDiskWhileReadingsAreTyped(t *testing.T) {
	if size := os.Getenv(limitedTo); size != "" {
		require.NoError(t, beLimited(size))
	}
	bin := program(t)
	root := filepath.Join(t.TempDir(), "sessions")
	p, err := typedUntilFull(t, root, bin)
	require.NoError(t, err, "%s", p.screen)
	whole := requireSafe(t, root, readingsAmong(typedLines), p.answered())
	size := sizeOf(filepath.Join(whole.dir, logbook.FileName))

	random := rand.New(rand.NewPCG(20260504, 4))
	var empty int
	for range moments {
		root := filepath.Join(t.TempDir(), "sessions")
		t.Setenv(limitedTo, strconv.FormatInt(random.Int64N(size-10), 10)) // the time of day may be a byte shorter, the path longer
		p, err := typedUntilFull(t, root, os.Args[0], "-test.run=^"+t.Name()+"$", "--", bin)
		typed := readingsAmong(typedLines[:p.typed])
		h := requireSafe(t, root, typed, p.answered())
		requireFull(t, err, string(p.screen), h, typed)
		if !h.begun {
			empty++
		}
		requireGoesOn(t, root, h)
	}
	t.Logf("%d full disks: no reading lost that was answered; %d sessions not begun", moments, empty)
}

// What comes from a pipe is nowhere else: it is told which readings are not in the log.
func TestFullDiskWhileReadingsArePiped(t *testing.T) {
	bin := program(t)
	random := rand.New(rand.NewPCG(20260504, 8))
	var some, named int
	for range moments {
		root := filepath.Join(t.TempDir(), "sessions")
		cmd := exec.Command(os.Args[0], slices.Concat([]string{"-test.run=^TestFullDiskWhileReadingsAreTyped$", "--", bin}, recordedArgs(root, "--readings", "-"))...)
		cmd.Env = append(os.Environ(), limitedTo+"="+strconv.Itoa(random.IntN(7000))) // the journal is a little larger
		cmd.Stdin = strings.NewReader(strings.Join(pipedLines, "\n"))
		screen, err := cmd.CombinedOutput()
		answered := 0
		if bytes.Contains(screen, []byte("verdict: ")) {
			answered = len(pipedLines)
		}
		h := requireSafe(t, root, pipedLines, answered)
		requireFull(t, err, string(screen), h, pipedLines)
		if h.begun && h.kept < len(pipedLines) {
			some++
		}
		if notInTheLog.Match(screen) {
			named++
		}
		requireTold(t, string(screen), h, err)
		requireGoesOn(t, root, h)
	}
	require.GreaterOrEqual(t, named, some)
	t.Logf("%d full disks: %d while openings and readings were written; the first reading that was not is named", moments, named)
}

// requireTold looks for the piped readings that are not in the log: they are printed, as lines of a file, each and no other.
func requireTold(t *testing.T, screen string, h harm, ended error) {
	t.Helper()
	_, lost, told := strings.Cut(screen, "keep them in a file for --readings:\n")
	lost, _, _ = strings.Cut(lost, "breakcue: ")
	require.Equal(t, exitCode(ended) != 0 && h.kept < len(pipedLines), told, screen)
	typed, _, err := session.ReadTyped("lost", strings.NewReader(lost), []string{"left", "right"})
	require.NoError(t, err)
	require.Len(t, typed, len(pipedLines)-h.kept, screen)
	for i, one := range typed {
		require.Equal(t, pipedLines[h.kept+i], one.Text, screen)
	}
}

// A correction that is not on the disk is not said to be made, and the session stays as it was.
func TestFullDiskWhileAmending(t *testing.T) {
	bin := program(t)
	random := rand.New(rand.NewPCG(20260504, 9))
	root := filepath.Join(t.TempDir(), "sessions")
	p, err := typedUntilFull(t, root, bin)
	require.NoError(t, err, "%s", p.screen)
	h := requireSafe(t, root, readingsAmong(typedLines), p.answered())
	path := filepath.Join(h.dir, logbook.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	for range moments {
		require.NoError(t, os.WriteFile(path, whole, 0o644))
		cmd := exec.Command(os.Args[0], "-test.run=^TestFullDiskWhileReadingsAreTyped$", "--",
			bin, "log", "amend", h.dir, "--pass", "left as_found 2", "--place", "right as_left", "--why", "wrong side") // in two entries
		cmd.Env = append(os.Environ(), limitedTo+"="+strconv.Itoa(len(whole)+random.IntN(300))) // they are larger
		screen, err := cmd.CombinedOutput()
		after := requireSafe(t, root, readingsAmong(typedLines), h.kept)
		requireFull(t, err, string(screen), after, nil)
		require.NotContains(t, string(screen), "after:")
		is, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, string(whole), string(is))
	}
	requireGoesOn(t, root, requireSafe(t, root, readingsAmong(typedLines), h.kept))
	t.Logf("%d full disks: no correction half made", moments)
}

// A reading given afterwards that is not on the disk is named, and those before it are.
func TestFullDiskWhileAskedAfterwards(t *testing.T) {
	bin := program(t)
	random := rand.New(rand.NewPCG(20260504, 10))
	folder := unread(t, 1)
	path := filepath.Join(folder, logbook.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	some := 0
	for range moments {
		require.NoError(t, os.WriteFile(path, whole, 0o644))
		cmd := exec.Command(os.Args[0], "-test.run=^TestFullDiskWhileReadingsAreTyped$", "--",
			bin, "log", "amend", folder, "--ask", "--place", "left as_found")
		cmd.Env = append(os.Environ(), limitedTo+"="+strconv.Itoa(len(whole)+random.IntN(1700))) // four readings are larger
		cmd.Stdin = strings.NewReader(strings.Join(pipedLines, "\n"))
		screen, err := cmd.CombinedOutput()
		require.Equal(t, ExitFailed, exitCode(err), "%s", screen)
		used, _ := givenIn(t, folder)
		said := notInTheLog.FindSubmatch(screen)
		require.NotNil(t, said, "%s", screen)
		require.Equal(t, pipedLines[len(used)], string(said[1]), "%s", screen)
		require.Contains(t, string(screen), "readings given: "+strconv.Itoa(len(used))+"\n")
		require.Contains(t, string(screen), "breakcue: hint: make room on the disk; 'breakcue log amend ")
		some += len(used)
	}
	require.Positive(t, some)
}

// typedUntilFull types everything, or as much as the disk holds. The error is how the program ended.
func typedUntilFull(t *testing.T, root string, program ...string) (p *typing, err error) {
	cmd, p := typedTo(t, root, program...)
	p.until(len(typedLines))
	p.rest()
	return p, cmd.Wait()
}

// fill makes the disk full when so many more bytes are in the journal.
func (l *liveJob) fill(more int) {
	size := uint32(sizeOf(filepath.Join(l.dir(), logbook.FileName)) + int64(more))
	l.full = true
	require.True(l.t, l.order(binary.LittleEndian.AppendUint32([]byte{stepFull}, size)...))
}

func TestFullDiskWhileListening(t *testing.T) {
	random := rand.New(rand.NewPCG(20260504, 5))
	for range moments {
		l := startStepped(t, filepath.Join(t.TempDir(), "sessions"))
		require.True(t, l.job(random.IntN(steppedOpenings)), "it ended by itself")
		require.True(t, l.feed(1), "%s", l.said())
		l.fill(random.IntN(3000))
		on := l.job(steppedOpenings + 30) // a reading takes 150 bytes at least
		assert.False(t, on, "it goes on without a journal")
		ended := l.ended()
		h := requireSafe(t, l.root, l.typed, l.answered)
		requireFull(t, ended, l.said(), h, l.typed)
		requireGoesOn(t, l.root, h)
	}
	t.Logf("%d full disks: no reading lost that was answered", moments)
}
