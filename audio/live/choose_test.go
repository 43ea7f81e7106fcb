package live

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestChoose(t *testing.T) {
	dev := func(name, api string, ins, outs int) Device {
		return Device{Name: name, HostAPI: api, MaxInputs: ins, MaxOutputs: outs}
	}
	defaults := func(d Device, in, out bool) Device {
		d.DefaultInput, d.DefaultOutput = in, out
		return d
	}
	linux := []Device{
		dev("HDA: ALC (hw:0,0)", "ALSA", 2, 2),
		dev("USB Thing: Audio (hw:1,0)", "ALSA", 1, 2),
		dev("USB Other: Audio (hw:2,0)", "ALSA", 2, 2),
		dev("HDMI 0", "ALSA", 0, 8),
		defaults(dev("default", "ALSA", 32, 32), true, true),
		dev("system", "JACK", 2, 2),
	}
	windows := []Device{
		dev("Microphone (USB Thing)", "MME", 2, 0),
		defaults(dev("Microphone (Board)", "MME", 2, 0), true, false),
		dev("Speakers (USB Thing)", "MME", 0, 2),
		defaults(dev("Speakers (Board)", "MME", 0, 2), false, true),
		dev("Microphone (USB Thing)", "WASAPI", 2, 0),
		dev("Speakers (USB Thing)", "WASAPI", 0, 2),
	}
	split := []Device{dev("in", "A", 1, 0), dev("out", "B", 0, 1), defaults(dev("mic", "C", 1, 0), true, false), dev("loud", "C", 0, 2)}
	for _, c := range []struct {
		list    []Device
		name    string
		in, out int
		err     string
	}{
		{linux, "", 4, 4, ""},
		{linux, "usb thing", 1, 1, ""},
		{linux, "SYSTEM", 5, 5, ""},
		{linux, "default", 4, 4, ""},
		{linux, "jack", 5, 5, ""},
		{linux, "usb", 0, 0, `live: find device "usb": several devices fit: "USB Thing: Audio (hw:1,0) (ALSA)", "USB Other: Audio (hw:2,0) (ALSA)"`},
		{linux, "hdmi", 0, 0, `live: find device "hdmi": no such device: none that fits can record, only play: "HDMI 0 (ALSA)"`},
		{linux[4:], "tape", 0, 0, `live: find device "tape": no such device: there are "default (ALSA)", "system (JACK)"`},
		{[]Device{dev("default", "A", 1, 1), dev("defaults", "A", 1, 1)}, "default", 0, 0, ""},
		{[]Device{dev("Card", "A", 1, 1), dev("card", "A", 1, 1)}, "card", 1, 1, ""},
		{windows, "", 1, 3, ""},
		{windows, "usb", 0, 2, ""},
		{windows, "usb thing) (wasapi", 4, 5, ""},
		{windows, "speakers (board)", 0, 0, `live: find device "speakers (board)": no such device: none that fits can record, only play: "Speakers (Board) (MME)"`},
		{windows[4:], "micro", 0, 0, `live: find device "micro": no such device: none that fits can play, only record: "Microphone (USB Thing) (WASAPI)"`},
		{split, "", 2, 3, ""}, // mic is a default, and so decides
		{split[:2], "", 0, 0, `live: find the default devices: no such device: none plays and records by the same host API: "in (A)", "out (B)"`},
		{nil, "", 0, 0, `live: find the default devices: no such device: there is none at all`},
		{nil, "x", 0, 0, `live: find device "x": no such device: there is none at all`},
	} {
		in, out, err := Choose(c.list, c.name)
		if c.err != "" {
			assert.EqualError(t, err, c.err)
			assert.Zero(t, in)
			assert.Zero(t, out)
			continue
		}
		require.NoError(t, err, c.name)
		assert.Equal(t, c.list[c.in], in, c.name)
		assert.Equal(t, c.list[c.out], out, c.name)
	}
}

func TestChooseOutput(t *testing.T) {
	list := []Device{{Name: "mic", HostAPI: "A", MaxInputs: 1}, {Name: "left", HostAPI: "A", MaxOutputs: 2}, {Name: "right", HostAPI: "B", MaxInputs: 1, MaxOutputs: 2}}
	for _, c := range []struct {
		name string
		want int
		err  string
	}{
		{"right", 2, ""},
		{"le", 1, ""},
		{"t", 0, `live: find device "t": several devices fit: "left (A)", "right (B)"`},
		{"mic", 0, `live: find device "mic": no such device: none that fits can play, only record: "mic (A)"`},
		{"x", 0, `live: find device "x": no such device: there are "mic (A)", "left (A)", "right (B)"`},
	} {
		got, err := chooseOutput(list, c.name)
		if c.err != "" {
			assert.EqualError(t, err, c.err)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
}

// Whatever the list: what is chosen can do the job and bears the name; else the error is one of the two.
func TestChooseAlways(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(func(r *rapid.T) Device {
			return Device{
				Name: rapid.StringMatching(`[aAb]{0,2}`).Draw(r, "name"), HostAPI: rapid.StringMatching(`[xy]`).Draw(r, "api"),
				MaxInputs: rapid.IntRange(0, 1).Draw(r, "ins"), MaxOutputs: rapid.IntRange(0, 1).Draw(r, "outs"),
				DefaultInput: rapid.Bool().Draw(r, "in"), DefaultOutput: rapid.Bool().Draw(r, "out"),
			}
		}), 0, 5).Draw(r, "list")
		name := rapid.StringMatching(`[aAbx]{0,2}`).Draw(r, "asked")
		in, out, err := Choose(list, name)
		if err != nil {
			var e *DeviceError
			require.ErrorAs(r, err, &e)
			require.Equal(r, name, e.Device)
			require.True(r, e.Unwrap() != nil)
			return
		}
		require.Positive(r, in.MaxInputs)
		require.Positive(r, out.MaxOutputs)
		require.Equal(r, in.HostAPI, out.HostAPI)
		for _, d := range []Device{in, out} {
			require.Contains(r, list, d)
		}
	})
}
