//go:build live_test && cgo && !nolive && unix

package live

import (
	"bufio"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
)

// These tests need a sound server and a cable, which .ci/live provides: see make test-live.

// cable starts the cable client of testdata/live, "-2 NAME 100 10 5 3" for instance, and ends it with the test. It returns what
// the client prints.
func cable(t *testing.T, args string) *bufio.Reader {
	t.Helper()
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
	lines := bufio.NewReader(out)
	next(t, lines, "ready ")
	return lines
}

// next reads the next line, which must begin with prefix.
func next(t *testing.T, lines *bufio.Reader, prefix string) {
	t.Helper()
	line, err := lines.ReadString('\n')
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(line, prefix), line)
}

// plain is a tone on channel 1, through the device called name.
func plain(name string) Options {
	return Options{Device: name, Tone: Voice{Hz: 1000, Level: -12, Channel: 1}}
}

func openLive(t *testing.T, o Options) *Stream {
	t.Helper()
	s, err := Open(o)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// hear reads the first frames of a stream, which must be all there, and returns them channel by channel.
func hear(t *testing.T, s *Stream, frames int) [][]float32 {
	t.Helper()
	channels := make([][]float32, s.Format().Channels)
	buf := make([]float32, 4096*len(channels))
	for len(channels[0]) < frames {
		n, err := s.Read(buf)
		require.NoError(t, err)
		for i := range n * len(channels) {
			c := i % len(channels)
			channels[c] = append(channels[c], buf[i])
		}
	}
	return channels
}

// want is the tone that plain plays.
func want(t *testing.T, rate, frames int) []float32 {
	tone, err := audio.NewTone(1000, -12, rate)
	require.NoError(t, err)
	x := make([]float32, frames)
	tone.Fill(x, 1, 0)
	return x
}

// roundTrip returns how many frames the tone was on its way: its first sample that is not 0 is its second.
func roundTrip(t *testing.T, x []float32) int {
	for i, v := range x {
		if v != 0 {
			return i - 1
		}
	}
	require.Fail(t, "nothing came back")
	return 0
}

func TestLiveOpeningsAreWhereTheCableMadeThem(t *testing.T) {
	const first, period, length, count = 12000, 4801, 1201, 40
	cable(t, fmt.Sprintf("cable %d %d %d %d", first, period, length, count))
	s := openLive(t, plain("cable"))
	x := hear(t, s, first+period*count+9600)[0]
	trip := roundTrip(t, x)
	t.Logf("round trip %d frames, %+v, %+v", trip, s.Info(), s.Stats())
	tone := want(t, s.Format().SampleRate, len(x))
	for i := trip; i < len(x); i++ {
		frame := i - trip
		w := tone[frame]
		if since := frame - first; since >= 0 && since/period < count && since%period < length {
			w = 0
		}
		require.Equal(t, w, x[i], "frame %d: every sample comes back as it went out, or not at all", frame)
	}
	assert.Zero(t, s.Stats().Overrun+s.Stats().Late+s.Stats().Clipped)
	assert.Equal(t, int64(240), s.ToneFrom(), "5 ms")
	info := s.Info()
	assert.Equal(t, Info{Input: "cable", Output: "cable", HostAPI: "JACK Audio Connection Kit", Rate: 48000,
		Frames: info.Frames, Inputs: 1, Outputs: 1}, info)
	assert.Positive(t, info.Frames)
}

func TestLiveStreamsOneAfterAnother(t *testing.T) {
	cable(t, "cable 4800 4800 480 3")
	for range 3 {
		s, err := Open(plain("CAB"))
		require.NoError(t, err)
		x := hear(t, s, 48000)[0]
		require.NoError(t, s.Close())
		trip := roundTrip(t, x)
		assert.NotZero(t, x[trip+4799-1])
		assert.Equal(t, make([]float32, 480), x[trip+4800:trip+4800+480])
		assert.NotZero(t, x[trip+4800+480+1])
		// The next tone must not begin within the rest that the cable waits for.
		s2, err := Open(Options{Device: "system", Tone: Voice{Hz: 100, Level: math.Inf(-1), Channel: 1}})
		require.NoError(t, err)
		hear(t, s2, 6000)
		require.NoError(t, s2.Close())
	}
}

func TestLiveAlertStaysInItsChannel(t *testing.T) {
	cable(t, "-2 cable 0 1 0 0")
	o := plain("cable")
	o.Alert = &Alert{Voice: Voice{Hz: 2000, Level: -6, Channel: 2}, Length: 100e6}
	s := openLive(t, o)
	early := hear(t, s, 4800)
	s.Sound()
	late := hear(t, s, 24000)
	for c := range early {
		early[c] = append(early[c], late[c]...)
	}
	trip := roundTrip(t, early[0])
	assert.Equal(t, want(t, 48000, len(early[0])-trip), early[0][trip:], "the tone is untouched, to the last bit")
	sounding, first := 0, -1
	for i, v := range early[1] {
		if v != 0 {
			sounding++
			if first < 0 {
				first = i
			}
		}
	}
	require.GreaterOrEqual(t, first, 4800)
	// 0.1 s are 4800 frames; the sine passes through exact zero now and then, and a ramp begins and ends with it.
	assert.InDelta(t, 4800, sounding, 250)
	assert.Equal(t, make([]float32, len(early[1])-first-4801), early[1][first+4801:], "silence afterwards")
}

func TestLiveAlertOnAnotherDevice(t *testing.T) {
	cable(t, "cable 0 1 0 0")
	horn := cable(t, "horn 0 1 0 0")
	o := plain("cable")
	o.Alert = &Alert{Voice: Voice{Hz: 2000, Level: -6, Channel: 1}, Device: "horn"}
	s := openLive(t, o)
	early := hear(t, s, 4800)[0]
	s.Sound()
	next(t, horn, "start ") // it hears something
	x := append(early, hear(t, s, 4800)[0]...)
	trip := roundTrip(t, x)
	assert.Equal(t, want(t, 48000, len(x)-trip), x[trip:])
	assert.Equal(t, "horn", s.Info().Alert)
	assert.NoError(t, s.AlertErr())

	o.Alert.Device = "foghorn"
	_, err := Open(o)
	assert.ErrorContains(t, err, `live: find device "foghorn": no such device: there are `)
}

func TestLiveRefusals(t *testing.T) {
	cable(t, "cable 0 1 0 0")
	cable(t, "cablecar 0 1 0 0")

	_, err := Open(plain("gramophone"))
	assert.ErrorIs(t, err, ErrNoDevice)
	assert.ErrorContains(t, err, `live: find device "gramophone": no such device: there are `)
	assert.ErrorContains(t, err, `"cablecar (JACK Audio Connection Kit)"`)

	_, err = Open(plain("cabl"))
	assert.ErrorIs(t, err, ErrAmbiguous)

	o := plain("cable")
	o.Rate = 44100
	_, err = Open(o)
	assert.EqualError(t, err, `live: open device "cable": rate, got 44100 frames/s, want one of 48000`)
	var refused *RateError
	require.ErrorAs(t, err, &refused)
	assert.Equal(t, RateError{44100, []int{48000}}, *refused)

	o = plain("cable")
	o.Tone.Channel = 7
	_, err = Open(o)
	assert.EqualError(t, err, `live: open device "cable": output channel, got 7, want 1..1`)

	hear(t, openLive(t, plain("cable")), 100) // all that does not keep it from working
}

// again runs this test in a process of its own with more in its environment, because PortAudio and JACK read theirs once, and
// returns whether this is that process.
func again(t *testing.T, env ...string) bool {
	t.Helper()
	if os.Getenv("LIVE_TEST_AGAIN") == t.Name() {
		return true
	}
	cmd := exec.Command(os.Args[0], "-test.v", "-test.run=^"+strings.ReplaceAll(t.Name(), "/", "$/^")+"$")
	cmd.Env = append(append(os.Environ(), "LIVE_TEST_AGAIN="+t.Name()), env...)
	out, err := cmd.CombinedOutput()
	assert.NoError(t, err)
	t.Logf("%s", out)
	return false
}

func TestLiveWithoutADevice(t *testing.T) {
	if !again(t, "JACK_DEFAULT_SERVER=nobody-at-home") {
		return
	}
	list, err := Devices()
	require.NoError(t, err)
	assert.Empty(t, list)
	_, err = Open(plain(""))
	assert.EqualError(t, err, "live: find the default devices: no such device: there is none at all")
}

// ownServer starts another sound server and returns its name. The name is always the same for a test: JACK has room for eight servers,
// and gives the place of one that was killed only to one of the same name.
func ownServer(t *testing.T) (string, *exec.Cmd) {
	name := "breakcue-" + strings.ReplaceAll(t.Name(), "/", "-")
	log, err := os.Create(t.TempDir() + "/log")
	require.NoError(t, err)
	defer log.Close()
	cmd := exec.Command("jackd", "-n", name, "-r", "-S", "-d", "dummy", "-r", "48000", "-p", "128")
	cmd.Stdout, cmd.Stderr = log, log
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		cmd.Process.Signal(syscall.SIGTERM)
		cmd.Wait()
	})
	out, err := exec.Command("jack_wait", "-s", name, "-w", "-t", "10").CombinedOutput()
	said, readErr := os.ReadFile(log.Name())
	require.NoError(t, readErr)
	require.NoError(t, err, "%s\n%s", out, said)
	return name, cmd
}

