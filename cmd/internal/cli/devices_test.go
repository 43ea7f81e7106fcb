package cli

import (
	"bytes"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"breakcue/audio/live"
)

func TestPrintDevices(t *testing.T) {
	cards := []live.Device{
		{
			Name: "Line box", HostAPI: "ALSA", MaxInputs: 2, MaxOutputs: 2, DefaultRate: 44100,
			LowInputLatency: 8700 * time.Microsecond, HighInputLatency: 35 * time.Millisecond,
			LowOutputLatency: 9 * time.Millisecond, HighOutputLatency: 36 * time.Millisecond,
			DefaultInput: true, DefaultOutput: true,
		},
		{Name: "Speaker", HostAPI: "ALSA", MaxOutputs: 8, DefaultRate: 48000},
	}
	for _, c := range []struct {
		name   string
		list   []live.Device
		err    error
		json   bool
		code   int
		stdout string
		stderr string
	}{
		{
			name: "table", list: cards,
			stdout: `Device    System  Inputs  Outputs  Rate [Hz]  Default for
Line box  ALSA    2       2        44100      input, output
Speaker   ALSA    0       8        48000      -
`,
		}, {
			name: "JSON", list: cards[:1], json: true,
			stdout: `{
 "schema": "breakcue.devices/1",
 "devices": [
  {
   "name": "Line box",
   "host_api": "ALSA",
   "max_input_channels": 2,
   "max_output_channels": 2,
   "default_sample_rate": 44100,
   "low_input_latency_ms": 8.7,
   "high_input_latency_ms": 35,
   "low_output_latency_ms": 9,
   "high_output_latency_ms": 36,
   "default_input": true,
   "default_output": true
  }
 ]
}
`,
		}, {
			name: "none", code: ExitAudio,
			stderr: `breakcue: error: no sound card found
breakcue: hint: plug in a sound card with a line input, or check that this user may use it (Linux: group audio)
`,
		}, {
			name: "none in JSON", code: ExitAudio, json: true,
			stdout: "{\n \"schema\": \"breakcue.devices/1\",\n \"devices\": []\n}\n",
			stderr: `breakcue: error: no sound card found
breakcue: hint: plug in a sound card with a line input, or check that this user may use it (Linux: group audio)
`,
		}, {
			name: "build without live audio", err: fmt.Errorf("wrapped: %w", live.ErrUnavailable), code: ExitAudio,
			stderr: "breakcue: error: wrapped: " + live.ErrUnavailable.Error() + `
breakcue: hint: recordings work all the same: run 'breakcue review FILE'
`,
		}, {
			name: "sound system broken", err: errors.New("live: start PortAudio: internal error"), code: ExitAudio,
			stderr: `breakcue: error: live: start PortAudio: internal error
breakcue: hint: check that the sound system runs and that this user may use it
`,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out, errOut bytes.Buffer
			env := Env{Out: &out, Err: &errOut}
			assert.Equal(t, c.code, report(env, printDevices(env, c.list, c.err, c.json)))
			assert.Equal(t, c.stdout, out.String())
			assert.Equal(t, c.stderr, errOut.String())
		})
	}
}

func TestDevicesTakesNoArgument(t *testing.T) {
	var out, errOut bytes.Buffer
	c := newDevices(Env{Out: &out, Err: &errOut})
	c.SilenceErrors, c.SilenceUsage = true, true
	c.SetArgs([]string{"hw:0"})
	assert.Equal(t, ExitUsage, report(Env{Out: &out, Err: &errOut}, c.Execute()))
	assert.Empty(t, out.String())
	assert.Contains(t, errOut.String(), "devices needs no argument, got 1 arguments")
}
