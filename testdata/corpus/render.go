package corpus

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// renderer makes the channel with the tone, sample by sample.
type renderer struct {
	s     scene
	gate  gate
	sigma float64
	full  float64    // full scale in steps of the rounding
	rng   *rand.Rand // of the noise
	n     int64      // next frame
	turn  float64    // phase of the tone there [turns]
	hum   *humming
	spike spikes
	gain  *leveller
	fade  float64 // how far a noise suppressor has turned the tone down, 0..1
	lost  [][2]int64
}

// newRenderer draws what the scene leaves to chance, the noise from a stream of its own.
func newRenderer(s scene, list []change, sigma float64, frames int64, rng *rand.Rand) *renderer {
	r := &renderer{s: s, sigma: sigma, full: fullScale(s.bits), turn: rng.Float64(), rng: rand.New(rand.NewPCG(rng.Uint64(), 1))}
	r.gate = gate{list: list, across: s.across}
	if s.shape != nil {
		r.gate.shape = s.shape(s.rate, s.tone)
	}
	r.gate.now = r.gate.share(true)
	if s.hum != nil {
		r.hum = s.hum.start(s.rate, s.amp, rng)
	}
	if s.gain != nil {
		r.gain = s.gain.start(s.rate, s.amp)
	}
	r.spike = spikes{rng: rand.New(rand.NewPCG(rng.Uint64(), 2)), rate: s.rate, peak: 10 * s.amp, wait: int(0.3 * s.rate)}
	if s.dropouts {
		r.lost = dropouts(list, rng)
	}
	return r
}

// next returns the next sample.
func (r *renderer) next() float32 {
	s := &r.s
	sec := float64(r.n) / s.rate
	share := r.gate.at(float64(r.n))
	level := s.left + (1-s.left)*share
	if sec < s.late {
		level = 0
	}
	r.turn += s.tone * (1 + s.swing*math.Sin(2*math.Pi*sec/9)) / s.rate
	r.turn -= math.Floor(r.turn)
	x := s.amp * real(level*cmplx.Rect(1, 2*math.Pi*r.turn))
	if s.fade {
		x *= r.faded(cmplx.Abs(level) > 0.5)
	}
	x += r.sigma * r.rng.NormFloat64()
	if r.hum != nil {
		x += r.hum.next(sec)
	}
	if s.spikes {
		x += r.spike.next()
	}
	if r.gain != nil {
		x *= r.gain.next(x)
	}
	if s.clip > 0 {
		x = math.Max(-s.clip*s.amp, math.Min(s.clip*s.amp, x))
	}
	for len(r.lost) > 0 && r.n >= r.lost[0][1] {
		r.lost = r.lost[1:]
	}
	if len(r.lost) > 0 && r.n >= r.lost[0][0] {
		x = 0
	}
	r.n++
	return rounded(x, r.full)
}

// faded is a noise suppressor that takes a steady tone for noise: it turns it down to half within seconds, and back up in the quiet.
func (r *renderer) faded(loud bool) float64 {
	if loud {
		r.fade += (1 - r.fade) / (1.5 * r.s.rate)
	} else {
		r.fade -= r.fade / (0.3 * r.s.rate)
	}
	return 1 - 0.5*r.fade
}

// fullScale returns how many steps integers of so many bits have up to full scale.
func fullScale(bits float64) float64 { return math.Pow(2, bits-1) }

// rounded returns x as integers with so many steps up to full scale hold it.
func rounded(x, full float64) float32 {
	return float32(math.Max(-full, math.Min(full-1, math.RoundToEven(x*full))) / full)
}

// gate is the share of the way from the quiet to the loud state, asked for frame by frame.
type gate struct {
	list   []change
	across bool
	shape  *Shape
	now    complex128 // after all changes that are over
}

func (g *gate) share(closed bool) complex128 {
	if closed != g.across {
		return 1
	}
	return 0
}

func (g *gate) at(n float64) complex128 {
	reach := 0.0
	if g.shape != nil {
		reach = g.shape.reach
	}
	for len(g.list) > 0 && n >= g.list[0].at+reach {
		g.now = g.share(g.list[0].closed)
		g.list = g.list[1:]
	}
	v, from := g.now, g.now
	if g.shape == nil {
		return v
	}
	for _, c := range g.list {
		if n <= c.at-reach {
			break
		}
		to := g.share(c.closed)
		v += (to - from) * g.shape.at(n-c.at)
		from = to
	}
	return v
}
