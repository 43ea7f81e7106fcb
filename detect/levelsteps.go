package detect

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"
)

// levelSteps are the two states of a tone that hardly differ in magnitude, as far as its steps tell.
//
// Contacts bridged by a condenser or a coil turn the tone rather than weaken it. Between stretches in which the level y, turned back by the
// tone's own advance, stands still, an opening multiplies it by r = aO/aC and a closing by 1/r:
//
//	L = log(after/before) = drift +- log r
//
// Gain and frequency that drift go into both alike and so cancel in half the difference of the two means. Lost samples turn the tone one way
// only, or each time by another angle; voices and notes have no two levels. So the steps must be of two opposite kinds, as many of one as of
// the other, taking turns.
type levelSteps struct {
	ratio   complex128 // level of the quieter state over that of the louder
	high    float64    // amplitude of the louder state, before correction for the bin
	n       int        // steps that fit; 0: no such states
	turned  int        // steps of whatever kind that turn the tone so far that a block with one in it is weaker
	scatter float64    // of L about its two means: standard deviation in each axis
	sure    float64    // standard uncertainty of the log of |ratio|
}

const (
	stepLeast   = 0.015 // |L| that is looked at: a level and a frequency that wander make as much
	stepSigmas  = 4.0   // and so many standard deviations of the noise: exp(-16), 1e-7 for each place looked at
	stepWithin  = 0.3   // of |log r| by which steps may be off
	stepShare   = 0.7   // of the large steps must fit
	stepTurns   = 0.7   // of those that fit must be followed by one of the other kind
	stepDips    = 0.5   // [rad] of a turn in the middle of a block that takes 0.3 dB or more off its level, cos(turn/2)
	stepTries   = 64    // largest steps that are tried as log r
	stepStill   = 0.2   // of a step by which a stretch beside it may change in itself: a slide is no step
	stepAlike   = 0.7   // of the louder level: both sides of a step that leaves it are silence, not a state
	stepSure    = 5.0   // standard deviations by which a distance must be sure
	whichLeast  = 0.05  // [dB] by which one state must be louder: a converter that is not quite linear makes less of a turn
	minDistance = 0.05  // least |aC-aO|, of the larger: 0.45 dB or 3 degrees
)

// distance returns |1 - ratio|: the distance of the states in the I/Q plane over the larger level.
func (l levelSteps) distance() float64 { return cmplx.Abs(1 - l.ratio) }

// contrast returns by how much the louder state is louder [dB].
func (l levelSteps) contrast() float64 { return -20 * math.Log10(cmplx.Abs(l.ratio)) }

// reason tells why the states will not do; nil: they will. sigma is the noise, over the louder level, that a level measured over a detector's
// window has in each axis.
//
// The distance of the states must be well above the noise of that window, by which the detector decides where a level belongs, and above
// what gain and frequency make of it by drifting, which shows in the scatter of the steps. The louder state is louder when
// that is no chance.
func (l levelSteps) reason(sigma float64) error {
	least := math.Max(minDistance, stepSure*math.Max(sigma, l.scatter))
	figures := fmt.Sprintf("%.2f dB and %.1f degrees apart, %.3f of the level in the I/Q plane", l.contrast(), math.Abs(cmplx.Phase(l.ratio))*180/math.Pi, l.distance())
	switch {
	case l.distance() < least:
		return fmt.Errorf("%w: %s, want %.3f", ErrContrast, figures, least)
	case l.contrast() < whichLeast || -math.Log(cmplx.Abs(l.ratio)) < stepSure*l.sure:
		return fmt.Errorf("%w: %s", ErrWhich, figures)
	}
	return nil
}

// step is a step of the level.
type step struct {
	log     complex128 // L
	before  float64    // magnitude of the level before it
	size    float64    // |L|
	forward bool       // of the kind log r, not -log r
	fits    bool
}

// readSteps looks in the trace of a tone of f cycles a sample, in blocks of n samples, for steps between two states; high is about the
// level of the louder one.
func readSteps(tr trace, f float64, n int, high float64) (none levelSteps) {
	y := make([]complex128, len(tr.z))
	for i, z := range tr.z {
		y[i] = complex128(z) * cmplx.Rect(1, -2*math.Pi*math.Mod(f*float64(n)*float64(tr.at[i]), 1))
	}
	sigma := traceNoise(tr, y) / high
	for _, width := range []int{2, 1} { // blocks beside a step: one only where states are short
		steps := findSteps(tr, y, width, high, sigma)
		if got := twoKinds(steps, sigma/math.Sqrt(float64(width))); got.n > 0 {
			return got
		}
		turned := 0
		for _, s := range steps {
			if math.Abs(imag(s.log)) > stepDips {
				turned++
			}
		}
		none.turned = max(none.turned, turned)
	}
	return none
}

// traceNoise returns the standard deviation of the noise in y: |y[i+1] - 2 y[i] + y[i-1]|^2 has a mean of 6 times its square and, where it is
// white, a median of 6 ln 2 times.
func traceNoise(tr trace, y []complex128) float64 {
	var d []float64
	for i := 1; i+1 < len(y); i++ {
		if tr.at[i+1] == tr.at[i-1]+2 {
			d = append(d, mag2(y[i+1]-2*y[i]+y[i-1]))
		}
	}
	return math.Sqrt(median(d) / (6 * math.Ln2))
}

