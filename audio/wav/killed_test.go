package wav

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// recordUntilKilled names the file to record; with it this program records without end instead of running tests.
const recordUntilKilled = "WAV_RECORD_UNTIL_KILLED"

func TestMain(m *testing.M) {
	if path := os.Getenv(recordUntilKilled); path != "" {
		err := recordForever(path)
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(m.Run())
}

const (
	killedRate = 1000
	killedRoom = 1000
)

func killedMark(second int) Cue {
	return Cue{Frame: int64(killedRate*second + 7), Label: fmt.Sprintf("points open %d", second+1)}
}

// recordForever records seconds with a cue point in each, and prints the number of each when it is safe.
func recordForever(path string) error {
	w, err := Create(path, Spec{SampleRate: killedRate, Channels: 1, Room: killedRoom})
	if err != nil {
		return err
	}
	block := make([]float32, killedRate)
	for second := 0; ; second++ {
		m := killedMark(second)
		if err := w.Mark(m.Frame, m.Label); err != nil {
			return err
		}
		for i := range block {
			block[i] = float32(second%100) / 128
		}
		if err := w.Write(block); err != nil {
			return err
		}
		fmt.Println(second + 1)
	}
}

func TestKilledRecorder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), recordUntilKilled+"="+path)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var safe int
	lines := bufio.NewScanner(out)
	for safe < 20 && lines.Scan() {
		_, err := fmt.Sscan(lines.Text(), &safe)
		require.NoError(t, err)
	}
	require.NoError(t, cmd.Process.Kill())
	for lines.Scan() { // what it printed before it died
		fmt.Sscan(lines.Text(), &safe)
	}
	assert.Error(t, cmd.Wait())
	require.GreaterOrEqual(t, safe, 20)

	r, err := Open(path)
	require.NoError(t, err)
	defer r.Close()
	cues := r.Cues()
	require.GreaterOrEqual(t, len(cues), min(safe, killedRoom))
	for i, c := range cues {
		require.Equal(t, killedMark(i), c)
	}
	samples, err := readAll(r, 4096)
	assert.Equal(t, io.EOF, err)
	require.GreaterOrEqual(t, len(samples), safe*killedRate)
	for i, x := range samples {
		require.Equal(t, float32(i/killedRate%100)/128, x)
	}
}
