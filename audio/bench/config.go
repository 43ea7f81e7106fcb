package bench

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Change is the instant at which the contacts take a new state.
type Change struct {
	At     float64 // [s] from the start of the sound
	Closed bool    // the state from then on
}

// Endless is the length of a sound that has no end.
const Endless = -1

// Config describes a sound. The zero value of each optional field leaves that part out.
type Config struct {
	SampleRate int   // [frames/s], 4000..768000
	Channels   int   // 1..256
	Channel    int   // the channel with the tone, from 0
	Frames     int64 // length, 1 or more, or Endless

	Tone  float64 // nominal frequency [Hz], more than 0, below half the sample rate
	PPM   float64 // how far the tone is off its nominal frequency [parts per million], -50000..50000
	Level float64 // level of the source's tone [dBFS, a full-scale sine is 0], -200..20

	// Closed and Open are the levels at the input relative to Level; see the circuit package. Leak is added to both: what
	// goes from output to input past the points. Magnitudes up to 10.
	Closed, Open, Leak complex128

	StartOpen bool     // the state before the first change; closed unless set
	Changes   []Change // strictly increasing instants, one frame from the start or later; each changes the state
	Second    *Second  // a second set of points in the same channel; nil for none
	// BandLimited gives each edge the shape of an anti-alias filter instead of a hard gate.
	BandLimited bool

	Noise float64 // standard deviation of white Gaussian noise [full scale], 0..1; see NoiseFor
	Hum   Hum
	Ticks Ticks
	Seed  uint64
}

// Hum is what the mains induces.
type Hum struct {
	Hz        float64 // 50 or 60 as a rule; 0 for none, else above 0 and below half the sample rate
	Level     float64 // amplitude of the fundamental [full scale], 0..1
	Harmonics int     // 1 for the fundamental alone; harmonic k has 1/k of its amplitude; 0..100
}

// Ticks are spikes from switches and sparks, at random instants.
type Ticks struct {
	Rate   float64 // on average this many a second, 0 for none, up to 1000
	Length float64 // [s], a half sine of this length and random sign; more than 0, up to 0.01
	Level  float64 // peak [full scale], 0..10
}

// NoiseFor returns the standard deviation of white noise [full scale] that lies snr [dB] below a tone of the given
// amplitude [full scale], as powers over the full band: amplitude/sqrt(2) * 10^(-snr/20).
func NoiseFor(amplitude, snr float64) float64 {
	return amplitude / math.Sqrt2 * math.Pow(10, -snr/20)
}

// Amplitude returns the amplitude of a sine of the given level [dBFS], 10^(level/20) [full scale].
func Amplitude(level float64) float64 { return math.Pow(10, level/20) }

// Validate returns an error that names the first field out of its range.
func (c Config) Validate() error {
	bad := func(what string, got, want any) error {
		return fmt.Errorf("bench: %s, got %v, want %v", what, got, want)
	}
	half := float64(c.SampleRate) / 2
	in := func(x, lo, hi float64) bool { return x >= lo && x <= hi } // false for NaN
	level := func(z complex128) bool { return in(cmplx.Abs(z), 0, 10) }
	switch {
	case c.SampleRate < 4000 || c.SampleRate > 768000:
		return bad("sample rate", c.SampleRate, "4000..768000 frames/s")
	case c.Channels < 1 || c.Channels > 256:
		return bad("channels", c.Channels, "1..256")
	case c.Channel < 0 || c.Channel >= c.Channels:
		return bad("channel", c.Channel, fmt.Sprintf("0..%d", c.Channels-1))
	case c.Frames < 1 && c.Frames != Endless:
		return bad("frames", c.Frames, "1 or more, or -1 for a sound without an end")
	case !in(c.PPM, -50000, 50000):
		return bad("tone's error [ppm]", c.PPM, "-50000..50000")
	case !(c.Tone > 0 && c.tone() < half):
		return bad("tone [Hz]", c.tone(), fmt.Sprintf("more than 0, below %v", half))
	case !in(c.Level, -200, 20):
		return bad("level [dBFS]", c.Level, "-200..20")
	case !level(c.Closed) || !level(c.Open) || !level(c.Leak):
		return bad("closed, open and leak", [3]complex128{c.Closed, c.Open, c.Leak}, "magnitudes 0..10")
	case !in(c.Noise, 0, 1):
		return bad("noise [full scale]", c.Noise, "0..1")
	case c.Hum.Hz != 0 && !(c.Hum.Hz > 0 && c.Hum.Hz < half):
		return bad("hum [Hz]", c.Hum.Hz, fmt.Sprintf("0 (none) or above, below %v", half))
	case !in(c.Hum.Level, 0, 1):
		return bad("hum level [full scale]", c.Hum.Level, "0..1")
	case c.Hum.Harmonics < 0 || c.Hum.Harmonics > 100:
		return bad("hum harmonics", c.Hum.Harmonics, "0..100")
	case !in(c.Ticks.Rate, 0, 1000):
		return bad("ticks a second", c.Ticks.Rate, "0..1000")
	case c.Ticks.Rate > 0 && !(c.Ticks.Length > 0 && c.Ticks.Length <= 0.01):
		return bad("length of a tick [s]", c.Ticks.Length, "more than 0, up to 0.01")
	case !in(c.Ticks.Level, 0, 10):
		return bad("level of a tick [full scale]", c.Ticks.Level, "0..10")
	}
	return c.validateChanges()
}

func (c Config) validateChanges() error {
	if err := c.validateFrom(0, math.Inf(-1), !c.StartOpen); err != nil {
		return err
	}
	return c.validateSecond()
}

// validateFrom looks at the changes from index i on, after an instant [s] and a state.
func (c Config) validateFrom(i int, last float64, closed bool) error {
	for ; i < len(c.Changes); i++ {
		ch := c.Changes[i]
		switch {
		case !(ch.At*float64(c.SampleRate) >= 1) || math.IsInf(ch.At, 1):
			return fmt.Errorf("bench: instant of change %d [s], got %v, want one frame from the start or later", i, ch.At)
		case ch.At <= last:
			return fmt.Errorf("bench: instant of change %d [s], got %v, want more than the one before, %v", i, ch.At, last)
		case ch.Closed == closed:
			return fmt.Errorf("bench: change %d at %v s, got closed=%v again, want the other state", i, ch.At, closed)
		}
		last, closed = ch.At, ch.Closed
	}
	return nil
}

// tone returns the frequency of the tone as the input's clock sees it [Hz].
func (c Config) tone() float64 { return c.Tone * (1 + c.PPM*1e-6) }

// end returns the first frame after the sound; of one without an end it is never reached.
func (c Config) end() int64 {
	if c.Frames == Endless {
		return math.MaxInt64
	}
	return c.Frames
}
