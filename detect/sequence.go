package detect

import "math"

// sequence explains the window by the best sequence of the two states (Viterbi, IEEE Trans. Inf. Theory 13, 1967): the cost
// of a sample is its squared distance from the state's tone over 2 sigma^2, that of a change is turnCost. It is taken where it
// explains the sound clearly better than one step. v is sigma^2; k is the best single step,
// rest the energy that it leaves over; next are the changes seen after the edge.
func (r *refiner) sequence(d *Detector, e *edge, k int, v, rest float64, next []change) (placed, bool) {
	from, to := idx(other(e.ch.to)), idx(e.ch.to)
	if r.turnCost = noiseTurnCost; mag2(e.ch.levels[0]-e.ch.levels[1])/2/floorSNR > d.track.noise2 {
		r.turnCost = turnCost
	}
	var lv [2]complex128
	if e.ch.phased {
		lv[from], lv[to] = r.turned(d, e.ch.before), r.turned(d, e.ch.levels[to])
	} else {
		lv[from], lv[to] = r.fit(0, k), r.fit(k, r.n)
	}
	p := r.decode(lv, from, v)
	// Once more with the levels of the very frames that were given to each state.
	for range 2 {
		if p.turns < 2 {
			return placed{}, false
		}
		lv = r.refit(lv)
		p = r.decode(lv, from, v)
	}
	first := p.first
	if p = r.dropSpikes(p, lv, from, d.track.noise2); p.first != first && e.ch.frame < r.lo+int64(first+p.first)/2 {
		return placed{why: CauseSpike}, false // the edge is the spike's, not that of the change after it
	}
	if p.turns < 2 || p.first < 1 || rest-p.left < 2*v*r.turnCost*float64(p.turns-1) || r.misfit(lv, p.first, d.track.noise2) > maxMisfit {
		return placed{}, false
	}
	if r.spike(p) {
		return placed{why: CauseSpike}, false
	}
	if r.turnedPiece(p, lv[from]) {
		return placed{why: CausePhase}, false
	}
	seen := 0
	for _, ch := range next {
		if ch.to == e.ch.to && ch.frame < r.lo+int64(r.n) {
			seen++
		}
	}
	half := float64(r.lo+int64(p.first)) - 0.5 // bounce leaves too little between changes to fit
	likely := r.turnSpread(lv, p.first, v)
	got := placed{
		frame: r.lo + int64(p.first), last: r.lo + int64(p.last), half: half,
		before: lv[from], after: lv[to], step: [2]float64{mag(lv[from]), mag(lv[to])}, hidden: max(0, p.entries-p.fresh-1-seen),
	}
	got.at(likely.mean(true))
	got.halfU = got.u
	return got, true
}

const (
	// A change costs so much: a sequence with one more must be this much more likely. In white noise, with the 1e4 places or so that a
	// short excursion can have in the window, noiseTurnCost lets one in 6000 clean edges have a false one. Where the noise is below what
	// the levels are trusted to (floorSNR), what is left over is no chance (the work of a codec, say), and more is asked.
	noiseTurnCost = 9.0
	turnCost      = 13.0
	// maxMisfit is the most that the first stretch of the new state may lie off its tone, over the mean square of the step: a
	// spike passes through the other state's level, contacts stay at it.
	maxMisfit = 0.12
	// spikeTime is the longest that one excursion to the other state and back, alone in the window, is taken for a spike [s]: switches and
	// sparks make spikes of 0.1 to 0.2 ms, some just cancel the tone, and noise makes them look longer. Contacts
	// that are turned by hand do not open for so short a time once only.
	spikeTime = 0.0004
	// spikeApart is how many times its length a spike lies before the change proper at least, and closeMisfit what it lies off the other
	// state's tone at least, over the mean square of the step.
	spikeApart  = 5
	spikeAlone  = 0.001 // [s]: contacts that part slowly chatter, they do not part once for an instant and then, much later, for good
	closeMisfit = 0.04
	// freshTime is how long the trigger takes to see a change at most, in noise 10 dB below the tone [s].
	freshTime = 0.0005
)

// path is a sequence of states.
type path struct {
	first   int     // first frame of the new state, -1: none
	last    int     // first frame of its last stretch
	entries int     // times it was entered
	fresh   int     // of these, those so near the end of the window that the trigger may be about to see them
	turns   int     // changes in all
	left    float64 // energy left over
}

