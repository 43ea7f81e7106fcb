//go:build unix

package cli

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"

	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
)

// What makes the test of the number pad the program, at its terminal. Its clock goes on only when it is let, a tick after the other.
const (
	padRoot = "BREAKCUE_PAD_ROOT" // the folder for sessions
	padArgs = "BREAKCUE_PAD_ARGS" // the arguments of the program
	padTime = "BREAKCUE_PAD_TIME" // how long after monday it is begun [ns]
	// limitedTo is how large a file may become, if it is not empty.
)

const padTick = 20 * time.Millisecond

// What the program is told through its fourth file.
const (
	padOn   = 't' // a tick
	padIdle = 'i' // nothing: time to draw
	padFull = 'f' // from now on no file grows beyond so many bytes: four more bytes, little-endian
)

// bePad is the program.
func bePad(root string) {
	if signal.Ignored(syscall.SIGHUP) { // whoever tests does so under nohup: it is heard all the same
		signal.Notify(make(chan os.Signal, 1), syscall.SIGHUP)
	}
	env := OSEnv()
	told, tell := os.NewFile(3, "told"), os.NewFile(4, "tell")
	late, err := strconv.ParseInt(os.Getenv(padTime), 10, 64)
	if err != nil {
		os.Exit(3)
	}
	if size, err := strconv.ParseUint(os.Getenv(limitedTo), 10, 32); err == nil && growNoMore(size) != nil {
		os.Exit(3)
	}
	var mu sync.Mutex
	now, let := monday.Add(time.Duration(late)), time.Duration(0)
	env.Now = func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		return now
	}
	env.Sleep = func(d time.Duration) { // of the sound card alone
		mu.Lock()
		now = now.Add(d)
		mu.Unlock()
		for let -= d; let < 0; { // whoever asks for the time meanwhile is not held up
			var what [1]byte
			if _, err := told.Read(what[:]); err != nil {
				os.Exit(3) // whoever tests is gone
			}
			switch what[0] {
			case padOn:
				let += padTick
			case padIdle:
			default:
				var size uint32
				if binary.Read(told, binary.LittleEndian, &size) != nil || growNoMore(uint64(size)) != nil {
					os.Exit(3)
				}
			}
			_, _ = tell.Write(what[:])
		}
	}
	args := strings.Fields(os.Getenv(padArgs))
	if args[0] == "session" {
		args = append(args, "--dir", root)
	}
	os.Exit(Main(context.Background(), args, env))
}

// growNoMore lets no file of this process grow beyond a size [bytes].
func growNoMore(size uint64) error {
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: size, Max: size})
}

// operator sits before the terminal of the program, and has nothing but a number pad.
type operator struct {
	t   *testing.T
	cmd *exec.Cmd
	tty *os.File

	before *term.State // modes of the terminal
	left   bool

	root       string
	told, tell *os.File // ticks, and that they were taken
	ticks      int
	full       bool // the disk is: the recording does not grow

	mu    sync.Mutex
	emu   *vt.Emulator
	ended chan struct{} // the terminal is closed
}

// sit starts the program in a terminal of 80x24.
func sit(t *testing.T, root string, args ...string) *operator {
	return sitLater(t, root, 0, nil, args...)
}

// resize makes the terminal another size.
func (o *operator) resize(w, h int) {
	require.NoError(o.t, pty.Setsize(o.tty, &pty.Winsize{Cols: uint16(w), Rows: uint16(h)}))
	require.NoError(o.t, syscall.SetNonblock(int(o.tty.Fd()), true)) // Setsize makes reads block
	o.mu.Lock()
	defer o.mu.Unlock()
	o.emu.Resize(w, h)
}

// sitLater starts it so long after monday, by a command that comes before it.
func sitLater(t *testing.T, root string, late time.Duration, by []string, args ...string) *operator {
	o := &operator{t: t, root: root, emu: vt.NewEmulator(80, 24), ended: make(chan struct{})}
	command := slices.Concat(by, []string{os.Args[0], "-test.run=^TestAWholeSessionByTheNumberPad$"}) // which is the program then
	o.cmd = exec.Command(command[0], command[1:]...)
	o.cmd.Env = append(os.Environ(), padRoot+"="+root, padArgs+"="+strings.Join(args, " "), padTime+"="+strconv.FormatInt(int64(late), 10),
		"TERM=xterm-256color", "XDG_CONFIG_HOME="+root+"-config", "XDG_STATE_HOME="+root+"-state")
	told, give, err := os.Pipe()
	require.NoError(t, err)
	take, tell, err := os.Pipe()
	require.NoError(t, err)
	o.told, o.tell = give, take
	o.cmd.ExtraFiles = []*os.File{told, tell}
	tty, own, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, pty.Setsize(tty, &pty.Winsize{Cols: 80, Rows: 24}))
	require.NoError(t, syscall.SetNonblock(int(tty.Fd()), true)) // Setsize makes reads block, and Close with them
	o.tty, o.before = tty, modesOf(t, own)
	o.cmd.Stdin, o.cmd.Stdout, o.cmd.Stderr = own, own, own
	o.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	require.NoError(t, o.cmd.Start())
	require.NoError(t, errors.Join(told.Close(), tell.Close(), own.Close()))
	t.Cleanup(func() { _ = o.leave() })
	go func() { // what a terminal answers by itself
		_, _ = io.Copy(o.tty, o.emu)
		_, _ = io.Copy(io.Discard, o.emu)
	}()
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