// A server that dies, or answers no more, ends the stream within 3 s, and Close does not hang.
func TestLiveServerGone(t *testing.T) {
	for name, signal := range map[string]syscall.Signal{"killed": syscall.SIGKILL, "frozen": syscall.SIGSTOP} {
		t.Run(name, func(t *testing.T) {
			if os.Getenv("LIVE_TEST_AGAIN") == "" {
				server, cmd := ownServer(t)
				again(t, "JACK_DEFAULT_SERVER="+server, "DOOMED="+strconv.Itoa(cmd.Process.Pid))
				return
			}
			cable(t, "cable 0 1 0 0")
			_, restore, err := Quiet()
			require.NoError(t, err)
			defer restore()
			s, err := Open(plain("cable"))
			require.NoError(t, err)
			hear(t, s, 2*48000)
			pid, err := strconv.Atoi(os.Getenv("DOOMED"))
			require.NoError(t, err)
			t.Cleanup(func() { syscall.Kill(pid, syscall.SIGKILL) }) // before the cable goes, which would wait for a frozen one
			gone := time.Now()
			require.NoError(t, syscall.Kill(pid, signal))
			buf := make([]float32, 4096)
			for err == nil {
				_, err = s.Read(buf)
			}
			told := time.Since(gone)
			assert.EqualError(t, err, `live: run device "cable": no sound for 2 s`)
			assert.Less(t, told, 3*time.Second)
			_, again := s.Read(buf)
			assert.Equal(t, err, again)
			closing := s.Close()
			closed := time.Since(gone) - told
			assert.True(t, closing == nil || errors.Is(closing, ErrNoAnswer), "%v", closing)
			assert.Less(t, closed, 3*time.Second)
			t.Logf("told after %v; closed in %v: %v", told, closed, closing)
			if closing != nil {
				_, err = Open(plain("cable"))
				assert.ErrorIs(t, err, ErrNoAnswer, "the library is left alone")
			}
		})
	}
}

