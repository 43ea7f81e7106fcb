package detect

import (
	"fmt"
	"math"
	"math/cmplx"
	"time"
)

// Wiring says how the tone and the contacts are connected.
type Wiring uint8

// The wirings. Series is the zero value, because it is the one that may be assumed.
const (
	Series Wiring = iota // in line: points closed = tone
	Shunt                // across: the points short the tone, points open = tone
)

// String returns "series" or "shunt".
func (w Wiring) String() string {
	if w == Shunt {
		return "shunt"
	}
	return "series"
}

// Profile holds what is known of a cable and its noise: the two state levels, the tone and the noise.
type Profile struct {
	Tone   float64    // tone frequency [Hz]
	Closed complex128 // level with the points closed [full scale], up to a common phase
	Open   complex128 // level with the points open [full scale], same phase reference as Closed
	// PhaseKnown tells that the angle between Closed and Open is known; without it only their magnitudes count.
	PhaseKnown bool
	Noise      float64 // sigma: standard deviation of the noise in a sample [full scale]
	Hum        Hum     // mains hum to take off
	Offset     float64 // mean of the samples [full scale]: an input may have one
	// Off holds levels that are none of the contacts': what comes back when the cable is off. A level at one of these is LOST with its
	// cause, as far as noise lets it be told from the states. At most maxOff. See OffLevel for what is told without any.
	Off []OffLevel
}

// Contrast returns the level ratio of the two states in dB, 20*log10(larger/smaller), at most 200.
func (p Profile) Contrast() float64 {
	hi, lo := cmplx.Abs(p.Closed), cmplx.Abs(p.Open)
	if hi < lo {
		hi, lo = lo, hi
	}
	if hi == 0 {
		return 0
	}
	return math.Min(200, 20*math.Log10(hi/math.Max(lo, hi*1e-10)))
}

// Config sets up a Detector. Survey makes one from sound; Validate says what is allowed.
type Config struct {
	SampleRate int // [frames/s], 4000..768000
	Channels   int // samples in a frame, 1..256
	Channel    int // the channel with the tone, from 0
	Wiring     Wiring
	Profile    Profile
	Set        int // copied to each Event
	// Hold is the longest re-closure that still belongs to the same opening (and the longest re-opening that still
	// belongs to the same closing). 0 means DefaultHold; at most 1 s.
	Hold time.Duration
	// ZeroIsOpen tells that runs of exact zeros are open contacts (a digitally gated tone), not lost samples.
	ZeroIsOpen bool
}

// DefaultHold is the default of Config.Hold.
const DefaultHold = 20 * time.Millisecond

// Validate returns an error that names the first field out of its range.
func (c Config) Validate() error {
	if err := checkFormat(c.SampleRate, c.Channels); err != nil {
		return err
	}
	switch {
	case c.Channel < 0 || c.Channel >= c.Channels:
		return bad("channel", c.Channel, fmt.Sprintf("0..%d", c.Channels-1))
	case !(c.Profile.Tone >= MinTone && c.Profile.Tone <= MaxTone(c.SampleRate)):
		return bad("tone [Hz]", c.Profile.Tone, fmt.Sprintf("%d..%.0f", MinTone, MaxTone(c.SampleRate)))
	case !finite(c.Profile.Closed) || !finite(c.Profile.Open):
		return bad("levels", [2]complex128{c.Profile.Closed, c.Profile.Open}, "finite numbers")
	case c.Profile.Closed == c.Profile.Open:
		return bad("levels", c.Profile.Closed, "two levels that differ")
	case !(c.Profile.Noise >= 0) || math.IsInf(c.Profile.Noise, 0):
		return bad("noise", c.Profile.Noise, "0 or more, finite")
	case c.Profile.Offset-c.Profile.Offset != 0:
		return bad("offset", c.Profile.Offset, "a finite number")
	case c.Profile.Hum.Freq != 0 && !(c.Profile.Hum.Freq >= 40 && c.Profile.Hum.Freq <= 70):
		return bad("hum [Hz]", c.Profile.Hum.Freq, "0 or 40..70")
	case c.Profile.Hum.Freq != 0 && !(c.Profile.Hum.Level() > 0 && c.Profile.Hum.Level() <= maxSample):
		return bad("hum level", c.Profile.Hum.Level(), "more than 0, finite")
	case len(c.Profile.Off) > maxOff:
		return bad("off levels", len(c.Profile.Off), fmt.Sprintf("%d at most", maxOff))
	case c.Hold < 0 || c.Hold > time.Second:
		return bad("hold", c.Hold, "0..1s")
	}
	for _, o := range c.Profile.Off {
		if err := o.validate(); err != nil {
			return err
		}
	}
	return nil
}

// checkFormat checks what a Survey and a Detector ask of the sound alike.
func checkFormat(sampleRate, channels int) error {
	switch {
	case sampleRate < 4000 || sampleRate > 768000:
		return bad("sample rate", sampleRate, "4000..768000 frames/s")
	case channels < 1 || channels > 256:
		return bad("channels", channels, "1..256")
	}
	return nil
}

func bad(what string, got, want any) error {
	return fmt.Errorf("detect: %s, got %v, want %v", what, got, want)
}

// MinTone is the lowest test tone [Hz] that the package looks for and follows.
const MinTone = 250

// MaxTone returns the highest test tone [Hz] at a sample rate: 0.42 of it, at most 20 kHz.
func MaxTone(sampleRate int) float64 { return math.Min(20000, 0.42*float64(sampleRate)) }

func finite(z complex128) bool { return !cmplx.IsNaN(z) && !cmplx.IsInf(z) }
