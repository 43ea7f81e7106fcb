package live

import "time"

// Options say what to open and what to play. The zero value of a field leaves the choice to the device.
type Options struct {
	// Device is the name of a device or a part of it; empty for the defaults of the system.
	Device string
	Rate   int // [frames/s]; 0: the default of the device
	Frames int // per buffer; 0: what the driver likes
	Inputs int // channels to record; 0: all, but at most two
	Tone   Voice
	Alert  *Alert // nil: none
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
