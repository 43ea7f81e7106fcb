package cli

import (
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/spf13/pflag"

	"breakcue/audio/live"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// liveFlags are the flags of every command that hears live sound, as typed.
type liveFlags struct {
	device       string
	rate, frames int
	channel      int
	tones        []float64 // [Hz]; none: chosen
	sets         int       // of points followed at once
	level        float64
	wiring       string
	record       string
	length       time.Duration
	plain        bool
	alert        bool
	alertDevice  string
	alertHz      float64
	alertLevel   float64
	alertChannel int
	alertWhile   bool
	wired        detect.Wiring
	levels       profileFlags
	given        func(name string) bool // tells that a flag was typed
}

const (
	usualLevel = -12.0 // [dBFS] of the test tone
	alertUsual = -6.0  // [dBFS] of the alert
	alertBeep  = 250 * time.Millisecond
	alertRise  = 120 * time.Millisecond // of the alert, on a sound card that is new
	highestHz  = 20000
	shortest   = time.Second // that --for takes: before, the tone hardly stands at its level
)

// add adds all of them.
func (f *liveFlags) add(fs *pflag.FlagSet) {
	f.addCard(fs)
	f.addTone(fs)
	fs.StringVar(&f.record, "record", "", "record what is heard to this WAV `FILE`")
}

// addTone adds those of the tone and the cable.
func (f *liveFlags) addTone(fs *pflag.FlagSet) {
	fs.IntVar(&f.channel, "channel", 0, "input channel with the tone, from 1 (default: the one in which it comes back; with two sets of points 1)")
	fs.Float64SliceVar(&f.tones, "tone", nil, "test tone in `HZ` (default: about 1000 in line, 3250 across, off the harmonics of the mains);\n"+
		"given twice, the second is for a second set of points")
	fs.Lookup("tone").DefValue = "" // the text says it
	fs.StringVar(&f.wiring, "wiring", "", wiringHelp)
}

// addCard adds those that a command does not share with recordings.
func (f *liveFlags) addCard(fs *pflag.FlagSet) {
	f.addDevice(fs)
	fs.IntVar(&f.sets, "sets", 1, "sets of points followed at once, 1 or 2: of two the first hears the tone of output channel 1 (left),\n"+
		"the second that of channel 2 (right), and both come back by one input")
	fs.DurationVar(&f.length, "for", 0, "end after this time, such as 30s or 10m (default: until q or Ctrl-C)")
	fs.BoolVar(&f.alert, "alert", false, "beep when the points open, by the other channel of the sound card;\n"+
		"with two sets of points both channels play test tones: give --alert-device")
	fs.StringVar(&f.alertDevice, "alert-device", "", "beep by this sound card instead, by `NAME`")
	fs.Float64Var(&f.alertHz, "alert-tone", 0, "of the beep, in `HZ`, 500 to 2500 (default: whole octaves off the test tone)")
	fs.Float64Var(&f.alertLevel, "alert-level", alertUsual, "level of the beep in `DBFS`")
	fs.IntVar(&f.alertChannel, "alert-channel", 0, "output channel of the beep, from 1 (default: 2, on another card 1)")
	fs.BoolVar(&f.alertWhile, "alert-while-open", false, "sound for as long as the points are open")
}

// addDevice adds those that say what is played on, how loud, and how it is shown.
func (f *liveFlags) addDevice(fs *pflag.FlagSet) {
	f.given = fs.Changed
	fs.StringVar(&f.device, "device", "", "sound card by `NAME`, a part of it is enough (default: the one used last)")
	fs.IntVar(&f.rate, "rate", 0, "sample rate in frames/s (default: that of the sound card)")
	fs.IntVar(&f.frames, "frames", 0, "frames per buffer (default: what the sound card likes)")
	fs.Float64Var(&f.level, "level", usualLevel, "level of the test tone in `DBFS`")
	fs.BoolVar(&f.plain, "plain", false, "lines instead of the big screen, for screen readers")
}

// cardFlags are those that addCard adds.
var cardFlags = []string{"device", "rate", "frames", "sets", "level", "for", "plain", "alert", "alert-device", "alert-tone", "alert-level", "alert-channel", "alert-while-open"}

// check looks for values that no sound card could serve.
func (f *liveFlags) check() error {
	var err error
	if f.wired, err = wiringOf(f.wiring); err != nil {
		return err
	}
	if err := f.checkTones(); err != nil {
		return err
	}
	if err := f.levels.check(); err != nil {
		return err
	}
	if f.wiring != "" {
		f.levels.wiring = leadsWired(f.wired)
	}
	f.alert = f.alert || f.alertWhile || slices.ContainsFunc([]string{"alert-device", "alert-tone", "alert-level", "alert-channel"}, f.given)
	between := func(x, lo, hi float64) bool { return x >= lo && x <= hi } // false for NaN
	switch {
	case f.rate != 0 && (f.rate < 8000 || f.rate > 384000):
		return fail(ExitUsage, "48000 is usual", "--rate %d, want 8000 to 384000", f.rate)
	case f.frames != 0 && (f.frames < 16 || f.frames > 8192):
		return fail(ExitUsage, "leave it out, or try 128 or 256", "--frames %d, want 16 to 8192", f.frames)
	case f.channel < 0:
		return fail(ExitUsage, "channels count from 1", "--channel %d, want 1 or more", f.channel)
	case !between(f.level, -60, 0):
		return fail(ExitUsage, "-12 is usual; 0 is as loud as the sound card can", "--level %g, want -60 to 0", f.level)
	case !between(f.alertLevel, -60, 0):
		return fail(ExitUsage, "-6 is usual; 0 is as loud as the sound card can", "--alert-level %g, want -60 to 0", f.alertLevel)
	case f.given("alert-tone") && !between(f.alertHz, alertLowest, alertHighest):
		return fail(ExitUsage, "leave it out: it is chosen so that it does not disturb the test tone", "--alert-tone %g, want %d to %d", f.alertHz, alertLowest, alertHighest)
	case f.alertChannel < 0:
		return fail(ExitUsage, "channels count from 1", "--alert-channel %d, want 1 or more", f.alertChannel)
	case f.sets == 2 && f.alert && f.alertDevice == "":
		return fail(ExitUsage, "name another sound card for the beep with --alert-device, or leave the beep out: the screen shows both sets",
			"with two sets of points both output channels play test tones: none is left for the beep")
	case f.sets == 2 && f.levels.file != "":
		return fail(ExitUsage, "leave --profile out: with two sets of points the levels are learnt from the sound", "--profile has the levels of one set of points")
	case f.given("for") && f.length < shortest:
		return fail(ExitUsage, "leave it out to go on until Ctrl-C", "--for %v, want %v or more", f.length, shortest)
	}
	return nil
}

// options says what to open on the devices chosen.
func (f *liveFlags) options(in, out live.Device, firstTime bool) (live.Options, error) {
	rate := f.rate
	if rate == 0 {
		rate = int(in.DefaultRate)
	}
	tones := f.chosenTones(rate)
	for _, hz := range tones {
		if top := detect.MaxTone(rate); hz > top {
			return live.Options{}, fail(ExitUsage, "use a lower tone or a higher --rate", "--tone %g, want at most %.0f at %d frames/s", hz, top, rate)
		}
	}
	hz := tones[0]
	o := live.Options{Device: f.device, Rate: rate, Frames: f.frames, Inputs: f.channel,
		Tone: live.Voice{Hz: hz, Level: f.level, Channel: 1, Ramp: quickRamp}}
	if f.channel > in.MaxInputs {
		return o, fail(ExitUsage, "run 'breakcue devices' to see what there is", "--channel %d, but %s has %s", f.channel, in.Name,
			pump.Count(in.MaxInputs, "input channel", "input channels"))
	}
	if firstTime {
		o.Tone.Ramp = slowRamp
	}
	if len(tones) == 2 {
		second := o.Tone
		second.Hz, second.Channel = tones[1], 2
		o.Second = &second
		if out.MaxOutputs < second.Channel {
			return o, fail(ExitUsage, "choose another with --device, or measure one set after the other with one tone", "%s has %s: there is none for the second tone",
				out.Name, pump.Count(out.MaxOutputs, "output channel", "output channels"))
		}
	}
	if !f.alert {
		return o, nil
	}
	a := &live.Alert{Voice: live.Voice{Hz: f.alertHz, Level: f.alertLevel, Channel: f.alertChannel}, Device: f.alertDevice, Length: alertBeep}
	if a.Hz == 0 {
		a.Hz = alertTone(hz)
	}
	if firstTime {
		a.Ramp = alertRise
	}
	if f.alertWhile {
		a.Length = 0
	}
	if math.Abs(a.Hz-hz) < alertApart {
		return o, fail(ExitUsage, "leave --alert-tone out: a good one is chosen", "--alert-tone %g is too near to the test tone of %g Hz, want %d Hz between them", a.Hz, hz, alertApart)
	}
	if a.Channel == 0 {
		a.Channel = 1
		if a.Device == "" {
			a.Channel = 2
		}
	}
	if a.Device == "" && a.Channel == o.Tone.Channel {
		return o, fail(ExitUsage, "leave --alert-channel out, or give --alert-device", "the test tone is on channel %d: the beep would go through the points", a.Channel)
	}
	if a.Device == "" && out.MaxOutputs < a.Channel {
		return o, fail(ExitUsage, "give another sound card with --alert-device", "%s has %s: there is none left for the beep", out.Name,
			pump.Count(out.MaxOutputs, "output channel", "output channels"))
	}
	o.Alert = a
	return o, nil
}

const (
	quickRamp = 100 * time.Millisecond // of the test tone, on a sound card that was used before
	slowRamp  = 1500 * time.Millisecond
)

// heading says what runs, in one line.
func (f *liveFlags) heading(o live.Options, name string) string {
	how := "in line"
	if f.wired == detect.Shunt {
		how = "across the points"
	}
	if o.Second != nil {
		return fmt.Sprintf("cable %s, tones %.0f (left) and %.0f Hz (right), %s, at %.0f dBFS", how, o.Tone.Hz, o.Second.Hz, name, o.Tone.Level)
	}
	return fmt.Sprintf("cable %s, tone %.0f Hz at %.0f dBFS, %s", how, o.Tone.Hz, o.Tone.Level, name)
}
