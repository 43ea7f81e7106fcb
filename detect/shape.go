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

// shape gathers what the clean single edges of a recording show of their edge model. One edge shows little in noise, many together do.
type shape struct {
	edges, soft int     // clean edges, and those of them that a slope explains
	band        float64 // log-likelihood ratio of the band-limited step against the sudden one
	// Samples of residual that the sudden step leaves over in all, and that the band-limited one takes off: of a codec's edge little.
	over, taken float64
	// Where a band-limited edge lies between its frames: of a gated tone that went through a codec or was resampled it is always in
	// the middle.
	turn  complex128 // sum exp(2 pi j t) over the 50 % instants t
	timed int
}

const (
	nearBy     = 6     // frames on either side of an edge in which a band-limited step rings
	wideTime   = 0.003 // [s] on either side that the level is looked at to see whether it is still under way
	softness   = 1.0   // samples of residual that a sudden step leaves over, from which on a slope is tried
	smear      = 0.3   // samples of residual from which on a codec may have smeared the edge: a sound card's filter leaves less
	softSNR    = 30.0  // step power over noise (15 dB) below which no slope can be told
	bandLeast  = 3.0   // log-likelihood from which on the edges are band-limited: 20 to 1
	bandFree   = 0.5   // what an instant gains by chance that may lie between the frames, too (Wilks: half a unit for a parameter)
	bandMost   = 20.0  // what one edge can say: the noise is white, but not to the last
	bandShare  = 0.3   // of what the sudden step leaves over a band-limited one must explain
	turnShare  = 0.5   // mean of -cos(2 pi t) from which on the edges lie in the middle between two frames
	turnChance = 2.5   // and so many times the root of their number: by chance in one recording of 500
	turnSNR    = 300.0 // step power over noise (25 dB) from which on an edge's place between the frames counts
	sincReach  = 24    // frames on either side that the band-limited step is fitted to
	sincSteps  = 32    // table entries a frame
	sincCutoff = 0.927 // of half the sample rate: a sound card's anti-alias filter (common practice: 0.9 to 0.96)
)

// model returns the model of the edges up to now; Gate where there are none.
func (s *shape) model() EdgeModel {
	switch {
	case 2*s.soft > s.edges:
		return Soft
	case s.band <= bandLeast, s.taken < bandShare*s.over:
		return Gate
	case -real(s.turn) > max(turnShare*float64(s.timed), turnChance*math.Sqrt(float64(s.timed))):
		return Gate
	}
	return BandLimited
}

// leftOver returns what the step at frame k of the window, between the levels a and b, leaves over within wideTime of it, and the most
// of that that chance makes; v is sigma^2. Both are in samples: squared residual less the noise, over the mean square of the step.
func (r *refiner) leftOver(k int, a, b complex128, v float64) (over, chance float64) {
	power := mag2(b-a) / 2
	if power < softSNR*v || k < sincReach || k > r.n-sincReach {
		return 0, 0
	}
	reach := int(wideTime * float64(r.cfg.SampleRate))
	rest, weight := r.sudden(k, a, b, reach)
	return (rest - v*weight) / power, 3 * math.Sqrt(4*float64(reach)) * v / power // the noise's power itself is only known so well
}

// sudden returns the energy that the step at frame k between the levels a and b leaves over within so many frames of it, and the weight of
// these.
func (r *refiner) sudden(k int, a, b complex128, reach int) (rest, weight float64) {
	for i := max(0, k-reach); i < min(r.n, k+reach); i++ {
		lv := a
		if i >= k {
			lv = b
		}
		e := r.residual(lv, i)
		rest += r.wt[i] * e * e
		weight += r.wt[i]
	}
	return rest, weight
}

// learn takes the clean step at frame k of the window between the levels a and b, whose band-limited step has its 50 % instant at half
// and leaves over rest around the edge; v is sigma^2.
func (s *shape) learn(r *refiner, k int, a, b complex128, half, rest, v float64) {
	s.edges++
	sudden, _ := r.sudden(k, a, b, bandReach)
	s.band += max(-bandMost, min(bandMost, (sudden-rest)/(2*v)-bandFree))
	power := mag2(b-a) / 2
	s.over += (sudden - 2*bandReach*v) / power
	s.taken += (sudden - rest) / power
	if power > turnSNR*v {
		s.timed++
		sin, cos := math.Sincos(2 * math.Pi * half)
		s.turn += complex(cos, sin)
	}
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

const (
	bandReach  = sincReach - 2 // frames on either side of an edge over which the two steps are compared
	instantFar = 8.0           // frames from the sudden step that the instant is looked for: a crossing of the tone hides it for some
	instantBy  = 0.25
	instantLog = 12.0 // log-likelihood that a second instant may be less likely by to count
	// instantDoubt is the standard uncertainty of an instant for all that is not known of the anti-alias filter [frames].
	instantDoubt = 0.05
)

// instant returns the 50 % instant of a band-limited step near frame k of the window, in frames from its start, its standard
// uncertainty, and the energy left over within bandReach of k. The instant is the mean of the posterior, which where the tone passes
// through 0 at the edge has two tops or more: at each a parabola through the squared residual gives place and width. The levels are
// those of the sound more than nearBy away; v is sigma^2.
func (r *refiner) instant(k int, v float64) (t, u, rest float64) {
	a, b := r.fit(0, max(0, k-nearBy)), r.fit(min(r.n, k+nearBy), r.n)
	sse := func(t float64) (sum float64) {
		for i := max(0, k-bandReach); i < min(r.n, k+bandReach); i++ {
			e := r.residual(a+complex(bandStep(float64(i)-t), 0)*(b-a), i)
			sum += r.wt[i] * e * e
		}
		return sum
	}
	const steps = int(2*instantFar/instantBy) + 1
	var rests [steps]float64
	rest = math.Inf(1)
	for i := range rests {
		rests[i] = sse(float64(k) - instantFar + instantBy*float64(i))
		rest = min(rest, rests[i])
	}
	v = max(v, rest/(2*bandReach-3)) // another filter than ours leaves over more than the noise
	var w, m1, m2 float64
	for i := 1; i < steps-1; i++ {
		e0, e1, e2 := rests[i-1], rests[i], rests[i+1]
		if e1 > e0 || e1 >= e2 || e1-rest > 2*v*instantLog {
			continue
		}
		curve := (e0 - 2*e1 + e2) / (instantBy * instantBy)
		shift := (e0 - e2) / (2 * instantBy) / curve
		var2 := 2 * v / curve
		p := math.Exp(-(e1-curve*shift*shift/2-rest)/(2*v)) * math.Sqrt(var2)
		at := instantBy*float64(i) + shift
		w += p
		m1 += p * at
		m2 += p * (at*at + var2)
	}
	if w == 0 {
		return float64(k) - 0.5, 1, rest
	}
	m1 /= w
	return float64(k) - instantFar + m1, math.Sqrt(max(0, m2/w-m1*m1) + instantDoubt*instantDoubt), rest
}
