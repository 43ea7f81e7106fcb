//go:build unix

package cli

import (
	"bytes"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// typedLines is what is typed to a session about the recording with four openings; two readings cannot be used and are asked for
// again.
var typedLines = []string{"# left as_found", "about two", "2.28/2.25", "2.31/2.28", "# left as_left", "2.0O", "2.01/1.98", "2.02/2.00"}

// pipedLines are readings that can all be used.
var pipedLines = []string{"2.28/2.25", "2.31/2.28", "2.01/1.98", "2.02/2.00"}

// recordedArgs are the arguments for a session about the recording with four openings.
func recordedArgs(root string, more ...string) []string {
	return slices.Concat(sheetArgs, []string{"--input", "../../../testdata/recordings/gated.wav", "--dir", root}, more)
}

// readingsAmong returns the lines that are readings.
func readingsAmong(lines []string) []string {
	return slices.DeleteFunc(slices.Clone(lines), func(l string) bool { return strings.HasPrefix(l, "#") })
}

var prompted = regexp.MustCompile(`opening \d of 4, points open at [^\n:]*: `)

// typing is a session in a terminal that is asked for its readings.
type typing struct {
	tty    *os.File
	screen []byte
	typed  int // lines
}

// until types a line after each prompt, until so many are typed, or the program has ended.
func (p *typing) until(lines int) {
	buf := make([]byte, 4096)
	for p.typed < lines {
		n, err := p.tty.Read(buf)
		p.screen = append(p.screen, buf[:n]...)
		if err != nil { // of a terminal whose program is gone
			return
		}
		for p.typed < min(lines, p.prompts()) {
			if _, err := p.tty.WriteString(typedLines[p.typed] + "\n"); err != nil {
				return
			}
			p.typed++
		}
	}
}

// rest reads what the program said before it ended.
func (p *typing) rest() {
	rest, _ := io.ReadAll(p.tty)
	p.screen = append(p.screen, rest...)
}

func (p *typing) prompts() int { return len(prompted.FindAll(p.screen, -1)) }

// answered returns how many readings the program has taken in sight of whoever typed them: it asks for the next, or shows the
// report.
func (p *typing) answered() int {
	lines := min(p.typed, max(p.prompts()-1, 0))
	if bytes.Contains(p.screen, []byte("verdict: ")) {
		lines = p.typed
	}
	return len(readingsAmong(typedLines[:lines]))
}

// typedTo starts the program in a terminal.
func typedTo(t *testing.T, root string, program ...string) (*exec.Cmd, *typing) {
	cmd := exec.Command(program[0], append(program[1:], recordedArgs(root)...)...)
	tty, err := pty.Start(cmd)
	require.NoError(t, err)
	t.Cleanup(func() { tty.Close() })
	return cmd, &typing{tty: tty}
}

// The program is killed (SIGKILL) at random moments, while it waits, writes, asks or prints. Seconds later everything that it had
// answered is there.
func TestKilledWhileReadingsAreTyped(t *testing.T) {
	bin := program(t)
	random := rand.New(rand.NewPCG(20260504, 1))
	var lost, kept, half, empty, finished int
	for range moments {
		root := filepath.Join(t.TempDir(), "sessions")
		cmd, p := typedTo(t, root, bin)
		lines := random.IntN(len(typedLines)+2) - 1
		if lines < 0 { // while it starts
			p.read(random.IntN(200))
		}
		p.until(lines)
		linger(random)
		require.NoError(t, cmd.Process.Kill())
		p.rest()
		if cmd.Wait() == nil {
			finished++
		}
		typed := readingsAmong(typedLines[:p.typed])
		h := requireSafe(t, root, typed, p.answered())
		half += h.half
		switch {
		case !h.begun:
			empty++
		case h.kept < len(typed):
			lost++
		case p.answered() < len(typed):
			kept++
		}
		requireGoesOn(t, root, h)
	}
	t.Logf("%d kills: no reading lost that was answered; of the one that was not yet, %d had been written, %d not; %d journals with half a line, %d sessions not begun, %d finished",
		moments, kept, lost, half, empty, finished)
}

// read reads so many bytes.
func (p *typing) read(n int) {
	buf := make([]byte, n)
	got, _ := io.ReadFull(p.tty, buf)
	p.screen = append(p.screen, buf[:got]...)
}

// Readings from a pipe are written when all of them are there, and answered by the report.
func TestKilledWhileReadingsArePiped(t *testing.T) {
	bin := program(t)
	random := rand.New(rand.NewPCG(20260504, 2))
	var some, reported int
	for range moments {
		root := filepath.Join(t.TempDir(), "sessions")
		typed := pipedLines[:random.IntN(len(pipedLines)+1)]
		cmd := exec.Command(bin, recordedArgs(root, "--readings", "-")...)
		in, err := cmd.StdinPipe()
		require.NoError(t, err)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		errs, err := cmd.StderrPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		for _, line := range typed {
			_, err := io.WriteString(in, line+"\n")
			require.NoError(t, err)
		}
		if random.IntN(8) > 0 { // else it is killed while it waits for more
			require.NoError(t, in.Close())
			_, _ = io.ReadFull(errs, make([]byte, len("breakcue: log: "))) // the journal is begun
			dirs, err := filepath.Glob(filepath.Join(root, "*"))
			require.NoError(t, err)
			require.Len(t, dirs, 1)
			size := random.Int64N(8000) // of a journal that may never be so large
			for turn := 0; turn < 10000 && sizeOf(filepath.Join(dirs[0], logbook.FileName)) < size; turn++ {
				runtime.Gosched()
			}
		} else {
			linger(random)
		}
		require.NoError(t, cmd.Process.Kill())
		report, _ := io.ReadAll(out)
		_, _ = io.Copy(io.Discard, errs)
		_ = cmd.Wait()
		answered := 0
		if bytes.Contains(report, []byte("verdict: ")) {
			answered = len(typed)
			reported++
		}
		h := requireSafe(t, root, typed, answered)
		if h.kept > 0 && h.kept < len(typed) {
			some++
		}
		requireGoesOn(t, root, h)
	}
	t.Logf("%d kills: %d while readings were written, %d after the report", moments, some, reported)
}