// findSteps returns the steps of y between stretches of so many blocks, with one block between that may hold the edge. sigma is the noise in
// a block over the level high.
func findSteps(tr trace, y []complex128, width int, high, sigma float64) (out []step) {
	gap := width + 1
	type place struct {
		step
		at    int
		still bool
	}
	var places []place
	for i := 0; i+2*width <= len(y); i++ {
		j := i + gap
		if i+width < len(y) && tr.at[i+width] != tr.at[i]+int32(width) {
			j = i + width // the next look: sound was passed over between
		}
		if j+width > len(y) || tr.at[i+width-1] != tr.at[i]+int32(width-1) || tr.at[j+width-1] != tr.at[j]+int32(width-1) {
			continue
		}
		a, b, inner := y[i], y[j], 0.0
		if width == 2 {
			inner = math.Max(cmplx.Abs(y[i+1]-a), cmplx.Abs(y[j+1]-b)) / high
			a, b = (a+y[i+1])/2, (b+y[j+1])/2
		}
		if cmplx.Abs(a) < stepAlike*high || cmplx.Abs(b) < stepAlike*high {
			continue
		}
		l := cmplx.Log(b / a)
		places = append(places, place{step: step{log: l, before: cmplx.Abs(a), size: cmplx.Abs(l)}, at: i,
			still: inner < stepStill*cmplx.Abs(l)+stepSigmas*math.Sqrt2*sigma})
	}
	// A frequency that is a little off turns all places alike: most of them hold no step.
	var turn, size []float64
	for _, p := range places {
		turn, size = append(turn, imag(p.log)), append(size, real(p.log))
	}
	drift := complex(median(size), median(turn))
	least := math.Max(stepLeast, stepSigmas*sigma*math.Sqrt(2/float64(width)))
	for i := range places {
		l := places[i].log - drift
		l = complex(real(l), math.Remainder(imag(l), 2*math.Pi))
		places[i].log, places[i].size = l, cmplx.Abs(l)
	}
	for i, p := range places {
		if !p.still || p.size < least {
			continue
		}
		top := true
		for j := max(0, i-gap); j < min(len(places), i+gap+1); j++ {
			q := places[j]
			if abs(q.at-p.at) <= gap && q.still && (q.size > p.size || (q.size == p.size && j < i)) {
				top = false
			}
		}
		if top {
			out = append(out, p.step)
		}
	}
	return out
}

// twoKinds tells which two opposite kinds most steps are of; sigma is the noise in a level beside a step, over the level.
func twoKinds(steps []step, sigma float64) levelSteps {
	if len(steps) < 2 {
		return levelSteps{}
	}
	order := make([]int, len(steps))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return steps[order[i]].size > steps[order[j]].size })
	var best complex128
	most := 0
	for _, i := range order[:min(stepTries, len(order))] {
		if n := balanced(steps, steps[i].log); n > most {
			best, most = steps[i].log, n
		}
	}
	if most == 0 {
		return levelSteps{}
	}
	var drift complex128
	for range 3 {
		best, drift = halfDifference(steps, best)
	}
	return judgeSteps(steps, best, drift, sigma)
}

// balanced returns how many steps are near l or how many near -l, whichever are fewer.
func balanced(steps []step, l complex128) int {
	forward, back := 0, 0
	most := stepWithin * cmplx.Abs(l)
	for _, s := range steps {
		switch {
		case cmplx.Abs(s.log-l) < most:
			forward++
		case cmplx.Abs(s.log+l) < most:
			back++
		}
	}
	return min(forward, back)
}

// halfDifference marks the steps that are near l or -l and returns the half difference and the mean of their means.
func halfDifference(steps []step, l complex128) (half, mean complex128) {
	most := stepWithin * cmplx.Abs(l)
	var sum [2]complex128
	var n [2]float64
	for i := range steps {
		s := &steps[i]
		s.forward = cmplx.Abs(s.log-l) < cmplx.Abs(s.log+l)
		kind, sign := 0, complex(1, 0)
		if !s.forward {
			kind, sign = 1, -1
		}
		if s.fits = cmplx.Abs(s.log-sign*l) < most; s.fits {
			sum[kind] += s.log
			n[kind]++
		}
	}
	if n[0] == 0 || n[1] == 0 {
		return l, 0
	}
	a, b := sum[0]/complex(n[0], 0), sum[1]/complex(n[1], 0)
	return (a - b) / 2, (a + b) / 2
}

// judgeSteps asks whether the steps are what contacts do, with the half difference l and the mean drift of the two kinds.
func judgeSteps(steps []step, l, drift complex128, sigma float64) levelSteps {
	if real(l) > 0 {
		l = -l
		for i := range steps {
			steps[i].forward = !steps[i].forward
		}
	}
	var fit, large, turns, forward int
	var v, loud float64
	var last *step
	for i := range steps {
		s := &steps[i]
		if s.size > (1-stepWithin)*cmplx.Abs(l) {
			large++
		}
		if !s.fits {
			continue
		}
		fit++
		want, before := -l, s.before*math.Exp(-real(l))
		if s.forward {
			forward++
			want, before = l, s.before
		}
		v += mag2(s.log-drift-want) / 2
		loud += before
		if last != nil && last.forward != s.forward {
			turns++
		}
		last = s
	}
	switch {
	case forward == 0 || forward == fit, float64(fit) < stepShare*float64(large), float64(turns) < stepTurns*float64(fit-1):
		return levelSteps{}
	case mag(cmplx.Exp(2*l)-1) < mag(l)/2:
		return levelSteps{} // half a turn: forward and back are the same
	}
	out := levelSteps{ratio: cmplx.Exp(l), high: loud / float64(fit), n: fit, scatter: math.Sqrt(v / float64(fit))}
	out.sure = math.Max(out.scatter, sigma) / math.Sqrt(float64(fit))
	return out
}
