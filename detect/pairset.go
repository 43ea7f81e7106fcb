package detect

import "math"

// pairSet is one set of points in a Pair.
type pairSet struct {
	det    *Detector // hears the sound less the other tone; nil in a Split
	guide  *Detector // knows the levels: det, or whoever hears what a Split gives; nil: nobody does
	base   int64     // frame at which guide began
	sent   int64     // frames that were passed on
	apart  float64   // distance of the levels of the configuration, by their magnitudes where the angle is not known
	w      float64   // tone [rad/frame]
	phase  float64   // of the tone at frame at
	at     int64
	level  [2]complex128 // closed, open
	known  [2]bool       // the level is known with its phase
	own    bool          // level was fitted to the sound; the Detector's tracker does not know it yet
	since  int64         // frame at which that was
	firm   bool          // in a Split: the louder level came back at the phase that it was expected at
	met    bool          // guide has been in the louder state since it found one
	couple [2]coupling   // of each level
	sum    complex128    // of what is left over times exp(-j w n), since the begin of the hop
	turn   complex128    // exp(j w)
	now    complex128    // exp(j phase) at the frame to be weighed
	open   struct {      // frames at which the events on their way were decided
		id, frame [2]int64
	}
}

// aim prepares the phasors of the set for frame n.
func (s *pairSet) aim(n int64) {
	s.turn, s.now = cis(s.w), cis(s.angle(n))
}

// learn takes the levels that the Detector follows, where it knows better than the set itself.
func (s *pairSet) learn(p *Pair) {
	d := s.guide
	if d == nil {
		s.own, s.met = true, false
		return
	}
	t := &d.track
	if d.state != Closed && d.state != Open {
		s.own, s.met = true, false
		return
	}
	i := idx(d.state)
	at := s.base + d.n - int64(d.acc.n)
	if s.own {
		// Agree on the present level?
		mine := s.level[i] * cis(s.angle(at))
		theirs := t.level[i] * cis(t.phase)
		if !(s.known[i] && mag(mine-theirs) < pairAgree*min(p.set[0].apart, p.set[1].apart)) && float64(at-s.since) < pairOwn*p.fs {
			return
		}
		s.own = false
	}
	mine, known := s.level[1-i]*cis(s.angle(at)-t.phase), s.known[1-i]
	s.w, s.phase, s.at = t.w, t.phase, at
	s.level = t.level
	a2, o2 := mag2(t.level[i]), mag2(t.level[1-i])
	s.known[i] = true
	// A state that is hardly more than noise does not tell the phase of the louder one: that must have been heard.
	s.met = s.met || a2 > o2
	told := s.met || a2 > sureLevel*sureLevel*2*t.noise2*t.followGain/t.hop
	s.known[1-i] = t.phased && (o2 < a2 || told && t.jumps < manyJumps)
	switch {
	case known && !s.met && o2 > a2:
		s.level[1-i], s.known[1-i] = mine, true
	case !s.known[1-i] && o2 < smallLevel*smallLevel*a2:
		s.level[1-i], s.known[1-i] = 0, true
	}
}

// angle returns the tone's phase at a frame.
func (s *pairSet) angle(n int64) float64 { return s.phase + s.w*float64(n-s.at) }

func cis(x float64) complex128 {
	sin, cos := math.Sincos(x)
	return complex(cos, sin)
}

// mark gives the events from index k on, of set i, IDs of their own and the frame at which they really were decided.
func (p *Pair) mark(dst []Event, k, i int) []Event {
	o := &p.set[i].open
	for j := k; j < len(dst); j++ {
		e := &dst[j]
		slot := 0
		if e.Kind == KindClose {
			slot = 1
		}
		switch {
		case e.Kind != KindOpen && e.Kind != KindClose:
			e.DecidedFrame = max(e.DecidedFrame, p.n-1)
		case e.Stage == Decided:
			o.id[slot], o.frame[slot] = e.ID, max(e.DecidedFrame, p.n-1)
			fallthrough
		default:
			if o.id[slot] == e.ID {
				e.DecidedFrame = o.frame[slot]
			}
		}
		e.ID = 2*e.ID - int64(1-i)
	}
	return dst
}
