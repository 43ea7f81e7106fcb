package live

import (
	"errors"
	"time"
)

// ErrUnavailable is what everything in this package returns in a program that was built without live audio. See
// Available.
var ErrUnavailable = errors.New("live: no live audio in this build, which was made without cgo or with the tag nolive; " +
	"to get it, install the PortAudio development files (Debian: portaudio19-dev), pkg-config and a C compiler, " +
	"and build with CGO_ENABLED=1")

// Device is a sound card, or something that poses as one, as PortAudio describes it.
type Device struct {
	Name    string
	HostAPI string // "ALSA", "JACK Audio Connection Kit", "Core Audio", ...

	MaxInputs, MaxOutputs int     // channels; 0 when it cannot record or play
	DefaultRate           float64 // [frames/s]

	// Rates are those of 44100, 48000, 88200, 96000, 192000 and DefaultRate frames/s, sorted, that the device takes in the
	// directions it has, at once. Empty: it takes none of them; nil: not known, because the device is busy or does not answer
	// in time.
	Rates []int

	// What the driver calls its usual latencies for quick and for safe work. Not reliable.
	LowInputLatency, HighInputLatency   time.Duration
	LowOutputLatency, HighOutputLatency time.Duration

	DefaultInput, DefaultOutput bool // used when no device is named
}
