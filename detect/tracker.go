package detect

import (
	"math"
	"math/cmplx"
)

// tracker carries the tone's phase and the two state levels from sample to sample.
//
// The level of the present state follows the sound with a gain that falls from 1/3 after a change to followGain. Its
// turning tells the error of the tone frequency (a second-order loop, critically damped). The other level is turned and
// scaled along, since both come through the same amplifier: at once where the present state is the louder one, after its
// own level has settled otherwise.
type tracker struct {
	cfg                    Config
	hop                    float64 // frames in a hop
	followGain, settleGain float64 // for this hop
	w                      float64 // tone [rad/frame]
	phase                  float64 // of the tone at the first frame of the hop, modulo 2 pi

	start  complex128 // exp(j phase)
	over   complex128 // exp(j w h) over a hop, for the tone turnW
	turned int        // hops for which start may be carried on without the sine of the phase
	turns  []turn     // exp(j w i) over the frames i of a hop, for the tone turnW
	turnW  float64

	level  [2]complex128 // closed, open
	phased bool          // the angle between the two levels is known
	noise2 float64       // sigma^2 [full scale squared]
	past   [3]complex128 // level of the present state at the last hops, oldest first
	good   [2]float64    // magnitudes of the levels when a state had settled last, after a change
	rest2  float64       // squared magnitude of the louder level when it had settled last
	jumps  int           // times the tone came back at a phase of its own
	age    int           // hops since the present state began or was acquired
	apart  float64       // D of the configuration

	// Of the present hop: the present level and the step to the other, both with the phase at its begin in them, and the scale of
	// the likelihood.
	a, d      complex128
	inv, gate float64
	foreign   float64 // log-likelihood ratio of a sample that fits exactly against a foreign one, at about this
	ratio     float64 // ratio of D^2 to the noise
	testing   bool
}

// turn is exp(j w i) of one frame.
type turn struct{ c, s float64 }

const (
	followGain = 1.0 / 60 // of a hop of hopTime, in proportion for a longer one
	settleGain = 1.0 / 6  // while the state is young: a gain control may come down by 12 dB in 20 ms after a closing
	noiseGain  = 1.0 / 200
	turnAge    = 100 // hops after a change from which on the level tells of the frequency and of the other level
	// floorSNR keeps the test from trusting its levels beyond a hundredth of their distance in power (20 dB): gain
	// control, hum and rounding change them by as much.
	floorSNR     = 100.0
	scaleAge     = 40   // hops after a change from which on a quieter level carries the other along
	leastShare   = 0.07 // of the other level: a quieter one is crosstalk of some other kind
	sureLevel    = 20.0 // standard deviations by which it must be known: it carries its error along too
	slideSigmas  = 4.0  // standard deviations of the noise in a hop: exp(-16), once in an hour
	slideQuiet   = 0.02 // of the level in a hop: 18 dB in 50 ms
	mistakenMiss = 0.3  // of a step from one level to the other
	gainTurn     = 0.25 // sine of the angle by which a gain turns the tone at most, 14 degrees
	beginSigmas  = 5.0  // by which a level must be known whose angle is taken: 11 degrees
	restOver     = 1.1  // over the level at rest
	smallLevel   = 0.25 // of the louder level: a quieter one, at any phase, is nearer to silence than to the louder one
	manyJumps    = 2    // from which on the phase of the tone is not trusted to go on while it is away
	turnedMost   = 64   // hops, after which rounding is put right by a sine
	turnError    = 1e-4 // [rad] by which the table of the turning may be off at the end of a hop
	gateAt       = 5.0  // standard deviations from both levels beyond which a sample speaks for neither
)

// newTracker returns a tracker at the begin of a stream. turns has room for a hop.
func newTracker(cfg Config, turns []turn) tracker {
	t := tracker{cfg: cfg, hop: float64(len(turns)), turns: turns, w: 2 * math.Pi * cfg.Profile.Tone / float64(cfg.SampleRate)}
	long := t.hop / (hopTime * float64(cfg.SampleRate))
	t.followGain, t.settleGain = min(0.5, long*followGain), min(0.5, long*settleGain)
	t.fillTurns()
	t.level = [2]complex128{cfg.Profile.Closed, cfg.Profile.Open}
	t.noise2 = cfg.Profile.Noise * cfg.Profile.Noise
	t.good = [2]float64{mag(t.level[closedIdx]), mag(t.level[openIdx])}
	t.rest2 = max(mag2(t.level[closedIdx]), mag2(t.level[openIdx]))
	t.apart = math.Abs(mag(t.level[closedIdx]) - mag(t.level[openIdx]))
	if cfg.Profile.PhaseKnown {
		t.apart = mag(t.level[closedIdx] - t.level[openIdx])
	}
	return t
}

