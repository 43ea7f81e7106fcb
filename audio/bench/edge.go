package bench

import (
	"math"
	"math/cmplx"
)

// leveller gives the level at the input in frame n = 0, 1, 2, ..., asked for in this order.
type leveller interface {
	at(n int64) complex128
	// added tells that there are more changes than before.
	added()
	// sees tells that frame n shows something of a change at an instant [s].
	sees(n int64, at float64) bool
}

// frameOf returns the first frame at or after an instant [s]. An instant within a millionth of a frame after a frame
// counts as that frame: it is there by rounding.
func frameOf(at float64, sampleRate int) int64 {
	return int64(math.Ceil(at*float64(sampleRate) - 1e-6))
}

// gate switches from frame to frame: the first frame at or after the instant has the new level.
type gate struct {
	cfg  *Config
	now  complex128
	next int   // index of the next change
	due  int64 // its frame
}

func newGate(cfg *Config) *gate {
	g := &gate{cfg: cfg, now: cfg.levelOf(!cfg.StartOpen)}
	g.look()
	return g
}

// look notes when the next change is due.
func (g *gate) look() {
	g.due = math.MaxInt64
	if g.next < len(g.cfg.Changes) {
		g.due = frameOf(g.cfg.Changes[g.next].At, g.cfg.SampleRate)
	}
}

func (g *gate) added() { g.look() }

func (g *gate) sees(n int64, at float64) bool { return n >= frameOf(at, g.cfg.SampleRate) }

func (g *gate) at(n int64) complex128 {
	for n >= g.due {
		g.now = g.cfg.levelOf(g.cfg.Changes[g.next].Closed)
		g.next++
		g.look()
	}
	return g.now
}

func (c Config) levelOf(closed bool) complex128 {
	if closed {
		return c.Closed
	}
	return c.Open
}

// smooth gives each change the step response of a linear-phase low-pass filter around its exact instant. A tone that is
// switched from level a to level b at the instant t0 comes out of a filter with impulse response h as
//
//	exp(jwn) * (a*(1-S(n-t0)) + b*S(n-t0)),  S(x) = integral of h(u)*exp(-jwu) for u from -reach to x, over that to +reach
//
// which passes the 50 % reference level instant at t0.
type smooth struct {
	cfg  *Config
	step []complex128 // S, fine points a frame, from -reach to +reach
	base complex128   // the level left by all changes that are over
	// Changes first..next-1 are in progress: closer than reach to the frame asked for.
	first, next int
}

const (
	reach  = 16   // half length of the filter [frames]
	fine   = 256  // points of the table a frame
	cutoff = 0.46 // of the sample rate: a converter's anti-alias filter passes nearly half
)

func newSmooth(cfg *Config) *smooth {
	return &smooth{
		cfg: cfg, base: cfg.levelOf(!cfg.StartOpen),
		step: stepResponse(2 * math.Pi * cfg.tone() / float64(cfg.SampleRate)),
	}
}

// stepResponse returns S for a tone of w [rad/frame]: h is a sinc under a Blackman window, summed by the trapezoidal rule.
func stepResponse(w float64) []complex128 {
	const n = 2*reach*fine + 1
	s := make([]complex128, n)
	var last complex128
	for i := range n {
		u := float64(i)/fine - reach
		x := math.Pi * u / reach
		h := 0.42 + 0.5*math.Cos(x) + 0.08*math.Cos(2*x)
		if a := 2 * math.Pi * cutoff * u; a != 0 {
			h *= math.Sin(a) / a
		}
		y := cmplx.Rect(h, -w*u)
		if i > 0 {
			s[i] = s[i-1] + (last+y)/2
		}
		last = y
	}
	whole := s[n-1]
	for i := range s {
		s[i] /= whole
	}
	return s
}

func (e *smooth) at(n int64) complex128 {
	x := float64(n)
	for e.next < len(e.cfg.Changes) && e.sees(n, e.cfg.Changes[e.next].At) {
		e.next++
	}
	for e.first < e.next && e.offset(e.first, x) >= reach {
		e.base = e.cfg.levelOf(e.cfg.Changes[e.first].Closed)
		e.first++
	}
	level, from := e.base, e.base
	for i := e.first; i < e.next; i++ {
		to := e.cfg.levelOf(e.cfg.Changes[i].Closed)
		level += (to - from) * e.response(e.offset(i, x))
		from = to
	}
	return level
}

func (e *smooth) added() {}

func (e *smooth) sees(n int64, at float64) bool {
	return float64(n)-at*float64(e.cfg.SampleRate) > -reach
}

// offset returns how far frame x lies after change i [frames].
func (e *smooth) offset(i int, x float64) float64 {
	return x - e.cfg.Changes[i].At*float64(e.cfg.SampleRate)
}

// response returns S at x [frames], -reach < x < reach, between the points of the table on a straight line.
func (e *smooth) response(x float64) complex128 {
	p := (x + reach) * fine
	i := min(int(p), len(e.step)-2)
	return e.step[i] + (e.step[i+1]-e.step[i])*complex(p-float64(i), 0)
}
