package pump

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sort"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// Options are what the user knows of a recording. The zero value knows nothing.
type Options struct {
	Tones    []float64 // [Hz]; none: found by itself; two: one for each set of points
	Channel  int       // from 1; 0: found by itself
	Wiring   detect.Wiring
	From, To time.Duration // stretch to look at; To 0: to the end
	Hold     time.Duration // 0: detect.DefaultHold
}

// OptionError tells that an option does not fit the recording.
type OptionError struct{ What, Got, Want string }

// Error implements error.
func (e *OptionError) Error() string { return fmt.Sprintf("%s %s, want %s", e.What, e.Got, e.Want) }

// fit checks the options against the format of the recording; hz is the tone asked for, 0 for none.
func (o Options) fit(f audio.Format, hz float64) error {
	switch top := detect.MaxTone(f.SampleRate); {
	case o.Channel > f.Channels:
		return &OptionError{"channel", fmt.Sprint(o.Channel), fmt.Sprintf("1 to %d: the recording has no more", f.Channels)}
	case o.Channel == 0 && f.Channels > detect.MaxSurveyChannels:
		return &OptionError{"no channel", "given", fmt.Sprintf("one named: the recording has %d", f.Channels)}
	case hz > top:
		return &OptionError{"tone", fmt.Sprintf("%g Hz", hz), fmt.Sprintf("%d to %.0f Hz at %d frames/s", detect.MinTone, top, f.SampleRate)}
	}
	return nil
}

// Caveat is a remark on a result: Code for programs, Message for people, saying what to do where something can be done.
type Caveat struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// Analysis is what a recording holds.
type Analysis struct {
	Format  audio.Format
	Frames  int64         // frames of the whole recording, as far as they are there
	Span    Span          // the stretch looked at
	Config  detect.Config // of the first set of points
	Found   detect.Findings
	Levels  detect.Levels  // measured by the detector, of the first set
	Sets    []Set          // what was found of each set of points; nil where the detector did not run
	Edges   []detect.Event // settled openings and closings of all sets, in time
	Lost    []Lost         // stretches in which nothing is known of a set of points, set after set
	Caveats []Caveat
	// Refused is nil, or tells why the openings cannot be told; Edges is empty then.
	Refused error

	cut    bool         // the recording ends in the middle
	passes map[int]bool // sets of which a whole reading has told what open points let through
	wiring detect.Wiring
	model  detect.EdgeModel
	other  float64 // the tone that is there instead of the one asked for [Hz]; 0: none
}

// Analyse reads a recording twice, by open, the first time only as much of it as a survey hears, and finds its openings and
// closings. The error is one of reading; a recording that cannot be judged is no error but Analysis.Refused.
func Analyse(ctx context.Context, open func() (audio.Source, error), opt Options) (Analysis, error) {
	a := Analysis{wiring: opt.Wiring, passes: map[int]bool{}}
	if len(opt.Tones) == 0 {
		opt.Tones = []float64{0}
	}
	var heard []surveyed
	for _, hz := range opt.Tones {
		cfg, found, err := a.survey(ctx, open, opt, hz)
		if reason := (refusedError{}); err != nil && !errors.As(err, &reason) {
			return a, err
		}
		heard = append(heard, surveyed{cfg, found, err})
	}
	if err := a.surveyApart(ctx, open, opt, heard); err != nil {
		return a, err
	}
	a.Found = heard[0].found
	configs := make([]detect.Config, 0, len(heard))
	founds := make([]detect.Findings, 0, len(heard))
	for i, h := range heard {
		if reason := (refusedError{}); errors.As(h.err, &reason) {
			if opt.Tones[i] != 0 {
				a.other = a.toneInstead(ctx, open, opt)
			}
			err := a.refuseUnheard(ctx, open, opt, reason.error)
			return a, err
		}
		if len(heard) > 1 {
			h.cfg.Set = i + 1
		}
		configs, founds = append(configs, h.cfg), append(founds, h.found)
	}
	a.Config = configs[0]
	sound := newInspection(a.Format, opt.Channel)
	if len(configs) > 1 && configs[0].Channel == configs[1].Channel {
		if err := a.detect(ctx, open, configs, founds, sound); err != nil || a.Refused != nil {
			return a, err
		}
	} else {
		for i := range configs {
			if err := a.detect(ctx, open, configs[i:i+1], founds[i:i+1], sound); err != nil || a.Refused != nil {
				return a, err
			}
			sound = nil
		}
	}
	sort.SliceStable(a.Edges, func(i, j int) bool { return a.Edges[i].At() < a.Edges[j].At() })
	return a, nil
}

