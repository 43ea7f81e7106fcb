//go:build live_test && cgo && !nolive && unix

package cli

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/wav"
)

// These tests need a sound server and a cable, which .ci/live provides: see make test-live. They run the program as it is built,
// each time in a process of its own.

// liveCable starts the cable client of testdata/live and ends it with the test.
func liveCable(t *testing.T, args string) *os.Process {
	require.NotEmpty(t, os.Getenv("BREAKCUE_CABLE"), "run this by make test-live")
	cmd := exec.Command(os.Getenv("BREAKCUE_CABLE"), strings.Fields(args)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		cmd.Process.Signal(syscall.SIGTERM)
		cmd.Wait()
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(line, "ready "), line)
	return cmd.Process
}

// liveCommand prepares a run with settings of its own.
func liveCommand(t *testing.T, program string, args ...string) *exec.Cmd {
	cmd := exec.Command(program, args...)
	cmd.Env = append(os.Environ(), "XDG_CONFIG_HOME="+t.TempDir(), "XDG_DATA_HOME="+t.TempDir(), "TERM=xterm-256color")
	return cmd
}

// schedule is what the cable does, in frames of the tone.
type schedule struct{ first, period, open, count int }

func (s schedule) String() string {
	return fmt.Sprintf("%d %d %d %d", s.first, s.period, s.open, s.count)
}

// requireOnSchedule fails unless the edges, at most as many as the cable made, are openings and closings at the frames of the schedule,
// later by one and the same round trip, which it returns. A frame more or less: the tone may pass through zero where it is cut.
func requireOnSchedule(t *testing.T, s schedule, kinds []string, frames []float64) (trip float64) {
	return requireWithin(t, 1, s, kinds, frames)
}

// requireWithin is requireOnSchedule with so many frames between the least and the greatest round trip.
func requireWithin(t *testing.T, spread float64, s schedule, kinds []string, frames []float64) (trip float64) {
	require.NotEmpty(t, frames)
	lo, hi := 1e9, -1e9
	for i, f := range frames {
		want := s.first + i/2*s.period
		kind := "open"
		if i%2 == 1 {
			want, kind = want+s.open, "close"
		}
		require.Equal(t, kind, kinds[i], "edge %d", i)
		lo, hi = min(lo, f-float64(want)), max(hi, f-float64(want))
	}
	require.LessOrEqual(t, hi-lo, spread, "round trip of %g to %g frames", lo, hi)
	require.True(t, lo > 0 && hi < 4800, "round trip of %g frames", lo)
	return lo
}

func TestLiveListenSeesEveryOpeningAtItsFrame(t *testing.T) {
	bin := program(t)
	file := filepath.Join(t.TempDir(), "take.wav")
	s := schedule{96000, 9601, 3607, 60} // the first while the levels are being learnt
	liveCable(t, "cable "+s.String())
	cmd := liveCommand(t, bin, "listen", "--device", "cable", "--json", "--for", "15s", "--record", file)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%s", &errs)
	kinds, frames := edgesOf(t, &out)
	require.Len(t, frames, 2*s.count)
	trip := requireOnSchedule(t, s, kinds, frames)
	assert.Contains(t, errs.String(), "60 openings, 60 closings")
	assert.Contains(t, errs.String(), "breakcue: note: a tone will come out of \"cable\"")

	review, err := liveCommand(t, bin, "review", "--json", file).Output()
	require.NoError(t, err)
	var r reviewResult
	require.NoError(t, json.Unmarshal(review, &r))
	require.Len(t, r.Edges, len(frames))
	for i, e := range r.Edges {
		assert.InDelta(t, frames[i], e.Sample, 1.01) // the first levels are learnt from less sound: an edge on a zero of the tone may fall to the next frame
	}
	assert.Empty(t, r.Caveats)
	t.Logf("round trip %g frames", trip)
}

// edgesOf reads what `listen --json` printed; anything but openings and closings fails.
func edgesOf(t *testing.T, r io.Reader) (kinds []string, frames []float64) {
	for dec := json.NewDecoder(r); ; {
		var l eventLine
		err := dec.Decode(&l)
		if err == io.EOF {
			return kinds, frames
		}
		require.NoError(t, err)
		require.Contains(t, []string{"open", "close"}, l.Event)
		kinds, frames = append(kinds, l.Event), append(frames, l.Frame)
	}
}

