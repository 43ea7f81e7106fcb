package detect

import "math"

// sequence explains the window by the best sequence of the two states (Viterbi, IEEE Trans. Inf. Theory 13, 1967): the cost
// of a sample is its squared distance from the state's tone over 2 sigma^2, that of a change is turnCost. It is used where one
// step does not explain the sound, and taken where it explains it clearly better. v is sigma^2; k is the best single step,
// rest the energy that it leaves over.
func (r *refiner) sequence(d *Detector, e *edge, k int, v, rest float64) (placed, bool) {
	from, to := idx(other(e.ch.to)), idx(e.ch.to)
	var lv [2]complex128
	if e.ch.phased {
		lv[from], lv[to] = r.turned(d, e.ch.before), r.turned(d, e.ch.levels[to])
	} else {
		lv[from], lv[to] = r.fit(0, k), r.fit(k, r.n)
	}
	first, last, returns, left := r.decode(lv, from, v)
	// Once more with the levels of the very frames that were given to each state.
	for range 2 {
		if first < 0 {
			return placed{}, false
		}
		lv = r.refit(lv)
		first, last, returns, left = r.decode(lv, from, v)
	}
	if first < 1 || returns < 1 || rest-left < 2*v*turnCost*float64(2*returns) {
		return placed{}, false
	}
	u := math.Sqrt(1.0/12 + v/math.Max(1e-30, mag2(lv[0]-lv[1])/4))
	half := float64(r.lo+int64(first)) - 0.5 // bounce leaves too little between changes to fit
	return placed{
		frame: r.lo + int64(first), last: r.lo + int64(last), u: u, half: half, halfU: u,
		before: lv[from], after: lv[to], returns: returns,
	}, true
}

// turnCost is the cost of a change: a sequence with one more return must be this much more likely, twice (about one false
// return in 1e9 windows of white noise).
const turnCost = 13.0

// decode finds the cheapest sequence that begins in state from. It leaves the states in r.back (0 closed, 1 open), and returns the first frame
// of the other state (-1: none), the first frame of the last stretch of it, how often it was left and entered again, and
// the energy left over.
func (r *refiner) decode(lv [2]complex128, from int, v float64) (first, last, returns int, left float64) {
	inv := 1 / (2 * v)
	cost := [2]float64{0, 0}
	cost[1-from] = math.Inf(1)
	for i := range r.n {
		var came uint8
		var next [2]float64
		for s := range 2 {
			stay, turn := cost[s], cost[1-s]+turnCost
			if turn < stay {
				stay = turn
				came |= 1 << s
			}
			e := r.x[i] - (real(lv[s])*r.c[i] - imag(lv[s])*r.s[i])
			next[s] = stay + r.wt[i]*e*e*inv
		}
		cost = next
		r.back[i] = came
	}
	s := 0
	if cost[1] < cost[0] {
		s = 1
	}
	for i := r.n - 1; i >= 0; i-- {
		came := r.back[i]>>s&1 == 1
		r.back[i] = uint8(s)
		if came {
			s = 1 - s
		}
	}
	first, last = -1, -1
	prev := from
	for i := range r.n {
		s := int(r.back[i])
		e := r.x[i] - (real(lv[s])*r.c[i] - imag(lv[s])*r.s[i])
		left += r.wt[i] * e * e
		if s != prev && s != from {
			if first < 0 {
				first = i
			} else {
				returns++
			}
			last = i
		}
		prev = s
	}
	return first, last, returns, left
}

// refit returns the levels that fit the frames of each state in r.back best; a state with too few frames keeps its own.
func (r *refiner) refit(lv [2]complex128) [2]complex128 {
	var xc, xs, cc, cs, w [2]float64
	for i := range r.n {
		s := r.back[i]
		x, c, sn, wt := r.x[i]*r.wt[i], r.c[i], r.s[i], r.wt[i]
		xc[s] += x * c
		xs[s] += x * sn
		cc[s] += wt * c * c
		cs[s] += wt * c * sn
		w[s] += wt
	}
	for s := range 2 {
		ss := w[s] - cc[s]
		det := cc[s]*ss - cs[s]*cs[s]
		if w[s] < 24 || det < 0.05*w[s]*w[s] {
			continue
		}
		lv[s] = complex((xc[s]*ss-xs[s]*cs[s])/det, -(xs[s]*cc[s]-xc[s]*cs[s])/det)
	}
	return lv
}

func mag2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
