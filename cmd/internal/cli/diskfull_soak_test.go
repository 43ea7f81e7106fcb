//go:build soak && linux

package cli

import (
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// smallDisk is a disk in memory of 4 MiB. Only root may make one: without, ok is false, and that is said.
func smallDisk(t *testing.T) (dir string, ok bool) {
	dir = t.TempDir()
	err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=4m")
	if errors.Is(err, syscall.EPERM) {
		t.Log("left out: only root may mount a small disk; RLIMIT_FSIZE stands for it in the other tests")
		return "", false
	}
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(dir, syscall.MNT_DETACH)) })
	return dir, true
}

// leave fills a disk but for so many pages, and returns what makes the room again.
func leave(t *testing.T, dir string, pages int) (undo func()) {
	filler := filepath.Join(dir, "filler")
	var disk syscall.Statfs_t
	require.NoError(t, syscall.Statfs(dir, &disk))
	require.NoError(t, os.WriteFile(filler, make([]byte, (int(disk.Bfree)-pages)*int(disk.Bsize)), 0o600))
	return func() { require.NoError(t, os.Remove(filler)) }
}

func TestFullDiskForRealWhileReadingsAreTyped(t *testing.T) {
	disk, ok := smallDisk(t)
	if !ok {
		return
	}
	bin := program(t)
	random := rand.New(rand.NewPCG(20260504, 6))
	var half, empty, room int
	for range moments {
		root := filepath.Join(disk, "sessions")
		undo := leave(t, disk, random.IntN(6)) // a page is 4 KiB, the journal as large as four
		p, err := typedUntilFull(t, root, bin)
		undo()
		typed := readingsAmong(typedLines[:p.typed])
		h := requireSafe(t, root, typed, p.answered())
		if err == nil {
			room++
		} else {
			requireFull(t, err, string(p.screen), h, typed)
		}
		half += h.half
		if !h.begun {
			empty++
		}
		requireGoesOn(t, root, h)
	}
	t.Logf("%d full disks: no reading lost that was answered; %d journals with half a line, %d sessions not begun; %d had room enough", moments, half, empty, room)
}

// Here the recording fills the disk.
func TestFullDiskForRealWhileListening(t *testing.T) {
	disk, ok := smallDisk(t)
	if !ok {
		return
	}
	random := rand.New(rand.NewPCG(20260504, 7))
	var half, empty, answered, alone int
	for range moments {
		root := filepath.Join(disk, "sessions")
		undo := leave(t, disk, random.IntN(600)) // a second of sound is 70 pages
		l := startStepped(t, root)
		l.full = true               // sooner or later
		if l.job(steppedOpenings) { // the end of the last page had room for the journal, but the recording is larger than the disk
			alone++
		}
		ended := l.ended()
		undo()
		h := requireSafe(t, root, l.typed, l.answered)
		requireFull(t, ended, l.said(), h, l.typed)
		answered += l.answered
		half += h.half
		if !h.begun {
			empty++
		}
		requireGoesOn(t, root, h)
	}
	t.Logf("%d full disks: none lost of %d readings that were answered; %d ended for the recording alone; %d journals with half a line, %d sessions not begun",
		moments, answered, alone, half, empty)
}

// Here the recording of a guided session fills the disk, or there is too little room to begin.
func TestFullDiskForRealWhileGuided(t *testing.T) {
	disk, ok := smallDisk(t)
	if !ok {
		return
	}
	random := rand.New(rand.NewPCG(20260504, 14))
	var f fulls
	for range moments {
		f.kills, f.damaged = f.kills+1, 0
		w := newWalk(t, random, filepath.Join(disk, "sessions"))
		undo := leave(t, disk, random.IntN(1<<random.IntN(10))) // a second of sound is 35 pages
		w.begin(0)
		w.o.full = true // sooner or later
		goes := w.sees() && w.untilFull(60)
		ended := w.o.leave()
		undo()
		w.catchesUp()
		switch {
		case goes:
			f.alone++ // the end of the last page has room for some lines
		case w.over():
			require.Error(t, ended)
		default:
			w.requireSaysFull(ended)
		}
		if !w.requireKept(&f.harms) {
			f.empty++
			require.Empty(t, w.dir(), "a session that could not be begun leaves nothing")
			continue
		}
		require.Zero(t, f.damaged, "what did not fit is taken back")
		if _, j := w.journal(); !finished(j) {
			w.begin(1)
			w.resumes(&f.harms)
			_ = w.o.leave()
		}
		require.NoError(t, os.RemoveAll(w.root))
	}
	t.Logf("%d full disks: %d times it was not full yet after 60 keys; %s", f.kills, f.alone, f.harms)
}
