package detect

import (
	"math"
	"math/cmplx"
)

// refiner places an edge to the sample: by the maximum-likelihood change point of a single step, or, where one step does
// not explain the sound (bounce), by the best sequence of the two states.
type refiner struct {
	cfg            Config
	x, c, s, wt    []float64 // samples of the window, the tone's cos and sin, and 0 for samples that do not count
	back           []uint8   // of the sequence search
	turnCost       float64   // in it
	score          []float64 // explained energy of a step at each frame
	xc, xs, cc, cs []float64 // running sums of x c, x s, c c, c s; s s follows from the weight
	w1, x2         []float64 // running sums of the weight and of x x
	lo             int64
	n              int
}

type placed struct {
	frame         int64
	frac          float64 // added to it, 0 up to 1
	u             float64 // standard uncertainty [frames]
	half, halfU   float64 // 50 % instant of a band-limited edge, and its standard uncertainty [frames]
	before, after complex128
	step          [2]float64 // magnitudes within nearTime before and after the edge
	hidden        int        // returns in the window that are not among the changes seen
	clean         bool       // one step explains all the sound of the window, which ends at frame until
	until         int64
	last          int64 // first frame in the new state after the last return in the window
	more          bool  // the level is still under way: more sound is needed
	why           Cause // where there is no step: CauseNoStep, CauseSpike or CausePhase
}

// at moves the frame by shift frames, and takes u for the standard uncertainty.
func (p *placed) at(shift, u float64) {
	whole := math.Floor(shift)
	p.frame, p.frac, p.u = p.frame+int64(whole), shift-whole, u
	p.last = max(p.last, p.frame)
}

func newRefiner(longest int, cfg Config) refiner {
	f := func() []float64 { return make([]float64, longest+1) }
	return refiner{cfg: cfg, x: f(), c: f(), s: f(), wt: f(), score: f(), xc: f(), xs: f(), cc: f(), cs: f(), w1: f(), x2: f(),
		back: make([]uint8, longest+1)}
}

// noStep is the least gain in log-likelihood by which a step must explain the sound better than no step at all.
const noStep = 12.0

// leastStep is how large a step must be at least within wideTime before and after, over the distance of the two levels.
const leastStep = 0.3

// apart2 returns the square of the least distance that the two levels can have.
func (ch change) apart2() float64 {
	if ch.phased {
		return mag2(ch.levels[0] - ch.levels[1])
	}
	d := mag(ch.levels[0]) - mag(ch.levels[1])
	return d * d
}

const (
	// A step whose magnitude goes less than this share of the way to the other level is a jump of the tone's phase, where the
	// magnitudes of the two levels tell them apart.
	jumpShare = 0.4
	// Where they do not, it is one when the magnitude stays and the step ends farther than jumpMiss of the distance of the two
	// levels from the other level.
	jumpMiss  = 0.5
	nearTime  = 0.001 // [s]
	sameLevel = 0.15  // by which magnitudes that are alike differ at most
)

// alike tells that two levels have about the same magnitude.
func alike(a, b complex128) bool { return math.Abs(mag(a)-mag(b)) < sameLevel*mag(a) }

// jumped tells that the step got is no change of the contacts but a jump of the tone's phase: samples were lost or repeated.
func (ch change) jumped(got placed) bool {
	from, to := ch.levels[idx(other(ch.to))], ch.levels[idx(ch.to)]
	a, b := mag(got.before), mag(got.after)
	if dm := mag(to) - mag(from); math.Abs(dm) > 0.3*math.Max(mag(to), mag(from)) {
		// A gain control may bring the level down within the window; a soft edge takes longer than its neighbourhood.
		return (b-a)/dm < jumpShare && (got.step[1]-got.step[0])/dm < jumpShare
	}
	if !ch.phased || from == 0 || !alike(got.before, got.after) {
		return false
	}
	want := got.before * to / from
	return mag(got.after-want) > jumpMiss*mag(want-got.before)
}

