package corpus

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
)

// Step is one lone change of the level of a tone in white noise, of which the frequency is known, and both levels and the instant are not.
type Step struct {
	Rate float64    // [frames/s]
	Tone float64    // [Hz]
	SNR  float64    // of the loud level, in the full band [dB]
	Left complex128 // the quiet level over the loud one
	// Shape is how the level goes from one to the other, and is known too; the instant is real-valued then. Nil: at once, from one frame to
	// the next.
	Shape *Shape
}

// Limit is how far the most likely instant lies from the true one.
type Limit struct {
	RMS float64 // root mean square [us]
	P95 float64 // 95 % are within [us]
	// Doubt is the standard error of RMS, from the scatter of the trials [us]. Few trials with large errors make up much of RMS at high SNR.
	Doubt float64
}

// around is how much sound on either side of the step is looked at [s].
const around = 0.020

// Limit tries a step so many times, 1 or more, each with a phase of its own, and returns how far off the exact maximum-likelihood instant is: that from which
// on one level and before which another explain the sound best by least squares. No unbiased method does better in this noise.
func (s Step) Limit(trials int, seed uint64) Limit {
	rng := rand.New(rand.NewPCG(seed, 5))
	n := int(2 * around * s.Rate)
	t := newTrial(s, n)
	var find finder = newHardFinder(t)
	if s.Shape != nil {
		find = newShapedFinder(t, s)
	}
	off := make([]float64, trials)
	var sum, sum4 float64
	for i := range off {
		at := float64(n / 2)
		if s.Shape != nil {
			at += rng.Float64() - 0.5
		}
		t.make(s, at, rng)
		e := (find.instant() - at) / s.Rate * 1e6
		off[i] = math.Abs(e)
		sum += e * e
		sum4 += e * e * e * e
	}
	slices.Sort(off)
	l := Limit{RMS: math.Sqrt(sum / float64(trials)), P95: off[trials*95/100]}
	if l.RMS > 0 {
		scatter := math.Sqrt(math.Max(0, sum4/float64(trials)-math.Pow(l.RMS, 4)))
		l.Doubt = scatter / math.Sqrt(float64(trials)) / (2 * l.RMS)
	}
	return l
}

// finder places the step in the sound of a trial [frames].
type finder interface{ instant() float64 }

// trial is a stretch of sound x with a step in the middle, the tone's cosine c and sine s in it, and the running sums xc of x c and xs of x s.
type trial struct {
	x, c, s, xc, xs []float64
}

func newTrial(step Step, n int) *trial {
	f := func() []float64 { return make([]float64, n+1) }
	t := &trial{f()[:n], f()[:n], f()[:n], f(), f()}
	for i := range n {
		t.s[i], t.c[i] = math.Sincos(2 * math.Pi * step.Tone * float64(i) / step.Rate)
	}
	return t
}

// make draws a phase and noise of variance 1.
func (t *trial) make(s Step, instant float64, rng *rand.Rand) {
	loud := cmplx.Rect(math.Sqrt2*math.Pow(10, s.SNR/20), 2*math.Pi*rng.Float64())
	quiet := s.Left * loud
	for i := range t.x {
		share := complex128(0)
		switch u := float64(i) - instant; {
		case s.Shape != nil:
			share = s.Shape.at(u)
		case u >= 0:
			share = 1
		}
		a := loud
		if share != 0 {
			a += (quiet - loud) * share
		}
		t.x[i] = real(a)*t.c[i] - imag(a)*t.s[i] + rng.NormFloat64()
		t.xc[i+1] = t.xc[i] + t.x[i]*t.c[i]
		t.xs[i+1] = t.xs[i] + t.x[i]*t.s[i]
	}
}

// fewest is how many frames must be left on either side of a step.
const fewest = 3

// hardFinder looks for a step between one frame and the next. The energy that a tone of any level explains in a stretch is v'Mv, with v the sums
// of x c and x s over it and M the inverse of the matrix of the sums of c c, c s and s s, which is the same in all trials.
type hardFinder struct {
	t             *trial
	before, after []inverse // of the stretches up to, and from, each frame on
}

// inverse is that of the symmetric matrix (cc cs; cs ss).
type inverse struct{ cc, cs, ss float64 }

func invert(cc, cs, ss float64) inverse {
	d := cc*ss - cs*cs
	return inverse{ss / d, -cs / d, cc / d}
}

func (m inverse) explained(c, s float64) float64 { return m.cc*c*c + 2*m.cs*c*s + m.ss*s*s }

func newHardFinder(t *trial) *hardFinder {
	n := len(t.x)
	h := &hardFinder{t, make([]inverse, n), make([]inverse, n)}
	sum := make([]inverse, n+1) // of the matrix itself
	for i := range n {
		sum[i+1] = inverse{sum[i].cc + t.c[i]*t.c[i], sum[i].cs + t.c[i]*t.s[i], sum[i].ss + t.s[i]*t.s[i]}
	}
	for k := fewest; k <= n-fewest; k++ {
		a, b := sum[k], sum[n]
		h.before[k] = invert(a.cc, a.cs, a.ss)
		h.after[k] = invert(b.cc-a.cc, b.cs-a.cs, b.ss-a.ss)
	}
	return h
}

func (h *hardFinder) instant() float64 {
	n := len(h.t.x)
	c, s := h.t.xc[n], h.t.xs[n]
	best, at := 0.0, 0
	for k := fewest; k <= n-fewest; k++ {
		kc, ks := h.t.xc[k], h.t.xs[k]
		if e := h.before[k].explained(kc, ks) + h.after[k].explained(c-kc, s-ks); e > best {
			best, at = e, k
		}
	}
	return float64(at)
}
