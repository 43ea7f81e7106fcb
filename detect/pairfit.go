package detect

import (
	"math"
	"math/cmplx"
)

// pairFit fits both tones to the newest sound at once.
type pairFit struct {
	length int // frames that it goes by
}

const (
	pairBeats  = 2.0  // periods of the difference of the two tones that a fit goes by
	pairStill  = 2.0  // times the noise that two tones that stand still leave over at most
	pairStray  = 0.02 // and this share of the step of the quieter set, as powers
	pairSame   = 0.3  // of the distance of the levels: a level so near to one that is known is that
	pairFew    = 4.0  // standard deviations of a level
	pairNew    = 0.05 // of the step of the quieter set, by which a level is another than the one known
	pairClass  = 0.4  // share of the way from one magnitude to the other within which a level belongs to a state
	pairSure   = 8.0  // standard deviations from which on a quiet level tells of the phase of the loud one
	pairPatien = 2.5  // times pairLag of search after which levels are taken that belong to neither state
)

// refit looks for the levels that explain the newest sound, and has what was held back weighed with them. It leaves all as it is where two
// tones that stand still do not explain the sound.
func (p *Pair) refit() {
	to := p.n
	from := max(to-int64(p.fit.length), p.ring.from)
	if to-from < int64(p.fit.length) {
		return
	}
	level, offset, rest, ok := p.fitTones(from, to)
	if p.set[0].det == nil && ok {
		p.refitFree(level, offset, rest, to)
		return
	}
	v := max(p.noise2, 1e-14)
	least := min(p.set[0].apart, p.set[1].apart)
	if !ok || rest > max(pairStill*v, v+pairStray*least*least) {
		return
	}
	patient := p.search >= 0 && float64(to-p.search) < pairPatien*pairLag*p.fs
	var state [2]State
	for i := range p.set {
		if state[i] = p.set[i].classify(level[i]); state[i] == Unknown && patient {
			return
		}
	}
	changed := p.search >= 0
	sigma := math.Sqrt(2 * v / float64(to-from))
	now := p.path.now
	var at [2]int
	for i := range p.set {
		at[i], _ = p.set[i].place(level[i], state[i], now>>i&1, now>>(1-i)&1)
	}
	for i := range p.set {
		if p.adopt(i, level[i], state[i], now>>i&1, at[1-i], sigma, pairFew*sigma+pairNew*least, to) {
			changed = true
		}
	}
	if changed {
		p.search = -1
		p.again()
	}
}

// classify tells by its magnitude to which state a level of the set belongs; Unknown where it lies between or beyond.
func (s *pairSet) classify(a complex128) State {
	closed, open := mag(s.level[closedIdx]), mag(s.level[openIdx])
	if closed == open {
		return Unknown
	}
	switch f := (mag(a) - open) / (closed - open); {
	case f >= 1-pairClass && f < 2:
		return Closed
	case f <= pairClass && f > -1:
		return Open
	}
	return Unknown
}

// place returns the state to which the level a of the set belongs, beside a state of the other set, and how far it is off what is known of
// that: pairSame*apart where it lies near nothing that is known, so that only state, by its magnitude, or now tells.
func (s *pairSet) place(a complex128, state State, now, other int) (i int, near float64) {
	i, near = now, pairSame*s.apart
	if state == Closed || state == Open {
		i = idx(state)
	}
	for j := range s.level {
		if off := mag(a - s.level[j] - s.beside(j, other)); s.known[j] && off < near {
			i, near = j, off
		}
	}
	return i, near
}

// adopt takes a for the present level of set k, of the given state by its magnitude, Unknown where that does not tell; now is the state that
// the path is in, next that of the other set, sigma the uncertainty of a. A level that is known is taken anew where a lies farther off it than
// enough. It is false where nothing is new.
func (p *Pair) adopt(k int, a complex128, state State, now, next int, sigma, enough float64, frame int64) bool {
	s := &p.set[k]
	i, near := s.place(a, state, now, next)
	again := near < pairSame*s.apart
	if again && near < enough {
		return false
	}
	if s.known[i] && (again || s.couple[i].n == 0) && p.blame(k, a, i, next) {
		return true
	}
	a = s.uncoupled(a, i, next)
	profile := s.det.cfg.Profile
	was, other := s.level[i], s.level[1-i]
	both := s.known[i] && s.known[1-i] && was != 0 && other != 0
	if !both && profile.PhaseKnown {
		was, other = [2]complex128{profile.Closed, profile.Open}[i], [2]complex128{profile.Closed, profile.Open}[1-i]
		both = was != 0
	}
	s.own, s.since = true, frame
	s.level[i], s.known[i] = a, true
	loud := mag(a) > mag(other)
	switch {
	case again && !loud:
		// The louder level goes its own way.
	case state == Unknown && !again:
		s.known[1-i] = false
	case both && (loud || mag(a) > pairSure*sigma):
		turn := a / was
		if !loud {
			turn = cmplx.Rect(1, cmplx.Phase(turn))
		}
		s.level[1-i], s.known[1-i] = other*turn, true
	case loud && mag(other) < smallLevel*mag(a):
		s.level[1-i], s.known[1-i] = 0, true
	default:
		s.known[1-i] = false
	}
	return true
}

// fitTones returns the levels of the two tones and the offset that explain the frames from..to-1 best (normal equations of five unknowns), and
// the mean square of what they leave over. It is false where the frames do not tell the two apart.
func (p *Pair) fitTones(from, to int64) (level [2]complex128, offset, rest float64, ok bool) {
	const unknowns = 5
	a, b := &p.set[0], &p.set[1]
	za, zb := cis(a.angle(from)), cis(b.angle(from))
	ta, tb := cis(a.w), cis(b.w)
	var m [unknowns][unknowns + 1]float64
	power, count := 0.0, 0
	for n := from; n < to; n++ {
		x := p.ring.at(n)
		if x == x && (x != 0 || p.cfg[0].ZeroIsOpen) {
			v := [unknowns + 1]float64{real(za), -imag(za), real(zb), -imag(zb), 1, x}
			for i := range unknowns {
				for j := i; j <= unknowns; j++ {
					m[i][j] += v[i] * v[j]
				}
			}
			power += x * x
			count++
		}
		za *= ta
		zb *= tb
	}
	if 2*count < int(to-from) {
		return level, 0, 0, false
	}
	var right, u [unknowns]float64
	for i := range right {
		right[i] = m[i][unknowns]
	}
	// Elimination without pivots: the matrix is symmetric and positive.
	for i := range unknowns {
		if m[i][i] < 1e-2*float64(count) {
			return level, 0, 0, false
		}
		for k := i + 1; k < unknowns; k++ {
			f := m[i][k] / m[i][i]
			for j := k; j <= unknowns; j++ {
				m[k][j] -= f * m[i][j]
			}
		}
	}
	for i := unknowns - 1; i >= 0; i-- {
		u[i] = m[i][unknowns]
		for j := i + 1; j < unknowns; j++ {
			u[i] -= m[i][j] * u[j]
		}
		u[i] /= m[i][i]
		power -= u[i] * right[i]
	}
	return [2]complex128{complex(u[0], u[1]), complex(u[2], u[3])}, u[4], max(0, power) / float64(count-unknowns), true
}
