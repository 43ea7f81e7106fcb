package leads

import (
	"fmt"
	"slices"

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
	frame int64             // absolute number of the next frame
	shift int64             // frames that were lost without a word, as far as the comb's phases show them: what comes now was played so much later
	run   *run              // the step begun last, nil for none
	done  [Steps][]*Measure // for each channel that is kept
	trip  trip              // what is known of the round trip

	wanted audio.Chord // what is to be played
	asked  int64       // frame at which it was asked for
	from   int64       // frame from which it stands at its level as it goes out; 0: not known
}

// New returns a Check at frame 0 of a stream. Errors: an option out of its range.
func New(o Options) (*Check, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	c := &Check{opt: o, hz: withTone(combTones(o.Format.SampleRate), o.Tone), wanted: audio.Chord{Level: o.Level}}
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

// Playing tells from which frame, 1 or more, the sound that Want names stands at its level as it goes out. It may be told again and
// again: the first frame that lies after Want changed counts.
func (c *Check) Playing(from int64) {
	if c.from == 0 && from > c.asked {
		c.from = from
	}
}

// ask has something else played.
func (c *Check) ask(chord audio.Chord) {
	if !slices.Equal(chord.Hz, c.wanted.Hz) {
		c.wanted, c.asked, c.from = chord, c.frame, 0
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
func (c *Check) Want() audio.Chord { return c.wanted }

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

// Measure returns what the last run of a step measured, in the channel in which the tone comes back; false where there is none.
func (c *Check) Measure(s Step) (Measure, bool) {
	if s >= Steps || c.done[s] == nil {
		return Measure{}, false
	}
	return *c.done[s][c.channel()], true
}

// Result returns what the steps so far come to. It may be asked after each.
func (c *Check) Result() Result { return conclude(c) }

// channel returns the channel, from 0, in which the tone comes back loudest in the steps so far.
func (c *Check) channel() int {
	best, channel := -1.0, max(0, c.opt.Channel-1)
	for _, list := range c.done {
		for ch, m := range list {
			if m == nil {
				continue
			}
			var p float64
			for _, t := range m.Tones {
				p += abs2(t.Level.Value())
			}
			if p > best {
				best, channel = p, ch
			}
		}
	}
	return channel
}

// measures returns what each step measured in that channel, nil for those not made.
func (c *Check) measures() (list [Steps]*Measure) {
	ch := c.channel()
	for s, of := range c.done {
		if of != nil {
			list[s] = of[ch]
		}
	}
	return list
}
