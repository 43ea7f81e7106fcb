//go:build unix

package cli

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/wav"
)

// steppedRoot names the folder for sessions; with it the tests of this file are the program, with a sound card that leads to the bench.
const steppedRoot = "BREAKCUE_STEPPED_ROOT"

// What a stepped program is told through its fourth file.
const (
	stepOn   = 's' // a block of sound
	stepFull = 'f' // from now on no file grows beyond so many bytes: four more bytes, little-endian
)

const stepFrames = 960 // of a block

// stepped gives out sound when it is told to, block by block, and says when it has.
type stepped struct {
	audio.Source
	told, tell *os.File
}

func (s stepped) Read(dst []float32) (int, error) {
	for {
		var what [1]byte
		if _, err := io.ReadFull(s.told, what[:]); err != nil {
			return 0, io.EOF
		}
		if what[0] == stepOn {
			n, err := s.Source.Read(dst[:min(len(dst), 2*stepFrames)])
			_, _ = s.tell.Write(what[:])
			return n, err
		}
		var size uint32
		if err := binary.Read(s.told, binary.LittleEndian, &size); err != nil {
			return 0, err
		}
		limit := syscall.Rlimit{Cur: uint64(size), Max: uint64(size)}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			return 0, err
		}
		_, _ = s.tell.Write(what[:])
	}
}

// steppedOpenings is how many openings a stepped program hears: one in each second from the first on, 0.4 s long.
const steppedOpenings = 10

// beStepped is the program.
func beStepped(t *testing.T, root string) {
	var changes []bench.Change
	for i := range steppedOpenings {
		changes = append(changes, bench.Change{At: float64(i + 1)}, bench.Change{At: float64(i) + 1.4, Closed: true})
	}
	s := newShop(t, changes...)
	s.sound.Frames = 48000 * 1000
	s.env.In, s.env.Out, s.env.Err, s.env.InTTY = os.Stdin, os.Stdout, os.Stderr, true
	s.wrap = func(src audio.Source) audio.Source { return stepped{src, os.NewFile(3, "told"), os.NewFile(4, "tell")} }
	os.Exit(s.run(t, append(sheetArgs, "--plain", "--no-guide", "--dir", root)...))
}

// liveJob is a stepped program from outside.
type liveJob struct {
	t        *testing.T
	cmd      *exec.Cmd
	root     string
	in       io.Writer
	told     *os.File
	tell     *os.File
	mu       sync.Mutex
	screen   bytes.Buffer
	drained  chan struct{}
	fed      int64 // frames
	typed    []string
	answered int
	full     bool // the disk is: the recording does not grow
}

// Write takes what the program prints.
func (l *liveJob) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.screen.Write(p)
}

// said is what it has printed.
func (l *liveJob) said() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.screen.String()
}

func (l *liveJob) says(text string) bool { return strings.Contains(l.said(), text) }

// startStepped starts the program, which keeps its sessions in root.
func startStepped(t *testing.T, root string) *liveJob {
	l := &liveJob{t: t, root: root, drained: make(chan struct{})}
	l.cmd = exec.Command(os.Args[0], "-test.run=^TestKilledWhileListening$") // which is the program then
	l.cmd.Env = append(os.Environ(), steppedRoot+"="+l.root, "TMPDIR="+t.TempDir())
	pipe := func() (r, w *os.File) {
		r, w, err := os.Pipe()
		require.NoError(t, err)
		t.Cleanup(func() { r.Close(); w.Close() })
		return r, w
	}
	told, tell := (*os.File)(nil), (*os.File)(nil)
	told, l.told = pipe()
	l.tell, tell = pipe()
	out, errs := pipe()
	l.cmd.ExtraFiles = []*os.File{told, tell}
	l.cmd.Stdout, l.cmd.Stderr = errs, errs
	in, err := l.cmd.StdinPipe()
	require.NoError(t, err)
	l.in = in
	require.NoError(t, l.cmd.Start())
	t.Cleanup(func() { _ = l.cmd.Process.Kill() })   // of a test that failed
	for _, f := range []*os.File{told, tell, errs} { // these are the program's alone: their ends are seen
		f.Close()
	}
	go func() {
		defer close(l.drained)
		_, _ = io.Copy(l, out)
	}()
	_, err = io.WriteString(l.in, "\n") // no headphones
	require.NoError(t, err)
	return l
}

// order tells the program something and waits until it is done; false when the program has ended.
func (l *liveJob) order(what ...byte) bool {
	if _, err := l.told.Write(what); err != nil {
		return false
	}
	_, err := io.ReadFull(l.tell, make([]byte, 1))
	return err == nil
}

