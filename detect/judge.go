package detect

import (
	"fmt"
	"math"
	"sort"
)

// Judge looks back, after Flush, on what was detected, and tells whether it is what contacts do. The error wraps
// ErrNoChange, ErrNoise or ErrNotATone; nil means that the events can be believed.
//
// A tone through contacts comes back at the level it had, opening after opening; notes and voices do not. It fits one of
// the two states nearly all of the time, and openings and closings take turns: notes and blows that begin at once but die
// away do not.
func (d *Detector) Judge() error {
	if d.sum.edges == 0 {
		return ErrNoChange
	}
	l := d.Levels()
	if hi := math.Max(l.Closed, l.Open); hi*hi/2 < minToneOverNoise*l.Noise*l.Noise {
		return fmt.Errorf("%w (%.0f dB)", ErrNoise, 10*math.Log10(2*l.Noise*l.Noise/(hi*hi)))
	}
	if d.contacts.undone > fewUndone+mostUndone*d.sum.edges {
		return fmt.Errorf("%w: %d of the changes of level turned out to be none, %d did not", ErrNotATone, d.contacts.undone, d.sum.edges)
	}
	if d.n > 0 {
		if share := float64(d.sum.outside) / float64(d.n); share > maxOutside {
			return fmt.Errorf("%w: for %.0f %% of the time the level fits neither state", ErrNotATone, 100*share)
		}
	}
	if m := &d.sum; float64(m.restless) > maxRestless*float64(m.watched) {
		return fmt.Errorf("%w: for %.0f %% of the time the level does not stand still", ErrNotATone, 100*float64(m.restless)/float64(m.watched))
	}
	if r := d.sum.repeats; r >= 3 && float64(r) > maxRepeats*float64(d.sum.edges) {
		return fmt.Errorf("%w: it began or ended %d times without having done the other in between", ErrNotATone, r)
	}
	if n := d.sum.flutter; n >= 2 && float64(n) > maxFlutter*float64(d.sum.edges) {
		return fmt.Errorf("%w: %d times the level went back and forth more often than contacts do", ErrNotATone, n)
	}
	if s := d.sum.scatter(); s > maxScatter {
		return fmt.Errorf("%w: the level of the tone differs by %.0f %% from one opening to the next", ErrNotATone, 100*s)
	}
	return nil
}

const (
	minToneOverNoise = 0.5 // power ratio, -3 dB
	maxOutside       = 0.5
	maxRestless      = 0.3
	// Spikes make some changes that are none; a level that never stands still makes many.
	fewUndone  = 20
	mostUndone = 3 // a change that is one
	maxScatter = 0.25
	maxRepeats = 0.3 // share of the edges that follow one of their own kind; lost samples and loose leads hide a few
	maxFlutter = 0.25
	// An edge flutters when it has so many returns, one after the other in so short a time. Parting points chatter over tens
	// of cycles; a sound with overtones crosses the levels at every period.
	flutterReturns = 50
	flutterCycle   = 0.0025 // [s] for one return, on average
	levelsKept     = 512    // levels before a change that are kept for the scatter
)

// scatter returns the interquartile range of the louder state's levels just before it was left, over their median.
func (m *summary) scatter() float64 {
	if len(m.before) < 3 {
		return 0
	}
	x := append([]float64(nil), m.before...)
	sort.Float64s(x)
	q := func(p float64) float64 { return x[int(math.Round(p*float64(len(x)-1)))] }
	if q(0.5) == 0 {
		return 0
	}
	return (q(0.75) - q(0.25)) / q(0.5)
}

// leave notes the level of a state that an edge has left.
func (m *summary) leave(e Event) {
	m.edges++
	if e.Kind == m.last {
		m.repeats++
	}
	m.last = e.Kind
	if e.Reclosures >= flutterReturns && float64(e.LastFrame-e.Frame) < flutterCycle*m.rate*float64(e.Reclosures) {
		m.flutter++
	}
	m.dist2 += mag2(e.Before - e.After)
	if b := mag(e.Before); b > mag(e.After) {
		if len(m.before) < levelsKept {
			m.before = append(m.before, b)
		} else {
			m.before[m.edges%levelsKept] = b
		}
	}
}
