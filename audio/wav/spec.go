package wav

import "fmt"

// Encoding is how a Writer stores samples.
type Encoding uint8

// The encodings. PCM16 is the zero value.
const (
	PCM16   Encoding = iota // 16-bit integers; samples past full scale are clipped
	PCM24                   // 24-bit integers; samples past full scale are clipped
	Float32                 // stored as they are, past full scale, NaN and infinities too
)

// String returns "16-bit PCM", "24-bit PCM" or "32-bit float".
func (e Encoding) String() string {
	switch e {
	case PCM16:
		return "16-bit PCM"
	case PCM24:
		return "24-bit PCM"
	case Float32:
		return "32-bit float"
	}
	return fmt.Sprintf("encoding %d", uint8(e))
}

// bytes of a sample: 2, 3 and 4 in the order of the constants.
func (e Encoding) bytes() int { return 2 + int(e) }

// MaxRoom is the largest Room of a Spec, as many cue points as a Reader keeps.
const MaxRoom = maxCues

// Spec says what a Writer writes.
type Spec struct {
	SampleRate int // [frames/s], 1..MaxSampleRate
	Channels   int // 1..MaxChannels
	Encoding   Encoding
	Overwrite  bool // replace a file of the same name; without it such a file is an error

	// Room is for how many cue points, 0..MaxRoom, place is kept before the samples: 144 bytes for each. Sync brings
	// these to the disk, so that a crash does not lose them; others only Close does. A label that is longer than 35 bytes
	// takes the place of others.
	Room int
}

// validate returns an error that names the first field out of its range.
func (s Spec) validate() error {
	switch {
	case s.SampleRate < 1 || s.SampleRate > MaxSampleRate:
		return fmt.Errorf("wav: sample rate, got %d, want 1..%d frames/s", s.SampleRate, MaxSampleRate)
	case s.Channels < 1 || s.Channels > MaxChannels:
		return fmt.Errorf("wav: channels, got %d, want 1..%d", s.Channels, MaxChannels)
	case s.Encoding > Float32:
		return fmt.Errorf("wav: %v, want PCM16, PCM24 or Float32", s.Encoding)
	case s.Room < 0 || s.Room > MaxRoom:
		return fmt.Errorf("wav: room, got %d, want 0..%d cue points", s.Room, MaxRoom)
	}
	return nil
}

func (s Spec) frameBytes() int { return s.Channels * s.Encoding.bytes() }
