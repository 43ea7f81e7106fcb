package detect

import "math"

// slope is the shape of a slow transition: the share of the step that is done at u transition times after its 50 % instant.
// It is 0 up to from and 1, or nearly so, from upto on.
type slope struct {
	done       func(u float64) float64
	from, upto float64
}

// slopes are the transitions that soft edges are fitted by. The transition time is the whole length of the linear and the
// raised-cosine one (shaped keying), and the time from the begin to 50 %, RC ln 2, of the one through an RC low-pass. Codecs smear an
// edge to both sides, which the raised cosine resembles.
var slopes = []slope{
	{func(u float64) float64 { return u + 0.5 }, -0.5, 0.5},
	{func(u float64) float64 { return 0.5 * (1 + math.Sin(math.Pi*u)) }, -0.5, 0.5},
	{func(u float64) float64 { return 1 - math.Exp2(-u-1) }, -1, 10},
}

const (
	shortestSlope = 4.0   // frames
	longestSlope  = 0.012 // [s]
	slopeFinest   = 0.01  // frames to which the instant is searched for
	slopeSides    = 24    // frames that each level needs beside the transition
	// A soft edge's instant is as uncertain as this share of the samples of residual that its best slope leaves over (tried on codecs).
	softDoubt = 0.15
	// A slope is believed where it leaves over less than this share of what a sudden step does beyond the noise; else the edge was
	// sudden once, and a codec has smeared it.
	softShare = 0.5
	// The first frame in the new state is the first one at or past the 50 % instant, which is known to a quarter of a frame at best.
	softGuard = 0.25
)

// soft places a slow transition near frame k of the window: least squares over the instant, the transition time and the kind of
// slope, the levels on both sides being those that fit the sound before and after it. v is sigma^2 and power the mean square of the
// step. It returns the 50 % instant in frames from the window's begin, and its standard uncertainty; false where no slope explains the
// sound clearly better than the sudden step at k.
func (r *refiner) soft(k int, v, power float64) (t, u float64, ok bool) {
	best := math.Inf(1)
	var by slope
	var length float64
	for _, sl := range slopes {
		sse := func(t, length float64) float64 { return r.slopeRest(sl, t, length) }
		at, long, least := float64(k), 0.0, math.Inf(1)
		for l := shortestSlope; l < longestSlope*float64(r.cfg.SampleRate); l *= 2 {
			for o := -0.75; o <= 0.75; o += 0.125 {
				if e := sse(float64(k)+o*l, l); e < least {
					at, long, least = float64(k)+o*l, l, e
				}
			}
		}
		if long == 0 {
			continue
		}
		at, long, least = descend(sse, at, long, least)
		if least < best {
			best, t, length, by = least, at, long, sl
		}
	}
	noise := v * r.weight()
	if best-noise > softShare*(r.left(0, k)+r.left(k, r.n)-noise) {
		return 0, 0, false
	}
	// The curvature of the squared residual over both unknowns gives the uncertainty of the instant: u^2 = 2 v (H^-1)tt.
	sse := func(dt, dl float64) float64 { return r.slopeRest(by, t+dt, length+dl) }
	h := max(0.05, length/50)
	tt := (sse(h, 0) - 2*best + sse(-h, 0)) / (h * h)
	ll := (sse(0, h) - 2*best + sse(0, -h)) / (h * h)
	tl := (sse(h, h) - sse(h, -h) - sse(-h, h) + sse(-h, -h)) / (4 * h * h)
	if ll > 0 {
		tt -= tl * tl / ll
	}
	over := max(0, best-noise) / power
	u2 := softDoubt * softDoubt * over * over
	if tt > 0 {
		u2 += 2 * v / tt
	}
	return t, math.Sqrt(u2), true
}

// descend looks for the least of f around (t, l), where it is e, by steps along each unknown that grow finer.
func descend(f func(t, l float64) float64, t, l, e float64) (bestT, bestL, least float64) {
	for step := l / 8; step > slopeFinest; {
		moved := false
		for _, d := range [][2]float64{{step, 0}, {-step, 0}, {0, step}, {0, -step}} {
			if got := f(t+d[0], l+d[1]); got < e {
				t, l, e, moved = t+d[0], l+d[1], got, true
			}
		}
		if !moved {
			step /= 2
		}
	}
	return t, l, e
}

// slopeRest returns the energy that the slope with its 50 % instant at t and so many frames of transition time leaves over; infinite
// where it does not fit into the window.
func (r *refiner) slopeRest(sl slope, t, length float64) float64 {
	lo, hi := int(math.Ceil(t+sl.from*length)), int(math.Ceil(t+sl.upto*length))
	if length < shortestSlope/2 || lo < slopeSides || lo > r.n {
		return math.Inf(1)
	}
	if hi > r.n-slopeSides {
		if sl.upto < 1 || t+4*length > float64(r.n-slopeSides) {
			return math.Inf(1)
		}
		hi = r.n - slopeSides // what is left of an RC step after four transition times is no more than a sixteenth
	}
	a, b := r.fit(0, lo), r.fit(hi, r.n)
	sum := 0.0
	for i := lo; i < hi; i++ {
		e := r.residual(a+complex(sl.done((float64(i)-t)/length), 0)*(b-a), i)
		sum += r.wt[i] * e * e
	}
	return sum + r.left(0, lo) + r.left(hi, r.n)
}