// detect is the second reading, for one set of points, or for two that share a channel; the first set gives the levels. With sound nil the
// sound itself has been inspected.
func (a *Analysis) detect(ctx context.Context, open func() (audio.Source, error), configs []detect.Config, founds []detect.Findings, sound *inspection) error {
	configs, err := withSource(open, func(src audio.Source) ([]detect.Config, error) { return learnAngles(ctx, src, configs, a.Span) })
	if err != nil {
		return err
	}
	h, sets, err := newHearer(configs)
	if err != nil {
		return err
	}
	faults := make([]map[detect.Cause]int, len(sets))
	edges := make([][]detect.Event, len(sets))
	lost := make([]lostOf, len(sets))
	for i := range faults {
		faults[i] = map[detect.Cause]int{}
	}
	taps := Taps{Event: func(e detect.Event) {
		i := setOf(configs, e)
		switch {
		case e.Stage != detect.Settled:
		case e.Kind == detect.KindOpen || e.Kind == detect.KindClose:
			edges[i] = append(edges[i], e)
		case e.Kind == detect.KindFault || e.Kind == detect.KindLost:
			faults[i][e.Cause]++
		}
		if e.Stage == detect.Settled {
			lost[i].take(e)
		}
	}}
	if sound != nil && len(a.passes) == 0 {
		taps.Block = sound.take
	}
	_, err = withSource(open, func(src audio.Source) (End, error) { return Run(ctx, src, []Hearer{h}, a.Span, taps) })
	if err != nil {
		return err
	}
	if again, news := a.passing(configs, sets); news {
		return a.detect(ctx, open, again, founds, sound)
	}
	if sound != nil {
		a.notice(sound)
	}
	for i, d := range sets {
		for _, e := range edges[i] {
			a.Edges = append(a.Edges, e.Instant(d.EdgeModel()))
		}
		a.Lost = append(a.Lost, lost[i].list...)
		s := Set{Config: configs[i], Found: founds[i], Levels: d.Levels(), Model: d.EdgeModel()}
		a.Sets = append(a.Sets, s)
		if len(a.Sets) == 1 {
			a.Config, a.Levels, a.model = s.Config, s.Levels, s.Model // with the angle
		}
		a.remark(s, faults[i], i == 0)
	}
	for i, d := range sets {
		if err := d.Judge(); err != nil {
			if configs[i].Set > 0 {
				err = fmt.Errorf("set %d (tone %.0f Hz): %w", configs[i].Set, configs[i].Profile.Tone, err)
			}
			a.Edges = nil
			a.refuse(err)
			break
		}
	}
	return nil
}

// withSource opens a source for f and closes it again.
func withSource[T any](open func() (audio.Source, error), f func(audio.Source) (T, error)) (T, error) {
	src, err := open()
	if err != nil {
		var none T
		return none, err
	}
	v, err := f(src)
	return v, errors.Join(err, src.Close())
}