// Two sets of points, whose tones come back by one input: every edge of each at its frame, whatever the other does.
func TestLiveListenToTwoSets(t *testing.T) {
	s := schedule{96000, 19201, 7607, 25}
	const later = 8111 // frames: the second opens just before or after the first closes
	liveCable(t, fmt.Sprintf("-s %d cable %s", later, s))
	cmd := liveCommand(t, program(t), "listen", "--device", "cable", "--json", "--for", "14s", "--sets", "2")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%s", &errs)
	kinds, frames := map[int][]string{}, map[int][]float64{}
	for dec := json.NewDecoder(&out); dec.More(); {
		var l eventLine
		require.NoError(t, dec.Decode(&l))
		kinds[l.Set], frames[l.Set] = append(kinds[l.Set], l.Event), append(frames[l.Set], l.Frame)
	}
	require.Len(t, frames, 2)
	for set, first := range map[int]int{1: s.first, 2: s.first + later} {
		require.Len(t, frames[set], 2*s.count, "set %d", set)
		// Frames, a quarter of a millisecond: a few closings are placed so much too soon beside another tone, the others to the frame.
		trip := requireWithin(t, 12, schedule{first, s.period, s.open, s.count}, kinds[set], frames[set])
		t.Logf("set %d: round trip %g frames", set, trip)
	}
	assert.Contains(t, errs.String(), "set 1: 25 openings, 25 closings; set 2: 25 openings, 25 closings")
}

// The other wiring, noise, and an alert that leaks into the input 20 dB below the tone.
func TestLiveListenInNoiseWithAnAlertThatLeaks(t *testing.T) {
	s := schedule{96000, 14401, 4803, 40}
	liveCable(t, "-2 -x -26 -n -52 cable "+s.String())
	cmd := liveCommand(t, program(t), "listen", "--device", "cable", "--json", "--for", "16s", "--alert", "--tone", "1010")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%s", &errs)
	kinds, frames := edgesOf(t, &out)
	require.Len(t, frames, 2*s.count)
	for i, k := range kinds {
		assert.Equal(t, []string{"open", "close"}[i%2], k)
		want := float64(s.first + i/2*s.period + i%2*s.open)
		assert.InDelta(t, want+128, frames[i], 130, "edge %d", i) // noise 40 dB below the tone: some frames; the round trip: 0..256
	}
}

func TestLiveScreen(t *testing.T) {
	for _, size := range []pty.Winsize{{Rows: 24, Cols: 80}, {Rows: 40, Cols: 120}} {
		s := schedule{96000, 19201, 9601, 20}
		liveCable(t, fmt.Sprintf("cable%d %v", size.Rows, s))
		cmd := liveCommand(t, program(t), "listen", "--device", fmt.Sprintf("cable%d", size.Rows), "--for", "12s")
		var errs bytes.Buffer
		cmd.Stderr = &errs
		tty, err := pty.StartWithSize(cmd, &size)
		require.NoError(t, err)
		fmt.Fprint(tty, "\r") // no headphones
		screen, _ := io.ReadAll(tty)
		require.NoError(t, cmd.Wait(), "%s", &errs)
		assert.Contains(t, string(screen), "\x1b[?1049h", "the other screen was used")
		assert.Contains(t, string(screen), "\x1b[?1049l", "and left")
		assert.Contains(t, errs.String(), "20 openings, 20 closings")
		m := regexp.MustCompile(`to the whole screen: ([\d.]+) ms, 99 of 100 within ([\d.]+) ms`).FindStringSubmatch(errs.String())
		require.NotNil(t, m, errs.String())
		t.Logf("%dx%d: %s", size.Cols, size.Rows, m[0])
	}
}

