//go:build live_test && soak && cgo && !nolive && unix

package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/gordonklaus/portaudio"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// These tests take half an hour: see make soak. What they measure is in their log.

const (
	soakOpenings = 1300  // in ten minutes
	soakPeriod   = 21601 // frames of one opening to the next: 0.45 s, beyond the flash limit; prime to the buffers
	soakOpen     = 10007 // frames: 0.21 s
	soakFirst    = 120000
	cpuRound     = 60 * time.Second
)

// Ten minutes of openings: none missed, none made up, each at its frame; memory does not grow; CPU against a callback that does
// nothing but pass the sound on, before and after.
func TestLiveSoakTenMinutes(t *testing.T) {
	if os.Getenv("BREAKCUE_BARE") != "" {
		passOn(t)
		return
	}
	s := schedule{soakFirst, soakPeriod, soakOpen, soakOpenings}
	liveCable(t, "cable "+s.String())
	bare := bareCPU(t)

	file := filepath.Join(t.TempDir(), "take.wav")
	length := time.Duration(soakFirst+soakPeriod*soakOpenings)*time.Second/48000 + 2*time.Second
	cmd := liveCommand(t, program(t), "listen", "--device", "cable", "--json", "--record", file, "--for", length.String())
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Start())
	watched := make(chan usage)
	go func() { watched <- watch(cmd.Process.Pid, length) }()
	require.NoError(t, cmd.Wait(), "%s", &errs)
	u := <-watched
	bare = (bare + bareCPU(t)) / 2

	kinds, frames := edgesOf(t, &out)
	require.Len(t, frames, 2*s.count)
	trip := requireOnSchedule(t, s, kinds, frames)
	review, err := liveCommand(t, program(t), "review", "--json", file).Output()
	require.NoError(t, err)
	var r reviewResult
	require.NoError(t, json.Unmarshal(review, &r))
	require.Len(t, r.Edges, len(frames))
	for i, e := range r.Edges {
		require.InDelta(t, frames[i], e.Sample, 1.01, "edge %d", i)
	}
	t.Logf("%d edges at round trip %g..%g frames, %v", len(frames), trip, trip+1, length)
	t.Logf("CPU: %.2f points of a core, bare %.2f, above %.2f (goal 1.5)", u.cpu, bare, u.cpu-bare)
	t.Logf("memory: %d KiB after a minute, %d at the end, most %d", u.early, u.late, u.most)
	assert.Less(t, float64(u.late), 1.1*float64(u.early), "memory [KiB]")
}

// A thousand openings on the screen, in two sizes.
func TestLiveSoakScreen(t *testing.T) {
	for _, size := range []pty.Winsize{{Rows: 24, Cols: 80}, {Rows: 40, Cols: 120}} {
		s := schedule{soakFirst, soakPeriod, soakOpen, 1010}
		liveCable(t, fmt.Sprintf("cable%d %v", size.Rows, s))
		length := time.Duration(soakFirst+soakPeriod*s.count)*time.Second/48000 + time.Second
		cmd := liveCommand(t, program(t), "listen", "--device", fmt.Sprintf("cable%d", size.Rows), "--for", length.String())
		var errs bytes.Buffer
		cmd.Stderr = &errs
		tty, err := pty.StartWithSize(cmd, &size)
		require.NoError(t, err)
		fmt.Fprint(tty, "\r")
		bytesOut, _ := io.Copy(io.Discard, tty)
		require.NoError(t, cmd.Wait(), "%s", &errs)
		assert.Contains(t, errs.String(), "1010 openings, 1010 closings")
		t.Logf("%dx%d, %d bytes: %s", size.Cols, size.Rows, bytesOut, &errs)
	}
}

// usage is what a process has used.
type usage struct {
	cpu               float64 // points of one core, from the tenth second on
	early, late, most int64   // resident memory after a minute, at the end, and at most [KiB]
}

// watch looks at a process until just before its end.
func watch(pid int, length time.Duration) (u usage) {
	start := time.Now()
	at := func(d time.Duration) { <-time.NewTimer(d - time.Since(start)).C }
	at(10 * time.Second)
	from, began := cpuOf(pid), time.Now()
	for next := time.Minute; next < length; next += time.Minute {
		at(next)
		kib := residentOf(pid)
		if u.early == 0 {
			u.early = kib
		}
		u.late, u.most = kib, max(u.most, kib)
		u.cpu = 100 * (cpuOf(pid) - from) / time.Since(began).Seconds()
	}
	return u
}

// cpuOf returns the processor time of a process [s].
func cpuOf(pid int) float64 {
	total := 0.0
	tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", pid))
	for _, task := range tasks {
		b, _ := os.ReadFile(task)
		if f := strings.Fields(string(b)); len(f) > 0 {
			ns, _ := strconv.ParseFloat(f[0], 64)
			total += ns / 1e9
		}
	}
	return total
}

// residentOf returns the resident memory of a process [KiB].
func residentOf(pid int) (kib int64) {
	b, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	for line := range strings.Lines(string(b)) {
		if f := strings.Fields(line); len(f) > 1 && f[0] == "VmRSS:" {
			kib, _ = strconv.ParseInt(f[1], 10, 64)
		}
	}
	return kib
}

// bareCPU returns what a process needs that passes the sound on and does nothing else [points of one core].
func bareCPU(t *testing.T) float64 {
	cmd := exec.Command(os.Args[0], "-test.run=^TestLiveSoakTenMinutes$")
	cmd.Env = append(os.Environ(), "BREAKCUE_BARE=1")
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = io.ReadFull(out, make([]byte, len("started")))
	require.NoError(t, err)
	from, began := cpuOf(cmd.Process.Pid), time.Now()
	<-time.NewTimer(cpuRound).C
	used := 100 * (cpuOf(cmd.Process.Pid) - from) / time.Since(began).Seconds()
	_, _ = io.Copy(io.Discard, out)
	_ = cmd.Wait()
	return used
}

// passOn is the bare callback; it ends by itself.
func passOn(t *testing.T) {
	require.NoError(t, portaudio.Initialize())
	list, err := portaudio.Devices()
	require.NoError(t, err)
	for _, d := range list {
		if d.Name != "cable" {
			continue
		}
		p := portaudio.LowLatencyParameters(d, d)
		p.Input.Channels, p.Output.Channels, p.SampleRate = 1, 1, 48000
		p.FramesPerBuffer = portaudio.FramesPerBufferUnspecified
		stream, err := portaudio.OpenStream(p, func(in, out []float32) { copy(out, in) })
		require.NoError(t, err)
		require.NoError(t, stream.Start())
		fmt.Print("started")
		<-time.NewTimer(cpuRound + 5*time.Second).C
		require.NoError(t, stream.Stop())
		require.NoError(t, stream.Close())
		require.NoError(t, portaudio.Terminate())
	}
}