// decode finds the cheapest sequence that begins in state from, and leaves the states in r.back (0 closed, 1 open).
func (r *refiner) decode(lv [2]complex128, from int, v float64) path {
	inv := 1 / (2 * v)
	cost := [2]float64{0, 0}
	cost[1-from] = math.Inf(1)
	for i := range r.n {
		var came uint8
		var next [2]float64
		for s := range 2 {
			stay, turn := cost[s], cost[1-s]+r.turnCost
			if turn < stay {
				stay = turn
				came |= 1 << s
			}
			e := r.residual(lv[s], i)
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
	return r.read(lv, from)
}

// read returns the path that stands in r.back.
func (r *refiner) read(lv [2]complex128, from int) path {
	p := path{first: -1, last: -1}
	prev := from
	for i := range r.n {
		s := int(r.back[i])
		e := r.residual(lv[s], i)
		p.left += r.wt[i] * e * e
		if s != prev {
			p.turns++
			if s != from {
				if p.first < 0 {
					p.first = i
				}
				p.last = i
				p.entries++
				if p.entries > 1 && r.n-i < int(freshTime*float64(r.cfg.SampleRate)) {
					p.fresh++
				}
			}
		}
		prev = s
	}
	return p
}

// stretch returns the frame after the stretch of one state that begins at frame i.
func (r *refiner) stretch(i int) int {
	j := i
	for j < r.n && r.back[j] == r.back[i] {
		j++
	}
	return j
}

// dropSpikes takes excursions out of the path that come before the change proper and are short and apart from it, where they do not
// fit the other state as closely as contacts do, or are the only one and far away; v is sigma^2.
func (r *refiner) dropSpikes(p path, lv [2]complex128, from int, v float64) path {
	for p.turns >= 3 {
		end := r.stretch(p.first)
		next := r.stretch(end)
		if float64(end-p.first) > spikeTime*float64(r.cfg.SampleRate) || next-end < spikeApart*(end-p.first) {
			break
		}
		alone := p.turns == 3 && float64(next-end) > spikeAlone*float64(r.cfg.SampleRate)
		if !alone && r.misfit(lv, p.first, v) < closeMisfit {
			break
		}
		for i := p.first; i < end; i++ {
			r.back[i] = uint8(from)
		}
		p = r.read(lv, from)
	}
	return p
}

// turnSpread returns the posterior of the change at frame k of the path, over the frames between the changes before and after it; v is
// sigma^2.
func (r *refiner) turnSpread(lv [2]complex128, k int, v float64) (p posterior) {
	p.add(0, 0)
	s := int(r.back[k])
	for _, dir := range []int{-1, 1} {
		cost := 0.0
		for d := 1; cost < unlikely; d++ {
			i := k + dir*d
			changed := i // the frame whose state a change at i turns
			if dir > 0 {
				changed = i - 1
			}
			if i < 1 || i >= r.n || (dir > 0) != (int(r.back[changed]) == s) {
				break
			}
			ea, eb := r.residual(lv[1-s], changed), r.residual(lv[s], changed)
			cost += float64(dir) * r.wt[changed] * (ea*ea - eb*eb) / (2 * v)
			p.add(dir*d, max(0, cost))
		}
	}
	return p
}

// misfit returns the mean square by which the stretch of one state that begins at frame i lies off its tone, up to 1 ms of it, less what
// noise makes at most, over the mean square of the step between the levels; v is sigma^2.
func (r *refiner) misfit(lv [2]complex128, i int, v float64) float64 {
	s, reach := r.back[i], max(4, r.cfg.SampleRate/1000)
	var sum, power, n float64
	for j := i; j < min(r.n, i+reach) && r.back[j] == s; j++ {
		e, d := r.residual(lv[s], j), r.residual(lv[0], j)-r.residual(lv[1], j)
		sum += r.wt[j] * e * e
		power += r.wt[j] * d * d
		n += r.wt[j]
	}
	if power == 0 {
		return 0
	}
	return max(0, sum-v*(n+3*math.Sqrt(2*n))) / power
}

// spike tells that the path goes back to the state in which it began, and that its excursions make one or two short bursts, far apart.
func (r *refiner) spike(p path) bool {
	if p.turns%2 == 1 {
		return false
	}
	short, apart := spikeTime*float64(r.cfg.SampleRate), spikeAlone*float64(r.cfg.SampleRate)
	bursts, begin, end := 1, p.first, p.first
	for i := p.first; i < r.n; i = r.stretch(i) {
		if r.back[i] != r.back[p.first] {
			continue
		}
		if float64(i-end) > apart {
			bursts, begin = bursts+1, i
		}
		if end = r.stretch(i); float64(end-begin) > short {
			return false
		}
	}
	return bursts <= 2
}

// turnedPiece tells that the excursion of the path, which came back within the window, is the tone of level a at another phase: a buffer
// was repeated. Where the phase turns by a good part of a circle the sound is nearer to silence than to the level, and the path
// goes to and fro.
func (r *refiner) turnedPiece(p path, a complex128) bool {
	if p.turns%2 == 1 {
		return false
	}
	end := r.n
	for end > p.first && r.back[end-1] == r.back[0] {
		end--
	}
	piece := r.fit(p.first, end)
	return alike(a, piece) && r.left(p.first, end) < p.left/2
}

// residual returns the sample of frame i less the tone at level a.
func (r *refiner) residual(a complex128, i int) float64 {
	return r.x[i] - (real(a)*r.c[i] - imag(a)*r.s[i])
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
		if a, ok := solve(xc[s], xs[s], cc[s], cs[s], w[s]); ok && w[s] >= 24 {
			lv[s] = a
		}
	}
	return lv
}

func mag2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
