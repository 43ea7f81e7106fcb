package profiles

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"breakcue/cmd/internal/leads"
)

const schema = "breakcue.cable/1"

// Kept is a profile with the input that it was measured on.
type Kept struct {
	Device  string // as live.Device has it; bytes that are no UTF-8 become U+FFFD
	Channel int    // of the input, from 1
	Profile leads.Profile
}

// stored is a Kept as JSON.
type stored struct {
	Schema  string        `json:"schema"`
	Device  string        `json:"device"`
	Channel int           `json:"channel"`
	Profile leads.Profile `json:"profile"`
}

func encode(k Kept) ([]byte, error) {
	if err := k.validate(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	err := enc.Encode(stored{schema, valid(k.Device), k.Channel, k.Profile})
	return b.Bytes(), err
}

// decode takes nothing that encode does not write, but for white space and order.
func decode(data []byte) (Kept, error) {
	var s stored
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	err := d.Decode(&s)
	if err == nil {
		if _, more := d.Token(); more != io.EOF {
			err = errors.New("more follows the object")
		}
	}
	if err != nil {
		return Kept{}, fmt.Errorf("got no valid content (%w), want one JSON object", err)
	}
	if s.Schema != schema {
		return Kept{}, fmt.Errorf("schema, got %q, want %q", s.Schema, schema)
	}
	k := Kept{s.Device, s.Channel, s.Profile}
	return k, k.validate()
}

// mostChannels is more than any sound card has.
const mostChannels = 256

func (k Kept) validate() error {
	switch {
	case k.Device == "":
		return errors.New("device, got an empty name, want that of a sound device")
	case k.Channel < 1 || k.Channel > mostChannels:
		return fmt.Errorf("channel, got %d, want 1..%d", k.Channel, mostChannels)
	}
	return k.Profile.Validate()
}

// Want is what somebody is about to listen with.
type Want struct {
	Device  string
	Rate    int          // [frames/s]
	Channel int          // of the input, from 1; 0: any
	Wiring  leads.Wiring // Unknown: any
	Level   float64      // of the test tone [dBFS]
	Tone    float64      // [Hz]; 0: any
}

const (
	levelReach = 0.05 // [dB] by which the level of the tone may be another: what was typed is rounded
	toneReach  = 0.01 // part of the tone by which it may be another
)

// Fits tells whether the levels hold for w; why says why they do not, in words.
func (k Kept) Fits(w Want) (ok bool, why string) {
	p := k.Profile
	switch {
	case valid(w.Device) != k.Device:
		return false, fmt.Sprintf("it is of another sound card, %q", k.Device)
	case w.Rate != p.SampleRate:
		return false, fmt.Sprintf("it was made at %d frames/s, and these are %d", p.SampleRate, w.Rate)
	case w.Channel != 0 && w.Channel != k.Channel:
		return false, fmt.Sprintf("it is of input channel %d, and this is %d", k.Channel, w.Channel)
	case w.Wiring != leads.Unknown && w.Wiring != p.Wiring:
		return false, fmt.Sprintf("it is of a cable %s, and this one is %s", words(p.Wiring), words(w.Wiring))
	case math.Abs(w.Level-p.Output) > levelReach:
		return false, fmt.Sprintf("it was made with a tone of %.3g dBFS, and this one is of %.3g", p.Output, w.Level)
	case w.Tone != 0 && math.Abs(w.Tone-p.Tone) > toneReach*p.Tone:
		return false, fmt.Sprintf("it was made with a tone of %.0f Hz, and this one is of %.0f Hz", p.Tone, w.Tone)
	}
	return true, ""
}

func words(w leads.Wiring) string {
	if w == leads.Across {
		return "across the points"
	}
	return "in line"
}

// Age is how long ago the check was made; negative where its clock was ahead of the one of now.
func (k Kept) Age(now time.Time) time.Duration { return now.Sub(k.Profile.Made) }

func valid(name string) string { return strings.ToValidUTF8(name, "\ufffd") }
