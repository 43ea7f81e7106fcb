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
	angleAlike  = 0.25            // of a ratio, by which those of one cable may differ
	angleMost   = 40              // edges, if they do not agree
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
			if !c.Profile.PhaseKnown && !angles[i].enough() {
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
	ratios []complex128 // of open over closed level, or the other way round where the open state is the louder one
	edges  int
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
		a.ratios = append(a.ratios, open/closed)
		a.edges++
	}
}

// enough tells that no more edges are needed.
func (a *angleSum) enough() bool {
	n := len(a.left())
	return a.edges >= angleEdges && (n == 0 || n >= 2) || a.edges >= angleMost
}

// left returns the ratios of which something is left.
func (a *angleSum) left() (out []complex128) {
	for _, r := range a.ratios {
		if cmplx.Abs(r) > angleLeast {
			out = append(out, r)
		}
	}
	return out
}

// ratio returns the mean of the ratios. Where some leave as good as nothing and others, alike, do not, a lead fell off at the former.
func (a *angleSum) ratio() complex128 {
	left := a.left()
	m := meanOf(left)
	for _, r := range left {
		if cmplx.Abs(r-m) > angleAlike*cmplx.Abs(m) {
			return meanOf(a.ratios)
		}
	}
	if len(left) < 2 {
		return meanOf(a.ratios)
	}
	return m
}

func meanOf(x []complex128) (sum complex128) {
	for _, z := range x {
		sum += z
	}
	return sum / complex(float64(max(1, len(x))), 0)
}

// learnt returns cfg with the angle; unchanged where there is none.
func (a *angleSum) learnt(cfg detect.Config) detect.Config {
	if a.edges == 0 {
		return cfg
	}
	ratio := a.ratio()
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
