//go:build live_test && cgo && !nolive && unix

package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/leads"
)

// until reads up to a text, and returns what came before it.
func until(t *testing.T, r io.Reader, text string) string {
	var got []byte
	for one := make([]byte, 1); !bytes.HasSuffix(got, []byte(text)); {
		_, err := r.Read(one)
		require.NoError(t, err, "%s", got)
		got = append(got, one[0])
	}
	return string(got)
}

// A check on a sound server for real, whose cable is opened and closed as somebody does who holds the clips; then what it found is listened
// with.
func TestLiveCheckOfTheCable(t *testing.T) {
	bin, settings := program(t), "XDG_CONFIG_HOME="+t.TempDir()
	clips := liveCable(t, "-g -14 -l -40 -n -90 cable 48000 9601 0 0")
	cmd := liveCommand(t, bin, "leads", "--device", "cable", "--json")
	cmd.Env = append(cmd.Env, settings)
	var out bytes.Buffer
	cmd.Stdout = &out
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	errs, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var told strings.Builder
	told.WriteString(until(t, errs, "Enter: all of this is so"))
	for i, open := range []bool{true, false, false, true} {
		_, err := in.Write([]byte("\n"))
		require.NoError(t, err)
		told.WriteString(until(t, errs, fmt.Sprintf("step %d of 5: ", i+2))) // the one before was measured
		require.NoError(t, clips.Signal(map[bool]syscall.Signal{true: syscall.SIGUSR1, false: syscall.SIGUSR2}[open]))
		told.WriteString(until(t, errs, "Enter: measure"))
	}
	_, err = in.Write([]byte("\n"))
	require.NoError(t, err)
	rest, err := io.ReadAll(errs)
	require.NoError(t, err)
	require.NoError(t, cmd.Wait(), "%s%s", told.String(), rest)
	var r struct {
		WillDo   bool           `json:"will_do"`
		Wiring   string         `json:"wiring"`
		Profile  *leads.Profile `json:"profile"`
		Measures []struct {
			Step  string  `json:"step"`
			Power float64 `json:"power"`
		} `json:"measures"`
	}
	require.NoError(t, json.Unmarshal(out.Bytes(), &r), out.String())
	assert.True(t, r.WillDo)
	assert.Equal(t, "series", r.Wiring)
	require.NotNil(t, r.Profile)
	require.Len(t, r.Measures, 4)
	for i, want := range []float64{-52, -26, -26, -52} { // -12 dBFS through a cable of -14 dB, or of -40
		assert.InDelta(t, want, r.Measures[i].Power, 0.1, r.Measures[i].Step)
	}
	t.Logf("%s%s", told.String(), rest)

	require.NoError(t, clips.Signal(syscall.SIGTERM))
	_, err = clips.Wait()
	require.NoError(t, err)
	s := schedule{96000, 9601, 3607, 20} // from a moment after the tone has risen, which is slow where nobody can be asked about headphones
	liveCable(t, "-g -14 -l -40 -n -90 cable "+s.String())
	cmd = liveCommand(t, bin, "listen", "--device", "cable", "--json", "--for", "8s")
	cmd.Env = append(cmd.Env, settings)
	var heard, noted bytes.Buffer
	cmd.Stdout, cmd.Stderr = &heard, &noted
	require.NoError(t, cmd.Run(), "%s", &noted)
	assert.Contains(t, noted.String(), "Levels from the check of the cable a minute ago.")
	var first eventLine
	require.NoError(t, json.Unmarshal([]byte(strings.SplitN(heard.String(), "\n", 2)[0]), &first))
	assert.Less(t, first.DecidedFrame-int64(first.Frame), int64(240), "5 ms")
	kinds, frames := edgesOf(t, &heard)
	require.Len(t, frames, 2*s.count)
	for i, k := range kinds {
		assert.Equal(t, []string{"open", "close"}[i%2], k)
		// The round trip is one cycle of the server. A frame: the tone may pass through zero where it is cut.
		assert.InDelta(t, float64(s.first+i/2*s.period+i%2*s.open+128), frames[i], 1.1, "edge %d", i)
	}
}