// cleanRest is the most energy that a clean step leaves over, in units of the noise.
const cleanRest = 1.5

// place finds the edge e in the sound around it; next are the changes seen after it. It is false where there is no step. Where the level
// is still under way more sound is asked for, once; what slides on in that (a gain control) is no slope, and is left out again.
func (r *refiner) place(d *Detector, e *edge, next []change) (placed, bool) {
	hi := d.ring.end
	if e.waited {
		if len(next) > 0 {
			hi = min(hi, next[0].frame)
		}
		if got, ok := r.within(d, e, next, hi, true); ok {
			return got, true
		}
		hi = min(d.ring.end, e.ch.decided+d.contacts.look)
	}
	return r.within(d, e, next, hi, false)
}

// within finds the edge e in the sound up to frame hi. With onlySlope it is false where there is a step, but no slope.
func (r *refiner) within(d *Detector, e *edge, next []change, hi int64, onlySlope bool) (placed, bool) {
	lo := max(e.ch.frame-int64(lookBack*d.fs), d.ring.from)
	if e.after < e.ch.frame {
		lo = max(lo, e.after)
	}
	r.load(d, lo, hi)
	if r.n < 4 {
		return placed{why: CauseNoStep}, false
	}
	noise2 := math.Max(d.track.noise2, 1e-14)
	floor := math.Max(noise2, mag2(e.ch.levels[0]-e.ch.levels[1])/2/floorSNR)
	if e.ch.phased {
		r.maskSpikes(r.turned(d, e.ch.levels[0]), r.turned(d, e.ch.levels[1]), gateAt*math.Sqrt(floor))
	}
	r.sums()
	k, gain, rest := r.step()
	along := r.alongside(k)
	// Where one step leaves over more than the noise, and wherever a sequence of the two states explains the sound clearly better, it
	// is no clean step.
	clean := rest < cleanRest*noise2*r.weight()
	if !clean || e.ch.phased {
		v := floor
		if v == noise2 && along > 0 {
			v *= (1 + along) / (1 - along) // neighbours that are alike say the same twice
		}
		if got, ok := r.sequence(d, e, k, v, rest, next); ok || got.why != "" {
			return got, ok
		}
	}
	if !clean && len(next) > 0 && next[0].frame < r.lo+int64(r.n) && e.ch.phased {
		// The contacts did not stay, and yet no sequence of the two states explains the sound.
		if float64(next[0].frame-e.ch.frame) <= 2*spikeTime*d.fs {
			return placed{why: CauseSpike}, false
		}
		return placed{why: CauseNoStep}, false
	}
	v := math.Max(noise2, rest/math.Max(1, r.weight()-5))
	if gain < 2*v*noStep {
		return placed{why: CauseNoStep}, false
	}
	got := placed{frame: r.lo + int64(k), last: r.lo + int64(k), clean: clean, until: r.lo + int64(r.n)}
	likely := r.spread(k, v)
	got.at(likely.mean(math.Abs(along) < mostAlike))
	got.before, got.after = r.fit(0, k), r.fit(k, r.n)
	near := int(nearTime * d.fs)
	got.step = [2]float64{mag(r.fit(max(k-near, 0), k)), mag(r.fit(k, min(k+near, r.n)))}
	near = int(wideTime * d.fs)
	if step := r.fit(k, min(k+near, r.n)) - r.fit(max(k-near, 0), k); mag2(step) < leastStep*leastStep*e.ch.apart2() {
		return placed{why: CauseNoStep}, false // a level that slides: contacts do not
	}
	remains, chance := r.leftOver(k, got.before, got.after, noise2)
	if remains > smear+chance {
		got.u = math.Sqrt(got.u*got.u + 0.25 + softDoubt*softDoubt*remains*remains)
	}
	slope := false
	if remains > softness+chance {
		if !e.waited && len(next) == 0 {
			return placed{more: true}, false
		}
		if t, u, ok := r.soft(k, noise2, mag2(got.after-got.before)/2); ok {
			slope = true
			d.sum.shape.soft++
			got.frame = r.lo + int64(math.Ceil(t-softGuard))
			got.frac, got.last, got.u = 0, got.frame, math.Sqrt(u*u+0.25)
		}
	}
	if onlySlope && !slope {
		return placed{}, false
	}
	var over float64
	got.half, got.halfU, over = r.instant(k, v)
	d.sum.shape.learn(r, k, got.before, got.after, got.half+float64(r.lo), over, noise2)
	got.half += float64(r.lo)
	return got, true
}

