//go:build unix

package cli

import (
	"encoding/binary"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// fill makes the disk full, to the program, when so many more bytes are in the journal.
func (w *walk) fill(more int) {
	dir, _ := w.journal()
	w.o.full = true
	size := uint32(sizeOf(filepath.Join(dir, logbook.FileName)) + int64(more))
	require.True(w.t, w.o.order(binary.LittleEndian.AppendUint32([]byte{padFull}, size)...))
}

// untilFull goes on for as long as the program does, or for so many keys; it returns false when the program has ended.
func (w *walk) untilFull(keys int) bool {
	for range keys {
		if !w.goesOn() || w.over() {
			return false
		}
	}
	return true
}

// requireSaysFull looks at how a guided session ended on a full disk: in words why and what to do.
func (w *walk) requireSaysFull(ended error) {
	w.t.Helper()
	screen := strings.Join(w.o.rows(), "") // long lines go on in the next row, wherever they are broken
	require.Equal(w.t, ExitFailed, exitCode(ended), screen)
	require.Regexp(w.t, `breakcue: error: .*(file too large|no space left on device)`, screen)
	require.Regexp(w.t, `breakcue: hint: make room`, screen)
	require.NotContains(w.t, screen, "goroutine ")
	if said := notInTheLog.FindStringSubmatch(screen); said != nil {
		require.Less(w.t, w.answered, len(w.typed), screen)
		require.Equal(w.t, w.typed[w.answered].text, said[1], screen)
	}
}

// fulls is what came of many full disks.
type fulls struct {
	harms
	alone    int // times the recording alone had no room: the session went on without
	starting int // times there was no room to begin, or to go on
}

// The disk is full at random moments of a guided session: while it starts, or on its way. What was seen on the screen is kept, the
// screen says what is wrong, and once there is room the session is gone on with, up to its end.
func TestFullDiskWhileGuided(t *testing.T) {
	random := rand.New(rand.NewPCG(20260504, 11))
	var f fulls
	for f.kills < padMoments {
		w := newWalk(t, random, filepath.Join(t.TempDir(), "sessions"))
		f.damaged = 0
		w.fullSession(&f)
	}
	t.Logf("%d full disks, %d of them at the start: %d times the recording alone ended; %s", f.kills, f.starting, f.alone, f.harms)
}

// fullSession goes through one session whose disk is full now and then.
func (w *walk) fullSession(f *fulls) {
	for nth := 0; ; nth++ {
		if dir, _ := w.journal(); dir == "" {
			nth = 0
		}
		if f.kills < padMoments && w.random.IntN(4) == 0 {
			f.kills++
			w.noRoomToBegin(nth, f)
			continue
		}
		w.begin(nth)
		w.was = nil
		w.resumes(&f.harms)
		for !w.over() && (f.kills >= padMoments || w.random.IntN(w.often()) > 0) {
			require.True(w.t, w.goesOn(), "%s", w.o.screen())
		}
		if w.over() {
			break
		}
		f.kills++
		w.fill(w.random.IntN(1 << w.random.IntN(15))) // a tick takes 150
		if !w.runsFull(f) {
			return
		}
	}
	require.NoError(w.t, w.o.cmd.Wait(), "%s", w.o.screen())
	w.acked = len(w.log)
	w.requireKept(&f.harms)
	w.requireFinished(&f.harms)
}

// runsFull goes on while the disk is full; it returns false when the session came to its end all the same.
func (w *walk) runsFull(f *fulls) bool {
	if w.o.watch("that nothing is recorded", func(screen string) bool { return strings.Contains(screen, "NOT RECORDING: ") }) && w.untilFull(40) {
		f.alone++
		require.Contains(w.t, w.o.screen(), "NOT RECORDING: ")
		_ = w.o.leave() // there was room for the journal
		w.catchesUp()
		require.True(w.t, w.requireKept(&f.harms))
		return true
	}
	ended := w.o.leave()
	if w.over() {
		require.Error(w.t, ended)
	} else {
		w.requireSaysFull(ended)
	}
	damaged := f.damaged
	require.True(w.t, w.requireKept(&f.harms))
	require.Equal(w.t, damaged, f.damaged, "what did not fit is taken back")
	_, j := w.journal()
	return !finished(j)
}

// noRoomToBegin starts the program on a disk that is full.
func (w *walk) noRoomToBegin(nth int, f *fulls) {
	dir, _ := w.journal()
	path := filepath.Join(dir, logbook.FileName)
	before, err := os.ReadFile(path)
	if dir != "" {
		require.NoError(w.t, err)
	}
	require.NoError(w.t, os.Setenv(limitedTo, strconv.Itoa(len(before)+w.random.IntN(300))))
	w.begin(nth)
	require.NoError(w.t, os.Unsetenv(limitedTo))
	w.o.full = true
	if w.sees() && w.untilFull(20) {
		_ = w.o.leave()
		w.catchesUp()
		w.requireKept(&f.harms)
		f.alone++
		return
	}
	f.starting++
	w.requireSaysFull(w.o.leave())
	if dir == "" {
		dirs, err := os.ReadDir(w.root)
		require.True(w.t, err == nil || errors.Is(err, fs.ErrNotExist))
		require.Empty(w.t, dirs, "a session that could not be begun leaves nothing")
		return
	}
	require.True(w.t, w.requireKept(&f.harms))
}
