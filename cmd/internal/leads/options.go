package leads

import (
	"fmt"
	"math"

	"breakcue/audio"
	"breakcue/audio/circuit"
)

// Options are what a Check must know.
type Options struct {
	Format  audio.Format // of the sound that comes; rate a multiple of 25 frames/s, 8000..192000
	Channel int          // with the tone, from 1; 0: the one in which it comes back
	Wiring  Wiring       // as stated; Unknown: to be found
	// Level is that of the peak of what is played [dBFS], -60..0.
	Level float64
	// Resistor is the value of the resistor for the step Known [ohm], more than 0, or 0 when there is none; Tolerance its relative
	// standard uncertainty, 0..0.2.
	Resistor, Tolerance float64
	// Cable holds the nominal values of the cable where they are known: they stand in for the resistor when that step is left out, with
	// CableTolerance as the relative standard uncertainty of its resistance, 0..0.5. nil: unknown; what is connected is then told
	// by the recommended one. A Source of 0 says that the output's resistance is not known: figures are then told as a range. What
	// is connected to it in the Circuit, condenser and so on, is not looked at.
	Cable          *circuit.Circuit
	CableTolerance float64
	// System is the computer's, as runtime.GOOS names it, for what is said of its settings; where it is another or "", that is said in words that hold on any.
	System string
	// Tone is the frequency to stay with [Hz]; 0: the best is chosen.
	Tone float64
}

const (
	grid    = 25   // [Hz] all tones are odd multiples of it: they have a common period, and keep off 50 Hz
	leastHz = 8000 // [frames/s]
	mostHz  = 192000
)

// validate returns an error that names the first option out of its range.
func (o Options) validate() error {
	bad := func(what string, got any, want string) error {
		return fmt.Errorf("leads: %s, got %v, want %s", what, got, want)
	}
	in := func(x, lo, hi float64) bool { return x >= lo && x <= hi } // false for NaN
	f := o.Format
	switch {
	case f.SampleRate < leastHz || f.SampleRate > mostHz || f.SampleRate%grid != 0:
		return bad("sample rate", f.SampleRate, fmt.Sprintf("a multiple of %d in %d..%d frames/s", grid, leastHz, mostHz))
	case f.Channels < 1 || f.Channels > 256:
		return bad("channels", f.Channels, "1..256")
	case o.Channel < 0 || o.Channel > f.Channels:
		return bad("channel", o.Channel, fmt.Sprintf("1..%d, or 0 for the one with the tone", f.Channels))
	case o.Wiring > Across:
		return bad("wiring", uint8(o.Wiring), "Unknown, InLine or Across")
	case !in(o.Level, -60, 0):
		return bad("level [dBFS]", o.Level, "-60..0")
	case o.Resistor != 0 && !(o.Resistor > 0 && !math.IsInf(o.Resistor, 0)):
		return bad("resistor [ohm]", o.Resistor, "more than 0, or 0 for none")
	case !in(o.Tolerance, 0, 0.2):
		return bad("tolerance of the resistor", o.Tolerance, "0..0.2")
	case !in(o.CableTolerance, 0, 0.5):
		return bad("tolerance of the cable", o.CableTolerance, "0..0.5")
	case o.Tone != 0 && !in(o.Tone, 250, 0.42*float64(f.SampleRate)):
		return bad("tone [Hz]", o.Tone, fmt.Sprintf("250..%.0f, or 0 for the best", 0.42*float64(f.SampleRate)))
	}
	if o.Cable != nil {
		if err := o.Cable.Validate(); err != nil {
			return fmt.Errorf("leads: cable: %w", err)
		}
	}
	return nil
}
