package leads

import (
	"fmt"

	"breakcue/audio/circuit"
	"breakcue/detect"
)

// Wiring says how the cable is connected, or that nobody said.
type Wiring uint8

// The wirings.
const (
	Unknown Wiring = iota // to be found
	InLine                // the tone passes through the points: closed = tone
	Across                // the points short the tone: open = tone
)

// String returns "unknown", "series" or "shunt".
func (w Wiring) String() string {
	switch w {
	case InLine:
		return circuit.Series.String()
	case Across:
		return circuit.Shunt.String()
	}
	return "unknown"
}

// words is how people call it.
func (w Wiring) words() string {
	switch w {
	case InLine:
		return "in line"
	case Across:
		return "across"
	}
	return "unknown"
}

// Detect returns the wiring for a detector; in line where it is unknown.
func (w Wiring) Detect() detect.Wiring {
	if w == Across {
		return detect.Shunt
	}
	return detect.Series
}

// MarshalText implements encoding.TextMarshaler: see String.
func (w Wiring) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (w *Wiring) UnmarshalText(text []byte) error {
	for _, known := range []Wiring{Unknown, InLine, Across} {
		if string(text) == known.String() {
			*w = known
			return nil
		}
	}
	return fmt.Errorf("leads: wiring, got %q, want series, shunt or unknown", text)
}