// load takes the frames lo..hi-1. The tone's phase counts from frame lo.
func (r *refiner) load(d *Detector, lo, hi int64) {
	r.lo = lo
	r.n = int(min(hi-lo, int64(len(r.x)-1)))
	sw, cw := math.Sincos(d.track.w)
	c, s := 1.0, 0.0
	for i := range r.n {
		if i&63 == 0 {
			s, c = math.Sincos(d.track.w * float64(i))
		}
		x, wt := d.ring.at(lo+int64(i)), 1.0
		if x == 0 && !r.cfg.ZeroIsOpen {
			wt = 0
		}
		r.x[i], r.c[i], r.s[i], r.wt[i] = x, c, s, wt
		c, s = c*cw-s*sw, s*cw+c*sw
	}
}

// maskSpikes leaves out the samples that lie farther than gate outside what the two levels and all between them allow. Where
// these are more than a twentieth, the levels are wrong, not the samples: nothing is left out.
func (r *refiner) maskSpikes(a, b complex128, gate float64) {
	count := 0
	for pass := range 2 {
		for i := range r.n {
			ra, rb := real(a)*r.c[i]-imag(a)*r.s[i], real(b)*r.c[i]-imag(b)*r.s[i]
			if x := r.x[i]; x > math.Max(ra, rb)+gate || x < math.Min(ra, rb)-gate {
				if pass == 0 {
					count++
				} else {
					r.wt[i] = 0
				}
			}
		}
		if count == 0 || 20*count > r.n {
			return
		}
	}
}

// sums prepares the running sums.
func (r *refiner) sums() {
	var xc, xs, cc, cs, w, x2 float64
	for i := range r.n {
		r.xc[i], r.xs[i], r.cc[i], r.cs[i], r.w1[i], r.x2[i] = xc, xs, cc, cs, w, x2
		x, c, s, wt := r.x[i]*r.wt[i], r.c[i], r.s[i], r.wt[i]
		xc += x * c
		xs += x * s
		cc += wt * c * c
		cs += wt * c * s
		w += wt
		x2 += x * r.x[i]
	}
	i := r.n
	r.xc[i], r.xs[i], r.cc[i], r.cs[i], r.w1[i], r.x2[i] = xc, xs, cc, cs, w, x2
}

func (r *refiner) weight() float64 { return r.w1[r.n] }

// solve returns the level a that fits samples with the sums xc = sum x c, xs = sum x s, cc = sum c c, cs = sum c s over w samples
// best (normal equations; sum s s is w - cc). It is false where the samples are too few to tell.
func solve(xc, xs, cc, cs, w float64) (complex128, bool) {
	ss := w - cc
	det := cc*ss - cs*cs
	if w < 3 || det < 1e-3*w*w {
		return 0, false
	}
	return complex((xc*ss-xs*cs)/det, -(xs*cc-xc*cs)/det), true
}

// fit returns the level a in frames i..j-1, phase counted from the window's first frame; 0 where they are too few.
func (r *refiner) fit(i, j int) complex128 {
	a, _ := solve(r.xc[j]-r.xc[i], r.xs[j]-r.xs[i], r.cc[j]-r.cc[i], r.cs[j]-r.cs[i], r.w1[j]-r.w1[i])
	return a
}

