package detect

// coupling is what the state of the other set of points does to one level of a set: the two share the resistors of one cable. The level of
// pairSet, and of the Detector that hears the set, is the one beside the state in which it was learnt; beside the other state it differs by
// a share that is learnt at each change of the other set. So a Detector sees nothing of it.
type coupling struct {
	by    complex128 // share of the set's louder level that is added
	n     int        // hops that tell of it; 0: nothing is known
	sure  bool       // it is more than noise
	of    int        // index of that louder level: where another has become the louder one, nothing is known
	home  int        // state of the other set beside which the level is that of pairSet
	heard bool       // home is known
}

const (
	coupleSkip    = 1     // hops after a change that may hold a part of it
	coupleHops    = 60    // hops after a change of the other set that tell of the coupling: later a level may have moved by itself
	coupleLeast   = 100   // hops: 1/coupleLeast is the least gain by which it follows
	coupleMost    = 0.5   // share that a coupling may be: what is more is another state
	coupleFew     = 16    // hops that are not enough to believe in it: in each, what the other tone leaves over shows, too
	coupleFaint   = 0.021 // share that is not worth it: beside a tone that changes as much is left over in a hop
	coupleSigmas  = 4.0   // standard deviations of a coupling that is believed in
	coupleStep    = 0.03  // share from which on a level that was fitted tells of it: an edge within the fit makes less
	coupleSettled = 1000  // hops from which on a level that is not where it was has moved by itself
)

// loud returns the index of the louder level.
func (s *pairSet) loud() int {
	if mag2(s.level[1]) > mag2(s.level[0]) {
		return 1
	}
	return 0
}

// renew forgets shares of a level that is not the louder one, l.
func (s *pairSet) renew(l int) {
	for i := range s.couple {
		if c := &s.couple[i]; c.of != l {
			c.by, c.n, c.sure, c.of = 0, 0, false, l
		}
	}
}

// beside returns by how much the level own lies off level[own] beside a state of the other set.
func (s *pairSet) beside(own, other int) complex128 {
	l := s.loud()
	s.renew(l)
	c := &s.couple[own]
	switch {
	case !c.heard || c.home == other || !s.known[l]:
		return 0
	case c.n > 0 && c.sure:
		return c.by * s.level[l]
	case c.n > 0 || l == own || !s.couple[l].sure:
		return 0
	case s.couple[l].home == c.home: // as with the louder level, as long as nobody knows better
		return s.couple[l].by * s.level[own]
	}
	return s.level[own] * (1/(1+s.couple[l].by) - 1)
}

// prepare makes the phasors for frame n, and the levels of both tones in each joint state.
func (p *Pair) prepare(n int64) {
	for i := range p.set {
		p.set[i].aim(n)
	}
	p.path.coupled = false
	for k := range p.path.joint {
		for i := range p.set {
			s, own, other := &p.set[i], k>>i&1, k>>(1-i)&1
			if !s.known[own] { // nothing tells it from the other
				own = 1 - own
			}
			by := s.beside(own, other)
			p.path.coupled = p.path.coupled || by != 0
			p.path.joint[k][i] = s.level[own] + by
		}
	}
}

// endHop notes at the end of a hop for how many of them the joint state has stood, and which change was the last.
func (t *pairPath) endHop() {
	switch {
	case t.stood < 0:
		t.came, t.stood = t.now, t.now
	case t.now != t.stood && t.sure():
		t.came, t.stood, t.still = t.stood, t.now, 0
	}
	t.still = min(t.still+1, 2*coupleHops)
}

// turned tells that only the other set than i has changed lately.
func (t *pairPath) turned(i int) bool { return t.came^t.stood == 2>>i && t.still <= coupleHops }

// learnCoupling takes what the level of set i was off in a hop, dev, for news of the coupling where it is. It is false where it is not.
func (p *Pair) learnCoupling(i int, dev complex128) bool {
	t, s := &p.path, &p.set[i]
	own, other := t.now>>i&1, t.now>>(1-i)&1
	s.renew(s.loud())
	c := &s.couple[own]
	if t.still <= coupleSkip || !s.known[own] || t.now != t.stood || !t.sure() || p.held >= 0 {
		return false
	}
	turned := t.turned(i)
	if c.n == 0 {
		if !c.heard || !turned {
			c.home, c.heard = other, true
			return false
		}
		c.home = 1 - other
	}
	l := s.loud()
	loud := s.level[l]
	if !turned || other == c.home || !s.known[l] || loud == 0 {
		return false
	}
	now := s.beside(own, other) / loud // what has been taken off
	if c.n == 0 {
		c.by, c.sure = now, now != 0
	}
	c.n++
	by := c.by + (dev/loud+now-c.by)*complex(1/float64(min(c.n+1, coupleLeast)), 0)
	if b2 := mag2(by); b2 < coupleMost*coupleMost {
		c.by = by
		c.sure = c.sure || c.n > coupleFew && b2 > coupleFaint*coupleFaint &&
			b2*mag2(loud) > coupleSigmas*coupleSigmas*2*p.noise2/(float64(min(c.n, coupleLeast))*float64(p.hop))
	}
	return c.sure
}

// blame takes the level a of set i, of state own beside a state of the other set, for the effect of coupling. It is false where it is none.
func (p *Pair) blame(i int, a complex128, own, other int) bool {
	t, s := &p.path, &p.set[i]
	if other == t.stood>>(1-i)&1 && !t.turned(i) {
		return false // a level has moved by itself
	}
	c, l := &s.couple[own], s.loud()
	s.renew(l)
	if !c.heard || c.home == other || c.n >= coupleSettled || !s.known[l] || s.level[l] == 0 {
		return false
	}
	by := (a - s.level[own]) / s.level[l]
	if b2 := mag2(by); b2 > coupleMost*coupleMost || b2 < coupleStep*coupleStep {
		return false
	}
	c.by, c.n, c.sure = by, max(c.n, 1), true
	return true
}

// uncoupled returns what the level a, of state own beside a state of the other set, would be beside the state at which it is known.
func (s *pairSet) uncoupled(a complex128, own, other int) complex128 {
	c, l := &s.couple[own], s.loud()
	s.renew(l)
	switch {
	case !c.sure || !c.heard || c.home == other:
		return a
	case l == own:
		return a / (1 + c.by)
	case s.known[l]:
		return a - c.by*s.level[l]
	}
	return a
}