// forget drops the phase: after a gap only the magnitudes and the angle between the levels are known.
func (t *tracker) forget() {
	t.phased = false
	t.level = [2]complex128{cmplx.Rect(mag(t.level[closedIdx]), 0), cmplx.Rect(mag(t.level[openIdx]), 0)}
	if t.faded() {
		t.level = [2]complex128{t.cfg.Profile.Closed, t.cfg.Profile.Open}
	}
}

// distrust drops the phase, and what a change that was none has made of the levels: they are again what they were when a state had settled
// last.
func (t *tracker) distrust() {
	t.level = [2]complex128{complex(t.good[closedIdx], 0), complex(t.good[openIdx], 0)}
	t.forget()
}

// startHop prepares the numbers of a hop in state s.
func (t *tracker) startHop(s State) {
	if math.Abs(t.w-t.turnW)*t.hop > turnError {
		t.fillTurns()
	}
	if t.turned--; t.turned < 0 { // a sine takes ten times as long as a product
		sin, cos := math.Sincos(t.phase)
		t.start, t.turned = complex(cos, sin), turnedMost
	}
	t.testing = false
	t.a, t.d, t.gate = 0, 0, math.Inf(1)
	if s != Closed && s != Open {
		return // the residual is the sound itself
	}
	a, o := t.level[idx(s)], t.level[idx(other(s))]
	t.a = a * t.start
	a2, o2 := mag2(a), mag2(o)
	small := o2 < smallLevel*smallLevel*a2
	known := t.phased && (t.jumps < manyJumps || o2 < a2)
	if !known && !small {
		return // the other level's phase is not known: leave it to the window
	}
	if !known {
		o = 0
	}
	t.d = (o - a) * t.start
	d2 := mag2(t.d)
	v := max(t.noise2, d2/2/floorSNR)
	if v > 0 {
		t.inv, t.gate, t.testing = 1/v, gateAt*math.Sqrt(v), true
		if ratio := d2 / v; math.Abs(ratio-t.ratio) > 0.01*ratio { // a logarithm takes as long as half a hop
			t.ratio, t.foreign = ratio, 0.5*math.Log(foreignWidth*foreignWidth/(2*math.Pi)*ratio)
		}
	}
}

// fillTurns makes the table of the turning over a hop for the tone as it is now.
func (t *tracker) fillTurns() {
	t.turnW = t.w
	for i := range t.turns {
		t.turns[i].s, t.turns[i].c = math.Sincos(t.w * float64(i))
	}
	t.over = cmplx.Rect(1, t.w*t.hop)
}

// advance carries the phase over a hop of h frames.
func (t *tracker) advance(h int) {
	t.phase += t.w * float64(h)
	for t.phase > 2*math.Pi {
		t.phase -= 2 * math.Pi
	}
	if h != len(t.turns) {
		t.turned = 0
	}
	t.start *= t.over * complex(1, (t.w-t.turnW)*t.hop) // exp(jx) = 1 + jx for so small a turn
}