// A process that is suspended and goes on has lost frames, not its device. Sound from another server is the clock.
func TestLiveSuspended(t *testing.T) {
	if os.Getenv("LIVE_TEST_AGAIN") == "" {
		server, _ := ownServer(t)
		s := openLive(t, plain("system"))
		cmd := exec.Command(os.Args[0], "-test.v", "-test.run=^TestLiveSuspended$")
		cmd.Env = append(os.Environ(), "LIVE_TEST_AGAIN="+t.Name(), "JACK_DEFAULT_SERVER="+server)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		for lines.Scan() && lines.Text() != "running" {
		}
		require.NoError(t, cmd.Process.Signal(syscall.SIGSTOP))
		hear(t, s, 3*48000)
		require.NoError(t, cmd.Process.Signal(syscall.SIGCONT))
		var rest []string
		for lines.Scan() {
			rest = append(rest, lines.Text())
		}
		assert.NoError(t, cmd.Wait(), "%s", strings.Join(rest, "\n"))
		return
	}
	s := openLive(t, plain("system"))
	hear(t, s, 4800)
	fmt.Println("running")
	buf := make([]float32, 4096)
	var gap *audio.GapError
	var err error
	for err == nil {
		_, err = s.Read(buf)
	}
	require.ErrorAs(t, err, &gap)
	// 3 s by another server's clock, which began a little after the stop and ended a little before the end of it; buffers may hold
	// some milliseconds.
	assert.InDelta(t, 3*48000, gap.Lost, 0.5*48000)
	hear(t, s, 48000)
}
