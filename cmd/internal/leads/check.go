package leads

import (
	"fmt"

	"breakcue/audio"
)

// Check is a cable check under way. Its caller plays what Want says, hands on what comes back by Process and Skip, and tells by Playing
// from which frame the sound that Want names goes out; each step begins with Begin, once the clips are where it wants them, and is over
// when Progress says so. A step may be made again: the last one counts. Same input, same results, however the sound is cut into
// blocks, as long as Playing is told before the sound comes back.
//
// Phases of a step: Quiet (nothing is played: noise, hum), Settling (until the level stands still, for a time at most), Comb (many tones at
// once), Single (one tone for some seconds: does its level stay?), Done.
type Check struct {
	opt   Options
	comb  *audio.Comb // the tones that are played at once, for their levels
	hz    []float64
	frame int64 // absolute number of the next frame
	run   *run  // the step under way, nil for none
	done  [Steps]*Measure
	trip  trip // what is known of the round trip
}

// New returns a Check at frame 0 of a stream. Errors: an option out of its range.
func New(o Options) (*Check, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	c := &Check{opt: o, hz: combTones(o.Format.SampleRate)}
	var err error
	if c.comb, err = audio.NewComb(c.chord(), o.Format.SampleRate); err != nil {
		return nil, fmt.Errorf("leads: %w", err)
	}
	return c, nil
}

// Begin begins a step. The clips must be where it wants them. Errors: no such step, or one for a resistor that the options do not name.
func (c *Check) Begin(s Step) error {
	if s >= Steps {
		return fmt.Errorf("leads: step, got %d, want 0..%d", s, Steps-1)
	}
	if s == Known && c.opt.Resistor == 0 {
		return fmt.Errorf("leads: step %v, want the value of the resistor in the options", s)
	}
	c.run = newRun(c, s)
	return nil
}

// Playing tells from which frame, 1 or more, the sound that Want names stands at its level as it goes out; 0 while that is not known.
// It may be told again and again.
func (c *Check) Playing(from int64) {
	if c.run != nil && from > 0 {
		c.run.playing(from)
	}
}

// Process takes the next frames, interleaved. Samples that are not finite count as 0.
func (c *Check) Process(block []float32) {
	channels := c.opt.Format.Channels
	for i := 0; i+channels <= len(block); i += channels {
		if c.run != nil {
			c.run.take(block[i : i+channels])
		}
		c.frame++
	}
}

// Skip tells that so many frames, 0 or more, were lost before the next.
func (c *Check) Skip(lost int64) {
	if lost <= 0 {
		return
	}
	c.frame += lost
	if c.run != nil {
		c.run.skip(lost)
	}
}

// Want returns what is to be played now: silence before the first step and between steps.
func (c *Check) Want() audio.Chord {
	if c.run == nil {
		return audio.Chord{Level: c.opt.Level}
	}
	return c.run.want()
}

// Progress is how far a step has come.
type Progress struct {
	Step     Step
	Phase    Phase
	Part     float64 // of the step's usual time, 0..1
	Level    float64 // of what comes back now [dBFS, a full-scale sine is 0]
	Clipping bool    // some samples of this step are at full scale
	Waiting  bool    // the sound that Want names is not known to be playing
}

// Progress returns how far the step has come that was begun last; Done before the first.
func (c *Check) Progress() Progress {
	if c.run == nil {
		return Progress{Phase: Done, Part: 1}
	}
	return c.run.progress()
}

// Measure returns what the last run of a step measured; false where there is none.
func (c *Check) Measure(s Step) (Measure, bool) {
	if s >= Steps || c.done[s] == nil {
		return Measure{}, false
	}
	return *c.done[s], true
}

// Result returns what the steps so far come to. It may be asked after each.
func (c *Check) Result() Result { return conclude(c) }
