package bench

import (
	"fmt"
	"math"
	"math/cmplx"

	"breakcue/audio/circuit"
)

// Clips is what the clips of a cable are on.
type Clips uint8

// What they may be on.
const (
	ClipsApart    Clips = iota // nothing
	ClipsTogether              // each other
	ClipsKnown                 // a resistor
	PointsClosed               // the points, closed
	PointsOpen                 // the points, open
	LeadOff                    // one of them has fallen off the points
	PlugOut                    // the plug of the cable is out of the sound card: no tone comes back, whatever the clips are on
)

// clipsCount is the number of Clips.
const clipsCount = 7

// String returns it in words.
func (c Clips) String() string {
	names := [clipsCount]string{"clips apart", "clips together", "clips on the resistor", "points closed", "points open", "lead off", "plug out"}
	if c >= clipsCount {
		return fmt.Sprintf("clips %d", uint8(c))
	}
	return names[c]
}

// CableConfig describes a sound card with a cable that somebody moves the clips of. The zero value of each optional field leaves that part out.
type CableConfig struct {
	SampleRate int   // [frames/s], 4000..768000
	Channels   int   // 1..256
	Channel    int   // the channel of the input, from 0
	Frames     int64 // length, told losses included, 1 or more, or Endless

	Circuit  circuit.Circuit // the cable, and what lies at the points
	Resistor float64         // that of ClipsKnown [ohm], 0 or more
	Clips    Clips           // what the clips are on at first

	Gain  float64    // from the source's electromotive force to the input [dB], -120..60
	Delay int        // round trip of the sound card [frames], 0..SampleRate/2
	Leak  complex128 // what goes from output to input past the cable, as a part of what is played; magnitude up to 10

	Noise  float64             // standard deviation of white Gaussian noise [full scale], 0..1
	Hum    Hum                 // with the clips apart
	HumOn  [clipsCount]float64 // by how much the hum is louder with the clips on something [dB], -200..100
	Offset float64             // mean of the input [full scale], -1..1

	Auto     AutoGain
	Suppress Suppress
	Losses   []Loss // in the order of their frames
	Seed     uint64
}

// AutoGain is automatic gain control: the gain falls as the level rises above what is wanted, and rises slowly again.
type AutoGain struct {
	Target  float64 // RMS that it works for [full scale], 0 for none, else up to 1
	Attack  float64 // time constant of its fall [s], more than 0, up to 10
	Release float64 // and of its rise [s], more than 0, up to 100
	Most    float64 // highest gain [dB], 0..60
}

// Suppress is noise suppression: what stays as it is fades.
type Suppress struct {
	By    float64 // [dB], 0 for none, up to 100
	After float64 // of nothing changing [s], 0..60
	Over  float64 // time that the fade takes [s], more than 0, up to 60
}

// Loss is a stretch of sound that is lost.
type Loss struct {
	At     int64 // frame, 1 or more
	Frames int64 // 1 or more
	Kind   LossKind
}

// LossKind is how it is lost.
type LossKind uint8

// The kinds.
const (
	Zeros  LossKind = iota // the samples are 0
	Silent                 // the frames are missing, and nobody says so: later sound comes earlier
	Told                   // the frames are missing, and Read says so by a *audio.GapError
)

