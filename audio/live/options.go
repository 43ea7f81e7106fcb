package live

import (
	"cmp"
	"fmt"
	"time"
)

// Options say what to open and what to play. The zero value of a field leaves the choice to the device.
type Options struct {
	// Device is the name of a device or a part of it; empty for the defaults of the system.
	Device string
	Rate   int // [frames/s]; 0: the default of the device
	Frames int // per buffer; 0: what the driver likes
	Inputs int // channels to record; 0: all, but at most two
	Tone   Voice
	Second *Voice // a second test tone that sounds throughout, for the second of two sets of points; nil: none
	Alert  *Alert // nil: none

	// Gather is how much sound is gathered before Read returns; 0: about a millisecond. Each waking costs far more than the sound.
	Gather time.Duration
	// Urgent, if not nil, is called in the callback with the input of each buffer, whole frames, and tells that Read is to return
	// at once and go on without gathering for a moment. It must neither allocate, lock nor wait, and keep nothing of the block.
	Urgent func(block []float32) bool
}

// Voice is a sine on one output channel.
type Voice struct {
	Hz      float64       // more than 0, less than half of the rate
	Level   float64       // [dBFS], at most 0
	Channel int           // output channel, from 1
	Ramp    time.Duration // from silence to the level, by a raised cosine; 0: audio.SoftStart
}

// Alert is what sounds when the points open: by another channel of the device that plays the test tone, or by another device.
type Alert struct {
	Voice
	// Device is the name of the device or a part of it; empty for the one that plays the test tone.
	Device string
	// Length is how long a beep lasts; 0: until Stream.Hush.
	Length time.Duration
}

// check finds what no device could serve. NewTone looks at levels and frequencies, which need the rate.
func (o Options) check() error {
	switch {
	case o.Rate < 0:
		return fmt.Errorf("live: rate, got %d frames/s, want 1 or more, or 0 for the device's own", o.Rate)
	case o.Frames < 0:
		return fmt.Errorf("live: frames per buffer, got %d, want 1 or more, or 0 for the driver's choice", o.Frames)
	case o.Inputs < 0:
		return fmt.Errorf("live: input channels, got %d, want 1 or more, or 0 for at most two", o.Inputs)
	case o.Gather < 0 || o.Gather > ringTime/4:
		return fmt.Errorf("live: sound to gather, got %v, want 0..%v", o.Gather, ringTime/4)
	case o.Tone.Channel < 1:
		return fmt.Errorf("live: output channel of the tone, got %d, want 1 or more", o.Tone.Channel)
	case o.Second != nil && o.Second.Channel < 1:
		return fmt.Errorf("live: output channel of the second tone, got %d, want 1 or more", o.Second.Channel)
	case o.Second != nil && o.Second.Channel == o.Tone.Channel:
		return fmt.Errorf("live: output channel of the second tone, got %d, want another one than the tone's", o.Second.Channel)
	case o.Alert == nil:
		return nil
	case o.Alert.Channel < 1:
		return fmt.Errorf("live: output channel of the alert, got %d, want 1 or more", o.Alert.Channel)
	case o.Alert.Device == "" && o.Alert.Channel == o.Tone.Channel:
		return fmt.Errorf("live: output channel of the alert, got %d, want another one than the tone's", o.Alert.Channel)
	case o.Alert.Device == "" && o.Second != nil && o.Alert.Channel == o.Second.Channel:
		return fmt.Errorf("live: output channel of the alert, got %d, want another one than the second tone's", o.Alert.Channel)
	}
	return nil
}

// outputs returns how many of the device's output channels to open: those of the voices, but two where there are two,
// because drivers send a single channel to both.
func (o Options) outputs(device Device) (int, error) {
	n := o.Tone.Channel
	if o.Second != nil {
		n = max(n, o.Second.Channel)
	}
	if o.Alert != nil && o.Alert.Device == "" {
		n = max(n, o.Alert.Channel)
	}
	if n > device.MaxOutputs {
		return 0, fmt.Errorf("output channel, got %d, want 1..%d", n, device.MaxOutputs)
	}
	return max(n, min(2, device.MaxOutputs)), nil
}

// inputs returns how many of the device's input channels to record.
func (o Options) inputs(device Device) (int, error) {
	if o.Inputs > device.MaxInputs {
		return 0, fmt.Errorf("input channels, got %d, want 1..%d", o.Inputs, device.MaxInputs)
	}
	return cmp.Or(o.Inputs, min(2, device.MaxInputs)), nil
}
