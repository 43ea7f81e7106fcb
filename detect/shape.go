package detect

import "math"

// EdgeModel is the shape of the edges of a recording.
type EdgeModel uint8

// The edge models.
const (
	// Gate: the tone is switched between one sample and the next. An edge is at the first frame in the new state.
	Gate EdgeModel = iota
	// BandLimited: what a sound card gives. An edge is at its 50 % reference level instant, between frames.
	BandLimited
	// Soft: the transition lasts for many samples (codecs, shaped keying). An edge is at the frame at its 50 % instant.
	Soft
)

// String returns the word used in JSON: "gate", "band_limited" or "soft".
func (m EdgeModel) String() string {
	switch m {
	case BandLimited:
		return "band_limited"
	case Soft:
		return "soft"
	}
	return "gate"
}

// shape counts the edge models that the clean single edges of a recording show one by one.
type shape struct{ votes [3]int }

const (
	nearBy     = 6     // frames on either side of an edge in which a band-limited step rings
	wideTime   = 0.003 // [s] on either side that a soft edge may take
	shapeSNR   = 300.0 // step power over noise from which on an edge shows its shape (25 dB)
	ringing    = 0.03  // samples of residual near the edge that a gated tone does not have
	softness   = 1.0   // samples of residual in all that a band-limited edge does not have
	sincReach  = 24    // frames on either side that the band-limited step is fitted to
	sincSteps  = 32    // table entries a frame
	sincCutoff = 0.927 // of half the sample rate: a sound card's anti-alias filter (common practice: 0.9 to 0.96)
)

// model returns the model of most edges; Gate where there are none.
func (s *shape) model() EdgeModel {
	best := Gate
	for m := BandLimited; m <= Soft; m++ {
		if s.votes[m] > s.votes[best] {
			best = m
		}
	}
	return best
}

// learn judges the step at frame k of the window, between the levels a and b, by what a sudden step leaves over near the
// edge and farther from it, in samples: squared residual less noise, over the mean square of the step's own tone; v is
// sigma^2. It returns the model that this edge shows, Gate where it shows nothing.
func (s *shape) learn(r *refiner, k int, a, b complex128, v, fs float64) EdgeModel {
	power := mag2(b-a) / 2
	if power < shapeSNR*v || k < sincReach || k > r.n-sincReach {
		return Gate
	}
	reach := int(wideTime * fs)
	var near, wide float64
	for i := max(0, k-reach); i < min(r.n, k+reach); i++ {
		if r.wt[i] == 0 {
			continue
		}
		lv := a
		if i >= k {
			lv = b
		}
		e := r.x[i] - (real(lv)*r.c[i] - imag(lv)*r.s[i])
		if d := i - k; d >= -nearBy && d < nearBy {
			near += e*e - v
		} else {
			wide += e*e - v
		}
	}
	near, wide = near/power, wide/power
	chance := 3 * math.Sqrt(4*float64(reach)) * v / power // of wide: the noise's power itself is only known so well
	m := Gate
	switch {
	case near+wide > softness, near > ringing && wide > ringing+chance:
		m = Soft
	case near > ringing:
		m = BandLimited
	}
	s.votes[m]++
	return m
}

// sincStep is the step response of an ideal low-pass, 1/2 + Si(pi c u)/pi at u frames after the step, tapered to 0 and 1 at
// the ends: the band-limited step. It is odd about 1/2.
var sincStep = func() []float64 {
	n := sincReach * sincSteps
	t := make([]float64, n+1)
	sum, prev := 0.0, 1.0
	h := math.Pi * sincCutoff / sincSteps
	for i := 1; i <= n; i++ {
		x := h * float64(i)
		w := math.Cos(math.Pi / 2 * float64(i) / float64(n)) // taper of the impulse response
		v := math.Sin(x) / x * w * w
		sum += (prev + v) / 2
		prev = v
		t[i] = sum
	}
	for i := range t {
		t[i] /= 2 * sum
	}
	return t
}()

func bandStep(u float64) float64 {
	p := math.Abs(u) * sincSteps
	i := int(p)
	v := 0.5
	if i < len(sincStep)-1 {
		f := p - float64(i)
		v = sincStep[i]*(1-f) + sincStep[i+1]*f
	}
	if u < 0 {
		return 0.5 - v
	}
	return 0.5 + v
}

// instant returns the 50 % instant of a band-limited step near frame k of the window, in frames from its start, and the
// standard uncertainty of it: least squares over the instant, the levels a and b being known; v is sigma^2.
func (r *refiner) instant(k int, a, b complex128, v float64) (t, u float64) {
	sse := func(t float64) (sum float64) {
		for i := max(0, k-sincReach+2); i < min(r.n, k+sincReach-2); i++ {
			g := bandStep(float64(i) - t)
			lv := a + complex(g, 0)*(b-a)
			e := r.x[i] - (real(lv)*r.c[i] - imag(lv)*r.s[i])
			sum += r.wt[i] * e * e
		}
		return sum
	}
	const step = 0.125
	best, at := math.Inf(1), 0.0
	for o := -1.75; o <= 0.75; o += step {
		if e := sse(float64(k) + o); e < best {
			best, at = e, float64(k)+o
		}
	}
	// A parabola through the neighbours; its curvature gives the uncertainty.
	e0, e2 := sse(at-step), sse(at+step)
	curve := (e0 - 2*best + e2) / (step * step)
	if curve <= 0 {
		return at, 1
	}
	shift := (e0 - e2) / (2 * step) / curve
	return at + math.Max(-step, math.Min(step, shift)), math.Sqrt(2*v/curve + 0.03*0.03)
}
