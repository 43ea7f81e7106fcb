package pump

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"slices"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

const (
	angleEdges  = 5               // clean edges from which the angle is learnt
	angleWithin = 2 * time.Minute // of the recording's beginning
	angleOff    = 0.25            // by which the ratio of the two levels may be another than the survey's: else it is not from the contacts' edges
	angleLeast  = 0.05            // of the louder level: a quieter state has no angle to speak of
)

// errEnough ends a run that has heard enough.
var errEnough = errors.New("pump: enough heard")

// learnAngles listens to the first edges of one set of points, or of two that share a channel, for the angle between the two levels, which the
// survey tells only where their magnitudes do not. With it the very first opening of the second reading is judged in the I/Q plane like all
// later ones. A config without an angle to learn comes back unchanged.
func learnAngles(ctx context.Context, src audio.Source, configs []detect.Config, span Span) ([]detect.Config, error) {
	angles := make([]angleSum, len(configs))
	enough := func() bool {
		for i, c := range configs {
			if !c.Profile.PhaseKnown && angles[i].edges < angleEdges {
				return false
			}
		}
		return true
	}
	if enough() {
		return configs, nil
	}
	h, _, err := newHearer(configs)
	if err != nil {
		return configs, err
	}
	limit := span.From + int64(angleWithin.Seconds()*float64(configs[0].SampleRate))
	taps := Taps{
		Event: func(e detect.Event) { angles[setOf(configs, e)].take(e) },
		Block: func([]float32) error {
			if enough() {
				return errEnough
			}
			return nil
		},
	}
	if span.To == 0 || span.To > limit {
		span.To = limit
	}
	if _, err := Run(ctx, src, []Hearer{h}, span, taps); err != nil && !errors.Is(err, errEnough) {
		return configs, err
	}
	learnt := slices.Clone(configs)
	for i, c := range configs {
		if !c.Profile.PhaseKnown {
			learnt[i] = angles[i].learnt(c)
		}
	}
	return learnt, nil
}

// angleSum gathers the ratio of the two levels from clean edges.
type angleSum struct {
	sum   complex128 // of open over closed level, or the other way round where the open state is the louder one
	edges int
}

func (a *angleSum) take(e detect.Event) {
	if e.Stage != detect.Settled || e.Reclosures > 0 || (e.Kind != detect.KindOpen && e.Kind != detect.KindClose) {
		return
	}
	closed, open := e.Before, e.After
	if e.Kind == detect.KindClose {
		closed, open = open, closed
	}
	if cmplx.Abs(closed) < cmplx.Abs(open) {
		closed, open = open, closed
	}
	if closed != 0 {
		a.sum += open / closed
		a.edges++
	}
}

// learnt returns cfg with the angle; unchanged where there is none.
func (a *angleSum) learnt(cfg detect.Config) detect.Config {
	if a.edges == 0 {
		return cfg
	}
	ratio := a.sum / complex(float64(a.edges), 0)
	p := &cfg.Profile
	loud, quiet := &p.Closed, &p.Open
	if cmplx.Abs(*loud) < cmplx.Abs(*quiet) {
		loud, quiet = quiet, loud
	}
	if cmplx.Abs(ratio) < angleLeast || cmplx.Abs(ratio) > 1 || math.Abs(cmplx.Abs(ratio)-cmplx.Abs(*quiet / *loud)) > angleOff {
		return cfg
	}
	*quiet = *loud * ratio
	p.PhaseKnown = true
	return cfg
}
