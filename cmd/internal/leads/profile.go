package leads

import (
	"fmt"
	"math"
	"math/cmplx"
	"time"

	"breakcue/detect"
)

// ProfileSchema names the form of a Profile.
const ProfileSchema = "breakcue.leads/1"

// Profile is what a check leaves for listening: plain data that does not depend on the device's delay. Levels are those at the tone, as
// parts of full scale when the single tone is played at Output dBFS; their phases have those played as reference, with the round trip
// taken off where it is known. Closed and Open have one reference in any case.
type Profile struct {
	Schema     string     `json:"schema"`
	Made       time.Time  `json:"made"` // given by the caller
	SampleRate int        `json:"sample_rate"`
	Tone       float64    `json:"tone_hz"`
	Output     float64    `json:"output_dbfs"` // level of the tone played
	Wiring     Wiring     `json:"wiring"`
	Closed     Complex    `json:"closed"`
	Open       Complex    `json:"open"`
	Apart      *Complex   `json:"apart,omitempty"` // nil: not measured
	Together   *Complex   `json:"together,omitempty"`
	U          float64    `json:"u"`      // standard uncertainty of the real and of the imaginary part of each
	Noise      float64    `json:"noise"`  // standard deviation of a sample [full scale]
	Hum        Hum        `json:"hum"`    // with the clips on the points
	Offset     float64    `json:"offset"` // mean of the samples [full scale]
	Connected  *Connected `json:"connected,omitempty"`
	// LeadOff tells that a lead that falls off can be told from an opening: the level apart lies apart from that of the open points.
	LeadOff  bool     `json:"lead_off_told"`
	Findings []string `json:"findings"` // codes
}

// Validate returns an error that names the first field out of its range.
func (p Profile) Validate() error {
	bad := func(what string, got any, want string) error {
		return fmt.Errorf("leads: %s, got %v, want %s", what, got, want)
	}
	level := func(c *Complex) bool { return c == nil || cmplx.Abs(c.Value()) <= 10 } // false for NaN
	switch {
	case p.Schema != ProfileSchema:
		return bad("schema", fmt.Sprintf("%q", p.Schema), ProfileSchema)
	case p.SampleRate < leastHz || p.SampleRate > mostHz:
		return bad("sample rate", p.SampleRate, fmt.Sprintf("%d..%d frames/s", leastHz, mostHz))
	case !(p.Tone >= detect.MinTone && p.Tone <= detect.MaxTone(p.SampleRate)):
		return bad("tone [Hz]", p.Tone, fmt.Sprintf("%d..%.0f", detect.MinTone, detect.MaxTone(p.SampleRate)))
	case !(p.Output >= -200 && p.Output <= 0):
		return bad("level of the output [dBFS]", p.Output, "-200..0")
	case p.Wiring != InLine && p.Wiring != Across:
		return bad("wiring", p.Wiring, "series or shunt")
	case !level(&p.Closed) || !level(&p.Open) || !level(p.Apart) || !level(p.Together):
		return bad("levels", [2]Complex{p.Closed, p.Open}, "magnitudes 0..10")
	case p.Closed == p.Open:
		return bad("levels", p.Closed, "two that differ")
	case !(p.U >= 0 && p.U <= 10):
		return bad("uncertainty", p.U, "0..10")
	case !(p.Noise >= 0 && p.Noise <= 1):
		return bad("noise [full scale]", p.Noise, "0..1")
	case p.Hum.Hz != 0 && !(p.Hum.Hz >= 40 && p.Hum.Hz <= 70):
		return bad("hum [Hz]", p.Hum.Hz, "0 or 40..70")
	case !(p.Hum.Level >= 0 && p.Hum.Level <= 10):
		return bad("hum level [full scale]", p.Hum.Level, "0..10")
	case !(math.Abs(p.Offset) <= 1):
		return bad("offset [full scale]", p.Offset, "-1..1")
	}
	return nil
}

// Detect returns the profile for a detector. The angle between the levels is known; hum is left to the detector, which finds its phase. The
// level of clips apart is named as that of a lead that is off, where it can be told from open points; none at all as that of a plug that is
// out, where something of the tone is heard of closed points, of open ones and of clips apart.
func (p Profile) Detect() detect.Profile {
	d := detect.Profile{Tone: p.Tone, Closed: p.Closed.Value(), Open: p.Open.Value(), PhaseKnown: true, Noise: p.Noise, Offset: p.Offset}
	if p.LeadOff && p.Apart != nil {
		d.Off = append(d.Off, detect.OffLevel{Level: p.Apart.Value(), Cause: detect.CauseLeadOff})
	}
	least := offPart * cmplx.Abs(d.Closed-d.Open)
	silent := cmplx.Abs(d.Closed) > least && cmplx.Abs(d.Open) > least && p.Apart != nil && cmplx.Abs(p.Apart.Value()) > least
	if silent {
		d.Off = append(d.Off, detect.OffLevel{Cause: detect.CausePlugOut})
	}
	return d
}
