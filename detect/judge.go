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
	l, m := d.Levels(), &d.sum
	hi := math.Max(l.Closed, l.Open)
	if hi*hi/2 < minToneOverNoise*l.Noise*l.Noise {
		return fmt.Errorf("%w (%.0f dB)", ErrNoise, 10*math.Log10(2*l.Noise*l.Noise/(hi*hi)))
	}
	if d.lostSamples(l, hi) {
		return fmt.Errorf("%w: what is missing now and then are exact zeros for at most %.0f ms: samples that the sound card lost", ErrNoChange, 1000*float64(m.longest)/d.fs)
	}
	if white := d.cfg.Profile.Noise; white > 0 && l.Edges < manyEdges && hi*hi/2 < minOverOthers*l.Noise*l.Noise && l.Noise*l.Noise > maxColour*white*white {
		return fmt.Errorf("%w: what is heard beside it is nearly as loud and no noise, and there are only %d openings and closings", ErrNotATone, l.Edges)
	}
	if seconds := float64(d.n) / d.fs; float64(l.Undone) > math.Min(fewUndone, leastUndone+undoneRate*seconds)+mostUndone*float64(l.Edges) {
		return fmt.Errorf("%w: %d of the changes of level turned out to be none, %d did not", ErrNotATone, l.Undone, l.Edges)
	}
	if d.n > 0 {
		if share := float64(m.outside) / float64(d.n); share > maxOutside {
			return fmt.Errorf("%w: for %.0f %% of the time the level fits neither state", ErrNotATone, 100*share)
		}
	}
	most := maxRestless
	if l.Distance*l.Distance/2 < clearStep*l.Noise*l.Noise {
		most = maxRestlessInNoise
	}
	if float64(m.restless) > most*float64(m.watched) {
		return fmt.Errorf("%w: for %.0f %% of the time the level does not stand still", ErrNotATone, 100*float64(m.restless)/float64(m.watched))
	}
	if s := m.slide; s.looked >= leastLooked && 2*s.slid > s.looked && hi*hi/2 > minOverOthers*l.Noise*l.Noise {
		return fmt.Errorf("%w: it swells, wavers or dies away for %d %% of the time", ErrNotATone, 100*s.slid/s.looked)
	}
	if r := m.repeats; r >= 2 && float64(r) > maxRepeats*float64(m.edges) {
		return fmt.Errorf("%w: it began or ended %d times without having done the other in between", ErrNotATone, r)
	}
	if n := m.flutter; float64(n) > maxFlutter*float64(m.edges) {
		return fmt.Errorf("%w: the level went back and forth more often than contacts do (at %d of %d edges)", ErrNotATone, n, m.edges)
	}
	if s := m.scatter(); s > maxScatter {
		return fmt.Errorf("%w: the level of the tone differs by %.0f %% from one opening to the next", ErrNotATone, 100*s)
	}
	return nil
}

const (
	minToneOverNoise = 0.5 // power ratio, -3 dB
	maxOutside       = 0.5
	// Notes lie among other notes, a tone through a cable in noise. A few edges are little evidence where what is left beside the tone is
	// within 6 dB of it and more than twice what the noise between the tones is, as the survey measured it.
	manyEdges     = 10
	minOverOthers = 4.0 // power ratio
	maxColour     = 2.0 // power ratio
	// Where the step between the levels stands out of the noise, a tone stands still but for its edges. In noise as strong as the step,
	// the trigger is suspicious for a fifth of the time.
	clearStep          = 2.0 // power ratio
	maxRestless        = 0.15
	maxRestlessInNoise = 0.3
	// Spikes that look like contacts for a moment make some changes that are none, in a long recording more than in a short one; a level
	// that never stands still makes many.
	leastUndone = 3.0
	undoneRate  = 0.3 // [1/s]
	fewUndone   = 20.0
	mostUndone  = 1.0 // a change that is one
	leastLooked = 3
	maxScatter  = 0.25
	maxRepeats  = 0.1 // share of the edges that follow one of their own kind; lost samples hide an edge now and then
	maxFlutter  = 0.25
	shortZeros  = 0.05 // [s]
	someNoise   = 1e-5 // power ratio to the tone
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

// lostSamples tells that what was taken for open contacts are samples that a sound card has lost: exact zeros in sound that has noise
// in it, all of them shorter than a hand opens contacts and a gate takes to close.
func (d *Detector) lostSamples(l Levels, hi float64) bool {
	m := &d.sum
	return d.cfg.ZeroIsOpen && l.Noise*l.Noise > someNoise*hi*hi/2 && m.longest > 0 && float64(m.longest) < shortZeros*d.fs
}

// leave notes the level of a state that an edge has left.
func (m *summary) leave(e Event) {
	m.edges++
	if e.Kind == m.last {
		m.repeats++
	}
	m.last = e.Kind
	if e.Kind == KindOpen {
		m.opened = e.Frame
	} else if m.opened > 0 {
		m.longest = max(m.longest, e.Frame-m.opened)
	}
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
