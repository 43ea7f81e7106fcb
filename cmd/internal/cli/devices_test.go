package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/live"
	"breakcue/cmd/internal/session"
)

func TestPrintDevices(t *testing.T) {
	cards := []live.Device{
		{
			Name: "Line box", HostAPI: "ALSA", MaxInputs: 2, MaxOutputs: 2, DefaultRate: 44100,
			LowInputLatency: 8700 * time.Microsecond, HighInputLatency: 35 * time.Millisecond,
			LowOutputLatency: 9 * time.Millisecond, HighOutputLatency: 36 * time.Millisecond,
			Rates:        []int{44100, 48000, 88200, 96000, 192000},
			DefaultInput: true, DefaultOutput: true,
		},
		{Name: "Speaker", HostAPI: "ALSA", MaxOutputs: 8, DefaultRate: 48000, LowOutputLatency: 9940 * time.Microsecond, HighOutputLatency: 24 * time.Hour},
		{
			Name: "A microphone of the workshop with a long name (hw:2,0)", HostAPI: "JACK Audio Connection Kit", MaxInputs: 1, DefaultRate: 22050,
			LowInputLatency: 2666 * time.Microsecond, HighInputLatency: 2667 * time.Microsecond,
			Rates: []int{}, DefaultInput: true,
		},
		{Name: "Nothing\x1b[2J", HostAPI: "ALSA"},
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
			stdout: `Device                             In  Out  Rates [kHz]             The job
Line box                            2    2  44.1* 48 88.2 96 192    can do it
  ALSA; default input and output; used last; latency in 8.7-35 ms
  latency out 9.0-36 ms
Speaker                             0    8  48* others not known    only plays
  ALSA; latency out 9.9-86400000 ms
A microphone of the ... (hw:2,0)    1    0  none of the usual       only records
  JACK Audio Connection Kit; default input; latency in 2.7 ms
Nothing�[2J                         0    0  not known               no channels
  ALSA

The job is to play the tone and to record what comes back, through one card.
Of 4 devices, 1 can do it. * marks a card's usual rate.
Latencies are what the drivers say, which is often not true.
Two sets of points (--sets 2) take two outputs of a card: a beep then needs
another card (--alert-device).
`,
		}, {
			name: "JSON", list: cards[:1], json: true,
			stdout: `{
 "schema": "breakcue.devices/1",
 "devices": [
  {
   "name": "Line box",
   "host_api": "ALSA",
   "can_do_job": true,
   "missing": "",
   "max_input_channels": 2,
   "max_output_channels": 2,
   "default_sample_rate": 44100,
   "rates": [
    44100,
    48000,
    88200,
    96000,
    192000
   ],
   "low_input_latency_ms": 8.7,
   "high_input_latency_ms": 35,
   "low_output_latency_ms": 9,
   "high_output_latency_ms": 36,
   "default_input": true,
   "default_output": true,
   "used_last": true
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
			assert.Equal(t, c.code, report(env, printDevices(env, c.list, c.err, "Line box", c.json)))
			assert.Equal(t, c.stdout, out.String())
			assert.Equal(t, c.stderr, errOut.String())
			if !c.json {
				for line := range strings.Lines(out.String()) {
					assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), session.Columns, line)
				}
			}
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

// What a device lacks, and rates that are not known, in JSON.
func TestDevicesJSON(t *testing.T) {
	got := devicesJSON([]live.Device{
		{Name: "a", MaxInputs: 2}, {Name: "b", MaxOutputs: 2, Rates: []int{}}, {}, {Name: "a", MaxInputs: 1, MaxOutputs: 1},
	}, "a").Devices
	assert.Equal(t, "only records", got[0].Missing)
	assert.Equal(t, "only plays", got[1].Missing)
	assert.Equal(t, "no channels", got[2].Missing)
	assert.Equal(t, "", got[3].Missing)
	assert.Nil(t, got[0].Rates)
	assert.NotNil(t, got[1].Rates)
	for i, able := range []bool{false, false, false, true} {
		assert.Equal(t, able, got[i].CanDoJob)
	}
	for i, last := range []bool{true, false, false, true} {
		assert.Equal(t, last, got[i].UsedLast, "two systems may give the same name")
	}
	for _, d := range devicesJSON([]live.Device{{}}, "").Devices {
		assert.False(t, d.UsedLast, "nothing was used yet")
	}
}

// A sound server that never answers does not keep Ctrl-C from ending the program.
func TestListingIsLeftWithContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	never := make(chan struct{})
	defer close(never)
	list, err := listWithin(ctx, func() ([]live.Device, error) {
		cancel()
		<-never
		return nil, nil
	})
	assert.Empty(t, list)
	assert.ErrorIs(t, err, context.Canceled)
	assert.ErrorIs(t, printDevices(Env{}, nil, err, "", false), context.Canceled)
}

func TestShortened(t *testing.T) {
	for _, c := range []struct{ name, want string }{
		{"", ""},
		{"twelve chars", "twelve chars"},
		{"thirteen char", "thirte...har"},
		{"ÄÖÜäöüßÄÖÜäöü", "ÄÖÜäöü...äöü"},
	} {
		assert.Equal(t, c.want, shortened(c.name, 12))
	}
}

// Settings that cannot be read are moved aside and told; the list comes all the same.
func TestDevicesTellsOfDamagedSettings(t *testing.T) {
	getenv := settings(t)
	path := filepath.Join(getenv("XDG_CONFIG_HOME"), "breakcue", "known.json")
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte("{"), 0o600))
	var out, errOut bytes.Buffer
	env := newShop(t).env
	env.Out, env.Err, env.Getenv = &out, &errOut, getenv
	c := newDevices(env)
	c.SilenceErrors, c.SilenceUsage = true, true
	c.SetArgs([]string{"--json"})
	assert.Equal(t, ExitOK, report(env, c.ExecuteContext(context.Background())))
	assert.Contains(t, out.String(), "line box")
	assert.Contains(t, errOut.String(), "breakcue: note: known: "+path+": got no valid content (unexpected EOF), want one JSON object; moved to "+path+".damaged")
	assert.FileExists(t, path+".damaged")
}
