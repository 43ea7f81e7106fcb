package cli

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"testing"
	"time"

	"breakcue/testdata/corpus"
)

// peer is another program that finds edges in the recording at path. It is told the channel, the wiring and the tone. cpu is the processor time taken.
type peer interface {
	edges(path string, truth corpus.Truth) (found []corpus.Edge, cpu time.Duration, err error)
}

// silencedetect is ffmpeg's filter, with one fixed setting: silence is what stays below -14 dBFS for 20 ms. It prints six digits.
type silencedetect struct{ ffmpeg string }

// newSilencedetect returns an error that tells what is missing.
func newSilencedetect() (peer, error) {
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil, fmt.Errorf("ffmpeg is not installed")
	}
	return silencedetect{path}, nil
}

var silence = regexp.MustCompile(`silence_(start|end): (-?[0-9.e+-]+)`)

func (s silencedetect) edges(path string, truth corpus.Truth) ([]corpus.Edge, time.Duration, error) {
	filter := fmt.Sprintf("pan=mono|c0=c%d,silencedetect=n=-14dB:d=0.02", truth.Channel)
	cmd := exec.Command(s.ffmpeg, "-nostdin", "-hide_banner", "-threads", "1", "-i", path, "-af", filter, "-f", "null", "-")
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := cmd.Run(); err != nil {
		return nil, 0, fmt.Errorf("ffmpeg: %w: %s", err, said.Bytes())
	}
	kinds := map[string]string{"start": corpus.Open, "end": corpus.Close}
	if truth.Wiring == "shunt" {
		kinds = map[string]string{"start": corpus.Close, "end": corpus.Open}
	}
	var found []corpus.Edge
	for _, m := range silence.FindAllStringSubmatch(said.String(), -1) {
		at, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			return nil, 0, fmt.Errorf("ffmpeg: %w", err)
		}
		// The end of the recording is none of the silence.
		if frame := at * float64(truth.Rate); frame < float64(truth.Frames)-0.01*float64(truth.Rate) {
			found = append(found, corpus.Edge{Kind: kinds[m[1]], Sample: frame})
		}
	}
	return found, processorTime(cmd), nil
}

func processorTime(cmd *exec.Cmd) time.Duration {
	return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}

// hilbert is the script of that name, running.
type hilbert struct {
	in  io.Writer
	out *bufio.Reader
}

// newHilbert starts the script by the first Python that has scipy; its error tells that none has. It ends with the benchmark.
func newHilbert(b *testing.B) (peer, error) {
	for _, python := range []string{"python3", "/usr/bin/python3", "python"} {
		if exec.Command(python, "-c", "import scipy.signal").Run() != nil {
			continue
		}
		cmd := exec.Command(python, "-c", corpus.Hilbert)
		cmd.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
		cmd.Stderr = os.Stderr
		in, err := cmd.StdinPipe()
		if err != nil {
			return nil, err
		}
		out, err := cmd.StdoutPipe()
		if err != nil {
			return nil, err
		}
		if err := cmd.Start(); err != nil {
			return nil, err
		}
		b.Cleanup(func() {
			in.Close()
			if err := cmd.Wait(); err != nil {
				b.Errorf("hilbert.py: %v", err)
			}
		})
		return hilbert{in, bufio.NewReader(out)}, nil
	}
	return nil, fmt.Errorf("no python3 with scipy is installed")
}

func (h hilbert) edges(path string, truth corpus.Truth) ([]corpus.Edge, time.Duration, error) {
	ask := map[string]any{"path": path, "channel": truth.Channel, "tone": truth.Tone, "wiring": truth.Wiring}
	if err := json.NewEncoder(h.in).Encode(ask); err != nil {
		return nil, 0, fmt.Errorf("hilbert.py: %w", err)
	}
	line, err := h.out.ReadBytes('\n')
	if err != nil {
		return nil, 0, fmt.Errorf("hilbert.py: %w", err)
	}
	var answer struct {
		Edges []corpus.Edge
		CPU   float64
	}
	if err := json.Unmarshal(line, &answer); err != nil {
		return nil, 0, fmt.Errorf("hilbert.py: %w", err)
	}
	return answer.Edges, time.Duration(answer.CPU * float64(time.Second)), nil
}

// ours is our own, built and run on one core: for its speed, beside that of the others.
type ours struct{ path string }

func (p ours) edges(path string, truth corpus.Truth) ([]corpus.Edge, time.Duration, error) {
	cmd := exec.Command(p.path, "review", path, "--json", "--wiring", truth.Wiring)
	cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
	out, err := cmd.Output()
	if err != nil {
		return nil, 0, fmt.Errorf("breakcue review: %w", err)
	}
	var r reviewResult
	if err := json.Unmarshal(out, &r); err != nil {
		return nil, 0, fmt.Errorf("breakcue review: %w", err)
	}
	var found []corpus.Edge
	for _, e := range r.Edges {
		found = append(found, corpus.Edge{Kind: e.Kind, Sample: e.Sample})
	}
	return found, processorTime(cmd), nil
}