// feed lets so many blocks of sound come. A disk keeps up with sound in its own time; here, where the sound comes faster, it is waited
// for.
func (l *liveJob) feed(blocks int) bool {
	for range blocks {
		for turn := 0; !l.full && l.fed-l.recorded() > 48000*7/10; turn++ {
			require.Less(l.t, turn, 1_000_000, "the recording stands still at %d of %d frames", l.recorded(), l.fed)
		}
		if !l.order(stepOn) {
			return false
		}
		l.fed += stepFrames
	}
	return true
}

// dir is the folder of the session; empty before it is made.
func (l *liveJob) dir() string {
	dirs, _ := filepath.Glob(filepath.Join(l.root, "*"))
	return strings.Join(dirs, "")
}

// recorded returns how many frames the recording declares.
func (l *liveJob) recorded() int64 {
	r, err := wav.Open(filepath.Join(l.dir(), takeFile(1)))
	if err != nil {
		return 0
	}
	defer r.Close()
	return r.Skip(1 << 40)
}

// line types a reading.
func (l *liveJob) line(text string) {
	if _, err := io.WriteString(l.in, text+"\n"); err == nil {
		l.typed = append(l.typed, text)
	}
}

// answer tells whether the reading typed last was taken in sight of whoever typed it: its result is shown, or why it has none.
func (l *liveJob) answer() bool {
	text := l.typed[len(l.typed)-1]
	return l.says("  "+text+" (") || l.says("  "+text+" is kept") || text == steppedTypo && l.says("kept, but not used")
}

// steppedTypo cannot be used.
const steppedTypo = "about two"

// steppedLine is what is typed for the n-th opening, from 0: each differs from the others.
func steppedLine(n int) string {
	if n == 3 {
		return steppedTypo
	}
	return fmt.Sprintf("2.%02d/2.%02d", 20+n, 17+n)
}

// job hears and types until there are so many readings, each answered before the sound goes on; false when the program has ended.
func (l *liveJob) job(readings int) bool {
	for len(l.typed) < readings {
		if !l.feed(75 - int(l.fed/stepFrames)%50) { // to half past the next opening
			return false
		}
		l.line(steppedLine(len(l.typed)))
		for blocks := 0; !l.answer(); blocks++ {
			require.Less(l.t, blocks, 2000, "no answer to the last of %q: %s", l.typed, l.said())
			if !l.feed(1) {
				return false
			}
			for range blocks { // a busy computer takes lines and hands on answers later than sound
				runtime.Gosched()
			}
		}
		l.answered = len(l.typed)
	}
	return true
}

// ended waits for the end of the program; the reading typed last may have been answered meanwhile.
func (l *liveJob) ended() error {
	l.told.Close()
	<-l.drained
	if len(l.typed) > l.answered && l.answer() {
		l.answered = len(l.typed)
	}
	return l.cmd.Wait()
}

// A live session is killed (SIGKILL) at random moments. What it had answered is in the journal, and of the sound at most the last
// second is missing. (What a recording loses, sample by sample, is tried in package wav.)
func TestKilledWhileListening(t *testing.T) {
	if root := os.Getenv(steppedRoot); root != "" {
		beStepped(t, root)
	}
	random := rand.New(rand.NewPCG(20260504, 3))
	var lost, kept, half, empty int
	worst := int64(0)
	for range moments {
		l := startStepped(t, filepath.Join(t.TempDir(), "sessions"))
		n := random.IntN(steppedOpenings+1) - 1
		require.True(t, l.job(max(n, 0)), "it ended by itself")
		switch {
		case n < 0: // while it starts
		case random.IntN(2) == 0: // while it hears
			l.feed(random.IntN(50))
		default: // while it takes a reading
			l.feed(50)
			l.line(steppedLine(n))
			l.feed(random.IntN(4))
		}
		linger(random)
		require.NoError(t, l.cmd.Process.Kill())
		assert.Error(t, l.ended(), "%s", l.said())
		h := requireSafe(t, l.root, l.typed, l.answered)
		half += h.half
		switch {
		case !h.begun:
			empty++
		case h.kept < len(l.typed):
			lost++
		case l.answered < len(l.typed):
			kept++
		}
		missing := l.fed - l.recorded()
		worst = max(worst, missing)
		require.LessOrEqual(t, missing, int64(48000), "frames of %d", l.fed)
		requireGoesOn(t, l.root, h)
	}
	t.Logf("%d kills: no reading lost that was answered; of the one that was not yet, %d had been written, %d not; %d journals with half a line, %d sessions not begun; at most %.2f s of sound lost",
		moments, kept, lost, half, empty, float64(worst)/48000)
}