// explained returns the energy in frames i..j-1 that a tone of any level explains: the projection of x on (c, s).
func (r *refiner) explained(i, j int) float64 {
	a := r.fit(i, j)
	return real(a)*(r.xc[j]-r.xc[i]) - imag(a)*(r.xs[j]-r.xs[i])
}

// left returns the energy in frames i..j-1 that no tone explains.
func (r *refiner) left(i, j int) float64 { return max(0, r.x2[j]-r.x2[i]-r.explained(i, j)) }

// step returns the frame, counted from the window's first, before which one level and from which on another explain the
// sound best, the energy gained over no step, and the energy left over.
func (r *refiner) step() (k int, gain, rest float64) {
	best := -1.0
	for i := 0; i <= r.n; i++ {
		r.score[i] = r.explained(0, i) + r.explained(i, r.n)
		if i > 1 && i < r.n-1 && r.score[i] > best {
			best, k = r.score[i], i
		}
	}
	return k, best - r.explained(0, r.n), math.Max(0, r.x2[r.n]-best)
}

// posterior adds up what is known of the frame of a change: the weights exp(-cost) of the frames around the likeliest one, their mean
// and their spread.
type posterior struct{ w, m1, m2 float64 }

// add takes the frame d frames after the likeliest one; cost is by how much less its log-likelihood is.
func (p *posterior) add(d int, cost float64) {
	w, x := math.Exp(-cost), float64(d)
	p.w += w
	p.m1 += w * x
	p.m2 += w * x * x
}

// mean returns the mean [frames after the likeliest one], which has the least mean square error of all estimates, and its standard
// uncertainty, that of a whole frame included. Where hardly any other frame comes into question the likeliest one is the answer, and
// where the noise is not white: then the weights say more than is known.
func (p *posterior) mean(white bool) (shift, u float64) {
	if white && p.w > sureWeight {
		shift = p.m1 / p.w
	}
	return shift, math.Sqrt(p.m2/p.w - shift*(2*p.m1/p.w-shift) + 1.0/12)
}

const (
	sureWeight = 1 / 0.95 // of all frames together, the likeliest one being 1
	mostAlike  = 0.25     // correlation of neighbours in noise that passes for white; 0.03 is chance
	unlikely   = 40.0     // log-likelihood less than the likeliest frame's that counts no more
)

// alongside returns the correlation of neighbours in what the step at k leaves over: 0 for white noise. Distortion, hum and a level that
// slides have more.
func (r *refiner) alongside(k int) float64 {
	var power, along, last float64
	lv := r.fit(0, k)
	for i := range r.n {
		if i == k {
			lv = r.fit(k, r.n)
		}
		e := r.wt[i] * r.residual(lv, i)
		power += e * e
		along += e * last
		last = e
	}
	if power == 0 {
		return 0
	}
	return along / power
}

// spread returns the posterior of a step at k: weights exp(score/2v).
func (r *refiner) spread(k int, v float64) (p posterior) {
	for i := 2; i < r.n-1; i++ {
		if cost := (r.score[k] - r.score[i]) / (2 * v); cost < unlikely {
			p.add(i-k, cost)
		}
	}
	return p
}

// turned brings a level from the detector's phase reference to the window's.
func (r *refiner) turned(d *Detector, a complex128) complex128 {
	return a * cmplx.Rect(1, r.angle(d))
}

// unturned brings a level from the window's phase reference to the detector's.
func (r *refiner) unturned(d *Detector, a complex128) complex128 {
	return a * cmplx.Rect(1, -r.angle(d))
}

// angle returns the tone's phase at the window's first frame. The tracker's phase belongs to the frame after the newest hop,
// which is where the window ends or a little before.
func (r *refiner) angle(d *Detector) float64 {
	return d.track.phase - d.track.w*float64(d.n-int64(d.acc.n)-r.lo)
}
