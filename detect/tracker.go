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

	start complex128 // exp(j phase)
	turns []turn     // exp(j w i) over the frames i of a hop, for the tone turnsW
	turnW float64

	level  [2]complex128 // closed, open
	phased bool          // the angle between the two levels is known
	noise2 float64       // sigma^2 [full scale squared]
	past   [3]complex128 // level of the present state at the last hops, oldest first
	jumps  int           // times the tone came back at a phase of its own
	age    int           // hops since the present state began or was acquired
	apart  float64       // D of the configuration

	// Of the present hop: the present level and the step to the other, both with the phase at its begin in them, and the scale of
	// the likelihood.
	a, d      complex128
	inv, gate float64
	most      float64 // of a residual that hum is learnt from
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
	floorSNR   = 100.0
	smallLevel = 0.25 // of the louder level: a quieter one, at any phase, is nearer to silence than to the louder one
	manyJumps  = 2    // from which on the phase of the tone is not trusted to go on while it is away
	turnError  = 1e-4 // [rad] by which the table of the turning may be off at the end of a hop
	gateAt     = 5.0  // standard deviations from both levels beyond which a sample speaks for neither
)

// newTracker returns a tracker at the begin of a stream. turns has room for a hop.
func newTracker(cfg Config, turns []turn) tracker {
	t := tracker{cfg: cfg, hop: float64(len(turns)), turns: turns, w: 2 * math.Pi * cfg.Profile.Tone / float64(cfg.SampleRate)}
	long := t.hop / (hopTime * float64(cfg.SampleRate))
	t.followGain, t.settleGain = min(0.5, long*followGain), min(0.5, long*settleGain)
	t.fillTurns()
	t.level = [2]complex128{cfg.Profile.Closed, cfg.Profile.Open}
	t.noise2 = cfg.Profile.Noise * cfg.Profile.Noise
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

// startHop prepares the numbers of a hop in state s.
func (t *tracker) startHop(s State) {
	sin, cos := math.Sincos(t.phase)
	t.start = complex(cos, sin)
	if math.Abs(t.w-t.turnW)*t.hop > turnError {
		t.fillTurns()
	}
	t.testing = false
	t.a, t.d, t.gate, t.most = 0, 0, math.Inf(1), 3*math.Sqrt(t.noise2)
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
	}
}

// fillTurns makes the table of the turning over a hop for the tone as it is now.
func (t *tracker) fillTurns() {
	t.turnW = t.w
	for i := range t.turns {
		t.turns[i].s, t.turns[i].c = math.Sincos(t.w * float64(i))
	}
}

// advance carries the phase over a hop of h frames.
func (t *tracker) advance(h int) {
	if t.phase += t.w * float64(h); t.phase > 2*math.Pi {
		t.phase = math.Mod(t.phase, 2*math.Pi)
	}
}

// follow takes the deviation and the residual power of a quiet hop in state s.
func (t *tracker) follow(s State, dev complex128, power float64) {
	i := idx(s)
	a := t.level[i]
	t.past[0], t.past[1], t.past[2] = t.past[1], t.past[2], a
	t.age++
	gain := t.followGain
	if t.age <= turnAge {
		gain = max(t.settleGain, 1/float64(t.age+2))
	}
	b := a + complex(gain, 0)*dev
	settled := t.age > turnAge
	a2, o2 := mag2(a), mag2(t.level[1-i])
	if a2 > 0.25*0.25*o2 && a2 > 9*t.noise2*2*t.followGain {
		ratio := dev * cmplx.Conj(a) / complex(a2, 0) // dev / a
		// What turns a quiet state's level in the first moments after a change is the settling of that level itself: it
		// says nothing of the tone or the amplifier.
		if settled {
			// The level turns at the rate by which the tone frequency is off.
			t.w += 0.25 * gain * gain * imag(ratio) / t.hop
		}
		if settled || a2 > o2 {
			t.level[1-i] *= 1 + complex(gain, 0)*ratio
		}
	}
	t.level[i] = b
	if t.noise2 == 0 {
		t.noise2 = power
	}
	t.noise2 += noiseGain * (min(power, 4*t.noise2) - t.noise2)
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

// reacquire takes a new level for the present state, the other one turned along.
func (t *tracker) reacquire(s State, now complex128) {
	i := idx(s)
	if a := t.level[i]; a != 0 && now != 0 {
		t.level[1-i] *= cmplx.Rect(1, cmplx.Phase(now)-cmplx.Phase(a))
	}
	t.level[i] = now
	t.age = 0
}

// returned notes whether the tone, back in state s at the level now, came back at the phase that it would have had.
func (t *tracker) returned(s State, now complex128) {
	if a := t.level[idx(s)]; real(now*cmplx.Conj(a)) < 0.5*mag(now)*mag(a) {
		t.jumps++
	}
}

// begin takes the level now of state s after Unknown or Lost.
func (t *tracker) begin(s State, now complex128) {
	if t.cfg.Profile.PhaseKnown {
		t.level = [2]complex128{t.cfg.Profile.Closed, t.cfg.Profile.Open}
		t.phased = true
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
