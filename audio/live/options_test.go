package live

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOptionsCheck(t *testing.T) {
	good := Options{Tone: Voice{Hz: 1000, Channel: 1}}
	with := func(change func(o *Options)) Options {
		o := good
		o.Alert = &Alert{Voice: Voice{Hz: 2000, Channel: 2}, Length: time.Second}
		change(&o)
		return o
	}
	assert.NoError(t, good.check())
	assert.NoError(t, with(func(*Options) {}).check())
	assert.NoError(t, with(func(o *Options) { o.Alert.Channel, o.Alert.Device = 1, "speaker" }).check())
	second := func(channel int) func(*Options) {
		return func(o *Options) { o.Second = &Voice{Hz: 3000, Channel: channel} }
	}
	assert.NoError(t, with(second(3)).check())
	for _, c := range []struct {
		o    Options
		want string
	}{
		{with(func(o *Options) { o.Rate = -1 }), "live: rate, got -1 frames/s, want 1 or more, or 0 for the device's own"},
		{with(func(o *Options) { o.Frames = -1 }), "live: frames per buffer, got -1, want 1 or more, or 0 for the driver's choice"},
		{with(func(o *Options) { o.Inputs = -1 }), "live: input channels, got -1, want 1 or more, or 0 for at most two"},
		{with(func(o *Options) { o.Tone.Channel = 0 }), "live: output channel of the tone, got 0, want 1 or more"},
		{with(func(o *Options) { o.Alert.Channel = 0 }), "live: output channel of the alert, got 0, want 1 or more"},
		{with(func(o *Options) { o.Alert.Channel = 1 }), "live: output channel of the alert, got 1, want another one than the tone's"},
		{with(second(0)), "live: output channel of the second tone, got 0, want 1 or more"},
		{with(second(1)), "live: output channel of the second tone, got 1, want another one than the tone's"},
		{with(second(2)), "live: output channel of the alert, got 2, want another one than the second tone's"},
	} {
		assert.EqualError(t, c.o.check(), c.want)
	}
}

func TestChannelsToOpen(t *testing.T) {
	alert := func(channel int, device string) *Alert { return &Alert{Voice: Voice{Channel: channel}, Device: device} }
	for _, c := range []struct {
		o                   Options
		device              Device
		ins, outs           int
		inRefused, outError string
	}{
		{Options{Tone: Voice{Channel: 1}}, Device{MaxInputs: 1, MaxOutputs: 1}, 1, 1, "", ""},
		{Options{Tone: Voice{Channel: 1}}, Device{MaxInputs: 8, MaxOutputs: 8}, 2, 2, "", ""},
		{Options{Tone: Voice{Channel: 3}, Inputs: 5}, Device{MaxInputs: 8, MaxOutputs: 8}, 5, 3, "", ""},
		{Options{Tone: Voice{Channel: 1}, Alert: alert(4, "")}, Device{MaxInputs: 2, MaxOutputs: 8}, 2, 4, "", ""},
		{Options{Tone: Voice{Channel: 1}, Second: &Voice{Channel: 3}}, Device{MaxInputs: 2, MaxOutputs: 8}, 2, 3, "", ""},
		{Options{Tone: Voice{Channel: 1}, Alert: alert(4, "other")}, Device{MaxInputs: 2, MaxOutputs: 8}, 2, 2, "", ""},
		{Options{Tone: Voice{Channel: 1}, Alert: alert(2, ""), Inputs: 3}, Device{MaxInputs: 2, MaxOutputs: 1}, 0, 0,
			"input channels, got 3, want 1..2", "output channel, got 2, want 1..1"},
	} {
		ins, err := c.o.inputs(c.device)
		if c.inRefused != "" {
			assert.EqualError(t, err, c.inRefused)
		} else {
			require.NoError(t, err)
			assert.Equal(t, c.ins, ins)
		}
		outs, err := c.o.outputs(c.device)
		if c.outError != "" {
			assert.EqualError(t, err, c.outError)
		} else {
			require.NoError(t, err)
			assert.Equal(t, c.outs, outs)
		}
	}
}

func TestErrorsSayWhatIsMeant(t *testing.T) {
	err := &DeviceError{Device: "card", What: "open", Err: &RateError{Rate: 44100, Takes: []int{48000, 96000}}}
	assert.EqualError(t, err, `live: open device "card": rate, got 44100 frames/s, want one of 48000, 96000`)
	var rate *RateError
	assert.True(t, errors.As(err, &rate))
	assert.EqualError(t, &RateError{Rate: 1}, "rate, got 1 frames/s, which it refuses")
	assert.EqualError(t, &DeviceError{What: "open", Err: ErrSilent}, "live: open the default devices: no sound for 2 s")
}