func TestLiveSession(t *testing.T) {
	s := schedule{96000, 48000, 24000, 4}
	liveCable(t, "cable "+s.String())
	cmd := liveCommand(t, program(t), append(sheetArgs, "--device", "cable", "--readings", "../../../testdata/sheets/readings.txt", "--for", "7s")...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%s%s", &errs, &out)
	assert.Contains(t, out.String(), "error: 0.28 mm too early")
	assert.Contains(t, out.String(), "verdict: in tolerance")
}

// A session on a sound card is killed (SIGKILL) after some readings, while it hears.
func TestLiveSessionKilled(t *testing.T) {
	bin := program(t)
	for _, readings := range []int{0, 1, 3} {
		name := fmt.Sprintf("doomed%d", readings)
		liveCable(t, name+" "+schedule{96000, 48000, 19200, 60}.String())
		root := filepath.Join(t.TempDir(), "sessions")
		cmd := liveCommand(t, bin, append(sheetArgs, "--device", name, "--plain", "--no-guide", "--dir", root)...)
		tty, err := pty.Start(cmd)
		require.NoError(t, err)
		fmt.Fprint(tty, "\r") // no headphones
		var typed []string
		answered := 0
		heard := 0.0 // seconds of sound, at least: there is an opening in each but the first
		lines := bufio.NewScanner(tty)
		take := func(line string) {
			if m := regexp.MustCompile(`, number (\d+)`).FindStringSubmatch(line); m != nil {
				number, _ := strconv.Atoi(m[1])
				heard = float64(number + 1)
			}
			if len(typed) > answered && strings.Contains(line, "  "+typed[answered]+" (") {
				answered++
			}
		}
		for lines.Scan() {
			take(lines.Text())
			if closed := strings.HasSuffix(strings.TrimSpace(lines.Text()), "  points closed"); closed && heard > 0 && len(typed) == answered {
				if answered == readings {
					break
				}
				typed = append(typed, steppedLine(answered))
				fmt.Fprint(tty, typed[answered]+"\r")
			}
		}
		require.NoError(t, cmd.Process.Kill())
		for lines.Scan() {
			take(lines.Text())
		}
		require.Error(t, cmd.Wait())
		require.Equal(t, readings, answered)
		h := requireSafe(t, root, typed, answered)
		r, err := wav.Open(filepath.Join(h.dir, takeFile(1)))
		require.NoError(t, err)
		kept := float64(r.Skip(1<<40)) / float64(r.Format().SampleRate)
		require.NoError(t, r.Close())
		assert.GreaterOrEqual(t, kept, heard+0.4-1, "closed 0.4 s after they opened: seconds of sound; at most one is lost")
		t.Logf("killed after %d readings and at least %.1f s: %.3f s are recorded", readings, heard+0.4, kept)
		requireGoesOn(t, root, h)
	}
}

func TestLiveWithoutADevice(t *testing.T) {
	bin := program(t)
	for name, args := range map[string][]string{"": {"listen"}, "gramophone": {"listen", "--device", "gramophone"}} {
		cmd := liveCommand(t, bin, args...)
		cmd.Env = append(cmd.Env, "JACK_DEFAULT_SERVER=nobody-at-home")
		out, err := cmd.CombinedOutput()
		assert.Equal(t, ExitAudio, exitCode(err), "%s", out)
		assert.Contains(t, string(out), "breakcue: error: live: find ")
		assert.Contains(t, string(out), name)
		assert.Contains(t, string(out), "breakcue: hint: ")
		assert.NotContains(t, string(out), "jack server", "the noise of the sound system")
	}
}

func TestLiveServerKilled(t *testing.T) {
	const name = "breakcue-doomed" // always the same: the place of a killed server is freed for its own name only
	server := exec.Command("jackd", "-n", name, "-r", "-S", "-d", "dummy", "-r", "48000", "-p", "128")
	require.NoError(t, server.Start())
	t.Cleanup(func() { server.Process.Kill(); server.Wait() })
	require.NoError(t, exec.Command("jack_wait", "-s", name, "-w", "-t", "10").Run())
	t.Setenv("JACK_DEFAULT_SERVER", name)
	liveCable(t, "cable 96000 9600 4800 60")
	bin := program(t)
	file := filepath.Join(t.TempDir(), "take.wav")
	cmd := liveCommand(t, bin, "listen", "--device", "cable", "--json", "--record", file)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	heard := 0
	for heard < 20 && lines.Scan() {
		heard++
	}
	require.NoError(t, server.Process.Kill())
	for lines.Scan() {
		heard++
	}
	assert.Equal(t, ExitAudio, exitCode(cmd.Wait()), "%s", &errs)
	assert.Contains(t, errs.String(), `breakcue: error: live: run device "cable": no sound for 2 s`)
	review, err := liveCommand(t, bin, "review", "--json", file).Output()
	require.NoError(t, err)
	var r reviewResult
	require.NoError(t, json.Unmarshal(review, &r))
	assert.GreaterOrEqual(t, len(r.Edges), heard, "what was heard is in the recording")
}