// remark turns what was noticed of a set of points into caveats; with all also what concerns the channel, once for the sets that share it.
func (a *Analysis) remark(s Set, faults map[detect.Cause]int, all bool) {
	whose := ""
	if s.Config.Set > 1 {
		whose = fmt.Sprintf("set %d: ", s.Config.Set)
	}
	add := func(code, message string) { a.add(code, whose+message) }
	if n := faults[detect.CauseGap]; n > 0 && all {
		add("gap", "samples were lost "+Count(n, "time: no edge is timed across it", "times: no edge is timed across these"))
	}
	if n := faults[detect.CauseDropout]; n > 0 && all {
		add("dropout", Count(n, "stretch of exact zeros looks", "stretches of exact zeros look")+" like samples lost by the sound card, not like open points")
	}
	if n := faults[detect.CausePhase]; n > 0 {
		add("phase", "the phase of the tone jumped "+Count(n, "time", "times")+" while the points stood still: samples were lost or repeated there")
	}
	if n := faults[detect.CauseNoFit]; n > 0 {
		add("no_fit", "the signal fitted neither open nor closed points "+Count(n, "time", "times")+": check the cable")
	}
	remarkOff(faults, add)
	// Where samples were lost, or the signal, an edge may have been lost with them.
	if n := s.Levels.Repeats - faults[detect.CauseGap] - faults[detect.CauseDropout] - faults[detect.CauseNoFit]; n > 0 {
		add("not_in_turn", Count(n, "edge follows", "edges follow")+" one of the same kind: one between them is missing, or one of the two is none")
	}
	if n := s.Levels.Undone; n >= manyUndone && 2*n > s.Levels.Edges {
		add("unsteady", fmt.Sprintf("%d changes of level looked like the points for a moment and came to nothing: an edge may be missing or made up; look for what rumbles or hums, and raise the tone level", n))
	}
	if snr := SNR(s.Levels); snr < 10 && s.Levels.Edges > 0 { // without an edge there is no level to trust
		add("low_snr", fmt.Sprintf("the tone is only %.0f dB above the noise: raise the tone level or quieten the input", snr))
	}
}

// manyUndone is how many changes must have come to nothing before it is worth a remark.
const manyUndone = 6

func (a *Analysis) add(code, message string) {
	a.Caveats = append(a.Caveats, Caveat{Code: code, Message: message})
}

// refuse notes why the recording cannot be judged.
func (a *Analysis) refuse(err error) {
	a.Refused = err
	code, _ := refusal(err)
	a.add(code, err.Error()+"; "+a.Hint())
}

// refusal gives the code and the hint of a reason to refuse.
func refusal(err error) (code, hint string) {
	for _, r := range []struct {
		err        error
		code, hint string
	}{
		{detect.ErrTooShort, "too_short", "record a few seconds with the points closed and open"},
		{detect.ErrSilence, "silence", "check that the input is plugged in and its level is up"},
		{detect.ErrNoTone, "no_tone", "play the test tone through the points while recording"},
		{detect.ErrNoChange, "no_change", "open and close the points during the recording; if they did, check the cable and take the coil lead off"},
		{detect.ErrNotATone, "not_a_tone", "give the tone with --tone if there is one among other sounds and you have not; otherwise record again, without other sounds on the line"},
		{detect.ErrWhich, "low_contrast", "use a lower load resistor, another tone, or wire the cable across the points, so that one state is louder"},
		{detect.ErrContrast, "low_contrast", "take the coil lead off the points, use a lower load resistor, or wire the cable across the points"},
		{detect.ErrNoise, "noise", "raise the tone level, keep the cable away from mains leads, or unplug the computer from the mains"},
		{detect.ErrManyTones, "several_tones", "choose with --tone (give it twice for two sets of points)"},
	} {
		if errors.Is(err, r.err) {
			return r.code, r.hint
		}
	}
	return "unclear", "record again with the cable checked"
}

// HintFor tells what to do about a reason to refuse.
func HintFor(err error) string {
	_, hint := refusal(err)
	return hint
}

// Hint tells what to do about Refused.
func (a *Analysis) Hint() string {
	if a.other > 0 {
		return fmt.Sprintf("there is a tone of %.1f Hz: give that with --tone, or leave --tone out", a.other)
	}
	return HintFor(a.Refused)
}

// DBFS returns the level of an amplitude, a full-scale sine being 0; at least -200.
func DBFS(amplitude float64) float64 { return 20 * math.Log10(math.Max(amplitude, 1e-10)) }

// SNR returns the tone power over the noise power in the full band [dB], of the louder state; at most 120.
func SNR(l detect.Levels) float64 {
	return math.Min(120, DBFS(math.Max(l.Closed, l.Open))-DBFS(math.Sqrt2*l.Noise))
}

// SNR returns that of the first set of points.
func (a *Analysis) SNR() float64 { return SNR(a.Levels) }

// Wiring returns the wiring that the analysis went by.
func (a *Analysis) Wiring() detect.Wiring { return a.wiring }

// EdgeModel returns the word for the shape of the edges.
func (a *Analysis) EdgeModel() string { return a.model.String() }