// follow takes the deviation and the residual power of a quiet hop in state s. It is false when the level slides faster than a level
// that stands still is followed.
func (t *tracker) follow(s State, dev complex128, power float64) (still bool) {
	i := idx(s)
	a := t.level[i]
	t.past[0], t.past[1], t.past[2] = t.past[1], t.past[2], a
	t.age++
	gain, known := t.followGain, t.followGain
	if t.age <= turnAge {
		gain = max(t.settleGain, 1/float64(t.age+2))
	}
	if t.age <= 2*turnAge {
		known = t.settleGain
	}
	settled := t.age > turnAge
	a2, o2 := mag2(a), mag2(t.level[1-i])
	if sure := slideSigmas * slideSigmas * 4 * t.noise2 / t.hop; mag2(dev) > sure && a2 > 0 {
		gain = t.slide(gain, a, dev, sure, o2)
	}
	still = gain <= max(t.settleGain, 1/float64(t.age+2))
	b := a + complex(gain, 0)*dev
	if a2 > o2 || a2 > leastShare*leastShare*o2 && a2 > sureLevel*sureLevel*2*t.noise2*known/t.hop {
		ratio := dev * cmplx.Conj(a) * complex(1/a2, 0) // dev / a
		// What turns a quiet state's level in the first moments after a change is the settling of that level itself: it
		// says nothing of the tone or the amplifier.
		if settled {
			// The level turns at the rate by which the tone frequency is off.
			t.w += 0.25 * gain * gain * imag(ratio) / t.hop
		}
		// More in a hop than a gain control does is a soft edge that begins.
		if a2 > o2 || t.age > scaleAge && gain*gain*mag2(dev) < 4*slideQuiet*slideQuiet*a2 {
			by := 1 + complex(gain, 0)*ratio
			if a2 < o2 && t.cfg.Wiring == Shunt {
				by /= complex(mag(by), 0) // closed points across are as loud as their resistance: that tells nothing of the gain
			}
			t.level[1-i] *= by
		}
	}
	t.level[i] = b
	if settled && a2 > o2 {
		t.rest2 = a2
	}
	if t.phased && t.age == turnAge {
		t.good = [2]float64{mag(t.level[closedIdx]), mag(t.level[openIdx])}
	}
	if t.noise2 == 0 {
		t.noise2 = power
	}
	t.noise2 += noiseGain * (min(power, 4*t.noise2) - t.noise2)
	return still
}

// slide returns the gain for a deviation dev from the level a that noise does not make: the amplifier's gain slides. sure is
// mag2 of the most that noise makes, o2 that of the other level.
//
// A gain control that has turned the gain up while the quieter state lasted brings it down again as soon as the louder one is
// back, by a tenth in a hop and more, but not below what it was. While it turns the gain up it is slow; contacts are quicker.
func (t *tracker) slide(gain float64, a, dev complex128, sure, o2 float64) float64 {
	along := real(dev)*real(a) + imag(dev)*imag(a)
	across := imag(dev)*real(a) - real(dev)*imag(a)
	if math.Abs(across) > 0.5*math.Abs(along) {
		return gain
	}
	a2 := mag2(a)
	full := 1 - sure/mag2(dev)
	switch {
	case a2 > o2 && t.age <= turnAge && along < 0 && a2 > restOver*restOver*t.rest2:
		return max(gain, full)
	case a2 > o2:
		return gain // a soft opening may begin like this
	}
	return max(gain, min(full, slideQuiet*a2/math.Abs(along)))
}

// beforeChange returns the level of state s as it was before the last hops, which may hold the beginning of a change.
func (t *tracker) beforeChange(s State) complex128 {
	if t.age >= len(t.past) {
		t.level[idx(s)] = t.past[0]
	}
	return t.level[idx(s)]
}

// enter begins state s. level is its measured level, or nil to go on with the one known.
func (t *tracker) enter(s State, level *complex128) {
	switch {
	case level != nil:
		t.level[idx(s)] = *level
	case !t.phased:
		t.level[idx(s)] = 0 // as the trigger took it
	}
	t.phased = true
	t.age = 0
}

// reacquire takes a new level for the present state. The other one is turned along, and scaled along where the present state is the
// louder one: the amplifier is common to both. A quieter level may be no more than noise.
func (t *tracker) reacquire(s State, now complex128) {
	i := idx(s)
	if a := t.level[i]; a != 0 && now != 0 {
		turn := cmplx.Rect(1, cmplx.Phase(now)-cmplx.Phase(a))
		if mag2(a) > mag2(t.level[1-i]) {
			turn = now / a
		}
		t.level[1-i] *= turn
	}
	t.level[i] = now
	t.age = 0
}