// Validate returns an error that names the first field out of its range.
func (c CableConfig) Validate() error {
	bad := func(what string, got, want any) error {
		return fmt.Errorf("bench: %s, got %v, want %v", what, got, want)
	}
	in := func(x, lo, hi float64) bool { return x >= lo && x <= hi } // false for NaN
	half := float64(c.SampleRate) / 2
	switch {
	case c.SampleRate < 4000 || c.SampleRate > 768000:
		return bad("sample rate", c.SampleRate, "4000..768000 frames/s")
	case c.Channels < 1 || c.Channels > 256:
		return bad("channels", c.Channels, "1..256")
	case c.Channel < 0 || c.Channel >= c.Channels:
		return bad("channel", c.Channel, fmt.Sprintf("0..%d", c.Channels-1))
	case c.Frames < 1 && c.Frames != Endless:
		return bad("frames", c.Frames, "1 or more, or -1 for a sound without an end")
	case !in(c.Resistor, 0, math.MaxFloat64):
		return bad("resistor [ohm]", c.Resistor, "0 or more")
	case c.Clips >= clipsCount:
		return bad("clips", uint8(c.Clips), fmt.Sprintf("0..%d", clipsCount-1))
	case !in(c.Gain, -120, 60):
		return bad("gain [dB]", c.Gain, "-120..60")
	case c.Delay < 0 || c.Delay > c.SampleRate/2:
		return bad("delay [frames]", c.Delay, fmt.Sprintf("0..%d", c.SampleRate/2))
	case !in(cmplx.Abs(c.Leak), 0, 10):
		return bad("leak", c.Leak, "magnitude 0..10")
	case !in(c.Noise, 0, 1):
		return bad("noise [full scale]", c.Noise, "0..1")
	case c.Hum.Hz != 0 && !(c.Hum.Hz > 0 && c.Hum.Hz < half):
		return bad("hum [Hz]", c.Hum.Hz, fmt.Sprintf("0 (none) or above, below %v", half))
	case !in(c.Hum.Level, 0, 1):
		return bad("hum level [full scale]", c.Hum.Level, "0..1")
	case c.Hum.Harmonics < 0 || c.Hum.Harmonics > 100:
		return bad("hum harmonics", c.Hum.Harmonics, "0..100")
	case !in(c.Offset, -1, 1):
		return bad("offset [full scale]", c.Offset, "-1..1")
	case !in(c.Auto.Target, 0, 1):
		return bad("target of the gain control [full scale]", c.Auto.Target, "0 (none) or above, up to 1")
	case c.Auto.Target > 0 && !(c.Auto.Attack > 0 && c.Auto.Attack <= 10):
		return bad("attack [s]", c.Auto.Attack, "more than 0, up to 10")
	case c.Auto.Target > 0 && !(c.Auto.Release > 0 && c.Auto.Release <= 100):
		return bad("release [s]", c.Auto.Release, "more than 0, up to 100")
	case !in(c.Auto.Most, 0, 60):
		return bad("highest gain [dB]", c.Auto.Most, "0..60")
	case !in(c.Suppress.By, 0, 100):
		return bad("suppression [dB]", c.Suppress.By, "0 (none) or above, up to 100")
	case !in(c.Suppress.After, 0, 60):
		return bad("time before suppression [s]", c.Suppress.After, "0..60")
	case c.Suppress.By > 0 && !(c.Suppress.Over > 0 && c.Suppress.Over <= 60):
		return bad("time of the fade [s]", c.Suppress.Over, "more than 0, up to 60")
	}
	for on, db := range c.HumOn {
		if !in(db, -200, 100) {
			return bad(fmt.Sprintf("hum with the %v [dB]", Clips(on)), db, "-200..100")
		}
	}
	if err := c.Circuit.Validate(); err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	last := int64(0)
	for i, l := range c.Losses {
		switch {
		case l.At <= last:
			return bad(fmt.Sprintf("frame of loss %d", i), l.At, fmt.Sprintf("more than %d", last))
		case l.Frames < 1:
			return bad(fmt.Sprintf("frames of loss %d", i), l.Frames, "1 or more")
		case l.Kind > Told:
			return bad(fmt.Sprintf("kind of loss %d", i), uint8(l.Kind), "0..2")
		}
		if last = l.At; l.Kind != Silent {
			last += l.Frames
		}
	}
	return nil
}

// between returns what lies between the clips at f [Hz], and false where no tone passes whatever lies there.
func (c CableConfig) between(on Clips, f float64) (z complex128, ok bool) {
	closed, open, err := c.Circuit.Between(f)
	if err != nil {
		return 0, false
	}
	switch on {
	case ClipsTogether:
		return 0, true
	case ClipsKnown:
		return complex(c.Resistor, 0), true
	case PointsClosed:
		return closed, true
	case PointsOpen:
		return open, true
	case PlugOut:
		return 0, false
	}
	return cmplx.Inf(), true
}

// level returns what comes back of a tone of f [Hz] over what is played, but for the delay.
func (c CableConfig) level(on Clips, f float64) complex128 {
	y := c.Leak
	if z, ok := c.between(on, f); ok {
		if through, err := c.Circuit.With(f, z); err == nil {
			y += through
		}
	}
	return y * complex(Amplitude(c.Gain), 0)
}