// leave kills the program, if there is still one, and tells how it ended. What it had written is on the screen then.
func (o *operator) leave() error {
	if o.left {
		return nil
	}
	o.left = true
	_ = o.cmd.Process.Kill()
	_ = o.told.Close() // ends a program that was started by a shell, which alone was killed
	<-o.ended
	err := o.cmd.Wait()
	_ = errors.Join(o.tty.Close(), o.tell.Close())
	o.mu.Lock()
	defer o.mu.Unlock()
	_ = o.emu.InputPipe().(io.Closer).Close() // ends who copies what the terminal answers
	return err
}

// modesOf are the modes of a terminal.
func modesOf(t *testing.T, tty *os.File) (modes *term.State) {
	t.Helper()
	c, err := tty.SyscallConn()
	require.NoError(t, err)
	var failed error
	require.NoError(t, c.Control(func(fd uintptr) { modes, failed = term.GetState(int(fd)) }))
	require.NoError(t, failed)
	return modes
}

// requireGivenBack looks at the terminal after the program gave it back.
func (o *operator) requireGivenBack() {
	o.t.Helper()
	require.Equal(o.t, o.before, modesOf(o.t, o.tty))
	o.mu.Lock()
	defer o.mu.Unlock()
	require.False(o.t, o.emu.IsAltScreen())
	require.False(o.t, o.emu.CursorHidden())
}

// rows are the rows of the terminal.
func (o *operator) rows() []string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return strings.Split(o.emu.String(), "\n")
}

// screen is what stands on the terminal, line breaks undone.
func (o *operator) screen() string {
	return strings.Join(strings.Fields(strings.Join(o.rows(), "\n")), " ")
}

// press presses keys of the pad.
func (o *operator) press(keys string) {
	o.t.Helper()
	require.Empty(o.t, strings.Trim(keys, "0123456789.+-*/\r"), "there is no such key on the pad")
	_, err := o.tty.WriteString(keys)
	require.NoError(o.t, err)
}

// take returns how many frames the newest recording declares, and whether there is one.
func (o *operator) take() (frames int64, ok bool) {
	takes, _ := filepath.Glob(filepath.Join(o.root, "*", "take-*.wav"))
	if len(takes) == 0 {
		return 0, false
	}
	r, err := wav.Open(takes[len(takes)-1])
	if err != nil {
		return 0, false
	}
	defer r.Close()
	return r.Skip(1 << 40), true
}

// heard is how many frames of sound have come, at most.
func (o *operator) heard() int64 { return int64(o.ticks) * int64(padTick*demoRate/time.Second) }

// recorded waits until no more than so much sound waits for the disk, on which a clock that goes so fast is hard.
func (o *operator) recorded(most time.Duration) {
	for !o.full {
		frames, ok := o.take()
		if !ok || o.heard()-frames <= int64(most.Seconds()*demoRate) {
			return
		}
		runtime.Gosched()
	}
}

// tick lets the program's clock go on; it returns false when the program has ended.
func (o *operator) tick() bool {
	if o.ticks++; o.ticks%50 == 0 {
		o.recorded(10 * time.Second)
	}
	return o.order(padOn)
}

// order tells the program something, and waits until it is done; it returns false when the program has ended.
func (o *operator) order(what ...byte) bool {
	if _, err := o.told.Write(what); err != nil {
		return false
	}
	_, err := io.ReadFull(o.tell, make([]byte, 1))
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
	require.Fail(o.t, "not on the screen", "want %s on\n%s", what, strings.Join(o.rows(), "\n"))
	return false
}

func (o *operator) sees(texts ...string) {
	o.t.Helper()
	require.True(o.t, o.watch(fmt.Sprintf("%q", texts), func(screen string) bool { return containsAll(screen, texts) }),
		"%q, the program has ended\n%s", texts, o.screen())
}

// glimpses is sees for what is on the screen for some seconds of the program's time only: a busy machine is given time to draw it.
func (o *operator) glimpses(texts ...string) {
	o.t.Helper()
	require.True(o.t, o.watch(fmt.Sprintf("%q", texts), func(screen string) bool {
		for range 500 {
			if containsAll(screen, texts) || !o.order(padIdle) {
				break
			}
			screen = o.screen()
		}
		return containsAll(screen, texts)
	}), "%q, the program has ended\n%s", texts, o.screen())
}

func containsAll(screen string, texts []string) bool {
	return !slices.ContainsFunc(texts, func(text string) bool { return !strings.Contains(screen, text) })
}

var shownByTheBench = regexp.MustCompile(`([0-9.+/]+) is on the dial of the bench`)

// reading waits until a reading is asked for, and the dial of the bench shows one; ok is false when the program has ended before.
func (o *operator) reading() (reading string, ok bool) {
	o.t.Helper()
	ok = o.watch("a reading", func(screen string) bool {
		m := shownByTheBench.FindStringSubmatch(screen)
		if m == nil || !strings.Contains(screen, "Dial reading") {
			return false
		}
		reading = m[1]
		return true
	})
	return reading, ok
}

// answers tells that the screen shows what came of a reading, the so-many-th of its cylinder and phase.
func answers(screen, reading string, pass int) bool {
	return strings.Contains(screen, fmt.Sprintf("%s (%s): ", reading, pump.Count(pass, "pass", "passes")))
}

// measures types what the dial of the bench shows in so many passes, the first of their cylinder and phase.
func (o *operator) measures(passes int) {
	for i := range passes {
		reading, _ := o.reading()
		o.press(reading + "\r")
		o.watch("the reading taken", func(screen string) bool {
			return answers(screen, reading, i+1) && !shownByTheBench.MatchString(screen)
		})
	}
}
