package pump

import (
	"context"
	"fmt"

	"breakcue/audio"
)

// inspection watches every sample of a reading for what is wrong with the sound itself: the survey does not hear them all.
type inspection struct {
	channels []extremes
	only     int // the channel asked for, from 1; 0: all
}

func newInspection(f audio.Format, only int) *inspection {
	return &inspection{channels: make([]extremes, f.Channels), only: only}
}

// take is a tap of Run.
func (n *inspection) take(block []float32) error {
	for c := range n.channels {
		if n.only == 0 || n.only == c+1 {
			n.channels[c].take(block, len(n.channels), c)
		}
	}
	return nil
}

// notice turns what the readings up to now saw of the sound itself into caveats.
func (a *Analysis) notice(n *inspection) {
	if a.cut {
		a.add("truncated", "the file ends early: all that is there was looked at; copy it again from where it came if you can")
	}
	bad := 0
	for c := range n.channels {
		bad += int(n.channels[c].notFinite)
	}
	if bad > 0 {
		a.add("not_finite", fmt.Sprintf("%s (NaN, infinite or absurdly large) and counted as silence: the file is damaged or was badly converted",
			Count(bad, "sample is no number", "samples are no numbers")))
	}
	if c := a.Found.Channel; c >= 0 {
		a.Caveats = append(a.Caveats, n.channels[c].caveats()...)
	}
}

// refuseUnheard refuses a recording that no detector will hear, with a reading of its own for what is wrong with the sound itself.
func (a *Analysis) refuseUnheard(ctx context.Context, open func() (audio.Source, error), opt Options, reason error) error {
	n := newInspection(a.Format, opt.Channel)
	_, err := withSource(open, func(src audio.Source) (End, error) { return Run(ctx, src, nil, a.Span, Taps{Block: n.take}) })
	if err != nil {
		return err
	}
	a.notice(n)
	a.refuse(reason)
	return nil
}