// mistaken tells that state s was taken for the quieter one and is the louder: its level steps down once more, by as much as the quieter
// state lies below the louder. Gain that fell while nobody could tell makes such. The levels are put right; late and early are the
// deviations in the two halves of the window.
func (t *tracker) mistaken(s State, late, early complex128) bool {
	a, loud := t.level[idx(s)], t.level[idx(other(s))]
	a2, loud2, step2 := mag2(a), mag2(loud), mag2(late)
	noise2 := settledSigmas * settledSigmas * t.noise2 / t.hop
	if a2 >= loud2 || t.age <= scaleAge || step2 < noise2 || mag2(late-early) > 0.1*step2 || t.turnedApart(a, loud) {
		return false
	}
	now, want := a+late, a*a/loud
	miss2, whole2 := mag2(now-want), mag2(a-want)
	if !t.phased {
		miss, whole := mag(now)-mag(want), mag(a)-mag(want)
		miss2, whole2 = miss*miss, whole*whole
	}
	nothing := mag2(want) < 0.25*a2 && mag2(now) < mag2(want) // even less is left than of a louder state
	if !nothing && miss2 > mistakenMiss*mistakenMiss*whole2+noise2/4 {
		return false
	}
	t.level[idx(s)], t.level[idx(other(s))] = now, a
	t.good[idx(s)], t.good[idx(other(s))] = mag(now), mag(a)
	return true
}

// turnedApart tells that level a is turned against the louder one, which no gain does: it was the quieter state's own.
func (t *tracker) turnedApart(a, loud complex128) bool {
	if !t.phased || t.jumps >= manyJumps {
		return false
	}
	across := math.Abs(imag(a * cmplx.Conj(loud)))
	return across > gainTurn*mag(a)*mag(loud)+settledSigmas*math.Sqrt(t.noise2*t.settleGain/t.hop)*mag(loud)
}

// returned notes whether the tone, back in state s at the level now, came back at the phase that it would have had.
func (t *tracker) returned(s State, now complex128) {
	if a := t.level[idx(s)]; real(now*cmplx.Conj(a)) < 0.5*mag(now)*mag(a) {
		t.jumps++
	}
}

// begin takes the level now of state s after Unknown or Lost.
func (t *tracker) begin(s State, now complex128) {
	if p := t.cfg.Profile; p.PhaseKnown {
		angle := cmplx.Phase(p.Open) - cmplx.Phase(p.Closed)
		t.level = [2]complex128{complex(mag(t.level[closedIdx]), 0), cmplx.Rect(mag(t.level[openIdx]), angle)}
		// Noise has an angle of its own, by which a cable that is off must not be told.
		t.phased = len(p.Off) == 0 || mag2(now) > beginSigmas*beginSigmas*2*t.noise2/(settleWindow*t.hop)
	}
	t.reacquire(s, now)
}

// share tells how far the level now has gone from state s (0) to the other state (1): by magnitude where the magnitudes of
// the two differ enough, because the tone may begin anew at any phase, otherwise in the I/Q plane.
func (t *tracker) share(s State, now complex128) float64 {
	a, o := t.level[idx(s)], t.level[idx(other(s))]
	dm := mag(o) - mag(a)
	if !t.phased || math.Abs(dm) > 0.3*max(mag(o), mag(a)) {
		if dm == 0 {
			return 0
		}
		return (mag(now) - mag(a)) / dm
	}
	step, m := o-a, now-a
	return (real(m)*real(step) + imag(m)*imag(step)) / mag2(step)
}

// classify tells which state a level that stands still belongs to, by magnitude; drift is its change within the window.
func (t *tracker) classify(now, drift complex128) (State, bool) {
	hi, lo := mag(t.level[closedIdx]), mag(t.level[openIdx])
	loud, quiet := Closed, Open
	if hi < lo {
		hi, lo, loud, quiet = lo, hi, quiet, loud
	}
	if hi == lo {
		return Unknown, false
	}
	if mag(drift) > 0.2*hi+3*math.Sqrt(t.noise2/12) {
		return Unknown, false
	}
	switch f := (mag(now) - lo) / (hi - lo); {
	case f >= 0.6:
		return loud, true
	case f <= 0.4:
		return quiet, true
	}
	return Unknown, false
}

// faded tells that the two levels have come so close that nothing can be told.
func (t *tracker) faded() bool {
	return mag(t.level[closedIdx]-t.level[openIdx]) < 0.2*t.apart
}
