package detect

import "math"

// pairPath is the best sequence of the joint states of two sets of points (Viterbi, as in sequence.go), sample by sample. Joint state s has
// bit 0 set where the first set is open, bit 1 where the second is.
type pairPath struct {
	cost    [4]float64
	now     int              // likeliest state
	calm    bool             // the other states are so unlikely that each sequence that ends in one has come from now just before; cost is not kept
	inv     float64          // 1 / 2 sigma^2
	doubt   float64          // the same of what is more than noise and than what the levels are trusted to
	back    []uint8          // two bits for each state: by which bits it differs from the state before; a ring like that of the sound
	state   []uint8          // joint states of the best sequence
	from    int64            // first frame that was weighed, -1: none
	misfit  float64          // by how much the best state of late leaves over more than noise does
	begun   int64            // frame at which that began
	joint   [4][2]complex128 // levels of both tones in each joint state; of a level that is not known that of the other state
	coupled bool             // the level of a tone depends on the state of the other set
	still   int              // hops for which the joint state has stood
	stood   int              // which that is, below 0: none yet
	came    int              // which was before
}

const (
	pairTurnCost = 13.0 // of one change of one set: an excursion costs two, which is triggerAt
	// pairMost is the most that a sample can say: spikes fit no state.
	pairMost = gateAt * gateAt / 2
	// The misfit adds up what a sample leaves over beyond misfitFree, in nats; noise leaves half a nat. From misfitAt on the frames since
	// it was 0 are held back.
	misfitFree = 1.5
	misfitAt   = 12.0
	misfitMost = 150.0
)

func (t *pairPath) restart() {
	t.cost, t.now, t.calm, t.misfit, t.from, t.still, t.stood = [4]float64{}, 0, false, 0, -1, 0, -1
}

// costOf returns what it costs to come from state a to state b at once.
func costOf(a, b int) float64 {
	differ := a ^ b
	return pairTurnCost * float64(differ&1+differ>>1)
}

// fromNow holds, for each state, how all four come from it.
var fromNow = func() (t [4]uint8) {
	for now := range t {
		for s := range 4 {
			t[now] |= uint8(s^now) << (2 * s)
		}
	}
	return t
}()

// weigh takes the sample x of frame n, and returns what the best state leaves over; ok is false where it is no sound.
func (p *Pair) weigh(n int64, x float64, sound bool) (e float64, ok bool) {
	t := &p.path
	a, b := &p.set[0], &p.set[1]
	if t.from < 0 {
		t.from = n
	}
	za, zb := a.now, b.now
	a.now, b.now = za*a.turn, zb*b.turn
	at := n & p.ring.mask
	if !sound {
		t.back[at] = 0
		if t.calm {
			t.back[at] = fromNow[t.now]
		}
		return 0, false
	}
	var fit float64
	if t.calm {
		k := t.now & 3
		la, lb := t.joint[k][0], t.joint[k][1]
		e = x - (real(la)*real(za) - imag(la)*imag(za)) - (real(lb)*real(zb) - imag(lb)*imag(zb))
		da, db := t.joint[k^1][0]-la, t.joint[k^2][1]-lb
		sa, sb := real(da)*real(za)-imag(da)*imag(za), real(db)*real(zb)-imag(db)*imag(zb)
		sc := sa + sb
		if t.coupled {
			da, db = t.joint[k^2][0]-la, t.joint[k^1][1]-lb
			sa, sb = sa+real(db)*real(zb)-imag(db)*imag(zb), sb+real(da)*real(za)-imag(da)*imag(za)
			da, db = t.joint[k^3][0]-la, t.joint[k^3][1]-lb
			sc = real(da)*real(za) - imag(da)*imag(za) + real(db)*real(zb) - imag(db)*imag(zb)
		}
		if sa*(e-sa/2) <= 0 && sb*(e-sb/2) <= 0 && sc*(e-sc/2) <= 0 {
			t.back[at] = fromNow[k]
			fit = e * e
		} else {
			for s := range t.cost {
				t.cost[s] = math.Inf(1) // to come from now is cheaper
			}
			t.cost[k], t.calm = 0, false
			e, fit = p.weighAll(x, za, zb, at)
		}
	} else {
		e, fit = p.weighAll(x, za, zb, at)
	}
	if a.own || b.own || t.still <= coupleHops {
		a.sum += complex(e*real(za), -e*imag(za))
		b.sum += complex(e*real(zb), -e*imag(zb))
	}
	fit = min(fit*t.doubt, pairMost)
	if t.misfit == 0 {
		if p.held >= 0 {
			p.held = -1
		}
		if fit > misfitFree {
			t.begun = n
		}
	}
	if t.misfit = max(0, min(misfitMost, t.misfit+fit-misfitFree)); t.misfit > misfitAt && p.held < 0 {
		p.held = t.begun
	}
	return e, true
}

// weighAll weighs the sample x, at index at of the rings, for all four states. It returns what the best state leaves over, and the square of what
// the state leaves over that the sample fits best.
func (p *Pair) weighAll(x float64, za, zb complex128, at int64) (e, fit float64) {
	t := &p.path
	a, b := &p.set[0], &p.set[1]
	cost := t.cost
	var back uint8
	var left [4]float64
	fit = math.Inf(1)
	for s := range cost {
		if !a.known[s&1] || !b.known[s>>1] {
			t.cost[s] = math.Inf(1)
			continue
		}
		la, lb := t.joint[s][0], t.joint[s][1]
		left[s] = x - (real(la)*real(za) - imag(la)*imag(za)) - (real(lb)*real(zb) - imag(lb)*imag(zb))
		e2 := left[s] * left[s]
		q := min(e2*t.inv, pairMost)
		fit = min(fit, e2)
		least, by := cost[s], uint8(0)
		if c := cost[s^1] + pairTurnCost; c < least {
			least, by = c, 1
		}
		if c := cost[s^2] + pairTurnCost; c < least {
			least, by = c, 2
		}
		if c := cost[s^3] + 2*pairTurnCost; c < least {
			least, by = c, 3
		}
		back |= by << (2 * s)
		t.cost[s] = least + q
	}
	t.back[at] = back
	t.now = t.best()
	t.calm = true
	for s, c := range t.cost {
		t.calm = t.calm && c >= t.cost[t.now]+costOf(s, t.now)
	}
	return left[t.now], fit
}

// sure tells that no other state comes near the likeliest one.
func (t *pairPath) sure() bool {
	if t.calm {
		return true
	}
	for s, c := range t.cost {
		if c < t.cost[t.now]+costOf(s, t.now)/2 {
			return false
		}
	}
	return true
}

// best returns the likeliest state at the newest frame.
func (t *pairPath) best() int {
	best := 0
	for s, c := range t.cost {
		if c < t.cost[best] {
			best = s
		}
	}
	return best
}

// clear returns, for each set, the first frame at which the sequences that are still possible disagree about its state, and writes
// the best sequence down.
func (p *Pair) clear() (clear [2]int64) {
	t := &p.path
	clear = [2]int64{p.n, p.n}
	least := min(p.set[0].sent, p.set[1].sent)
	if t.from < 0 {
		return [2]int64{least, least}
	}
	least = max(least, t.from)
	best := uint8(t.now)
	var at [4]uint8
	for s := range at {
		at[s] = uint8(s)
		if math.IsInf(t.cost[s], 1) {
			at[s] = best
		}
	}
	// Where a level is not known yet, a change of the other set may look like the one to it for some frames.
	unsure := p.set[0].known != [2]bool{true, true} || p.set[1].known != [2]bool{true, true}
	merged := false
	for n := p.n - 1; n >= least; n-- {
		i := n & p.ring.mask
		t.state[i] = best
		back := t.back[i]
		if !merged {
			differ := (at[0] | at[1] | at[2] | at[3]) ^ (at[0] & at[1] & at[2] & at[3])
			if merged = differ == 0; differ&1 != 0 {
				clear[0] = n
			}
			if differ&2 != 0 {
				clear[1] = n
			}
			for s := range at {
				at[s] ^= back >> (2 * at[s]) & 3
			}
		}
		by := back >> (2 * best) & 3
		if by != 0 && unsure && (p.held >= 0 || p.n-n < int64(p.fit.length)) {
			clear = [2]int64{min(clear[0], n), min(clear[1], n)}
		}
		for k := range p.set {
			switch {
			case by == 0 || !p.returns(k, int(best), int(by)):
			case p.held >= 0 || p.n-n < int64(p.fit.length):
				clear[k] = min(clear[k], n)
			default:
				p.set[k].firm = true
			}
		}
		best ^= by
	}
	return clear
}

// again weighs the frames that were held back once more, with levels that have changed since.
func (p *Pair) again() {
	t := &p.path
	from := min(p.set[0].sent, p.set[1].sent)
	from = max(from, p.ring.from)
	was := uint8(4)
	if t.from >= 0 && from > t.from {
		was = t.state[(from-1)&p.ring.mask]
	}
	t.calm = false
	for s := range t.cost {
		if t.cost[s] = 0; was < 4 {
			t.cost[s] = costOf(s, int(was))
		}
	}
	t.misfit, t.from, p.held = 0, from, -1
	p.prepare(from)
	for n := from; n < p.n; n++ {
		x := p.ring.at(n)
		p.weigh(n, x, x == x && (x != 0 || p.cfg[0].ZeroIsOpen))
	}
}
