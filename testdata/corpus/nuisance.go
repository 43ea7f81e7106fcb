package corpus

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// hum is mains hum with harmonics, the odd ones strong.
type hum struct {
	hz     float64
	wander float64 // of the frequency, either way within seconds [Hz]
	db     float64 // power over that of the tone [dB]
}

// humming is hum under way.
type humming struct {
	hum
	rate   float64
	turn   float64
	levels []complex128 // of the fundamental and its harmonics
}

// start draws the phases. Odd harmonics fall with the order to the power of 1.3; even ones are a quarter of that.
func (h hum) start(rate, amp float64, rng *rand.Rand) *humming {
	m := &humming{hum: h, rate: rate, turn: rng.Float64()}
	power := 0.0
	for k := 1; k <= 30 && float64(k)*h.hz < 0.45*rate; k++ {
		a := math.Pow(float64(k), -1.3)
		if k%2 == 0 {
			a /= 4
		}
		m.levels = append(m.levels, cmplx.Rect(a, 2*math.Pi*rng.Float64()))
		power += a * a / 2
	}
	scale := complex(amp/math.Sqrt2*math.Pow(10, h.db/20)/math.Sqrt(power), 0)
	for k := range m.levels {
		m.levels[k] *= scale
	}
	return m
}

func (m *humming) next(sec float64) float64 {
	m.turn += (m.hz + m.wander*math.Sin(2*math.Pi*sec/13)) / m.rate
	m.turn -= math.Floor(m.turn)
	z := cmplx.Rect(1, 2*math.Pi*m.turn)
	sum, p := 0.0, complex128(1)
	for _, a := range m.levels {
		p *= z
		sum += real(a * p)
	}
	return sum
}

// newSide makes a channel without the tone: noise, and hum as loud as the tone of the other channel less 12 dB.
func newSide(s scene, rng *rand.Rand) func() float32 {
	h := hum{hz: 50.04, db: -12}.start(s.rate, s.amp, rng)
	noise := rand.New(rand.NewPCG(rng.Uint64(), 3))
	n, full := 0.0, fullScale(s.bits)
	return func() float32 {
		n++
		return rounded(h.next(n/s.rate)+0.01*noise.NormFloat64(), full)
	}
}

// spikes are half-sines of 100 us, of either sign, 0.2 to 0.5 s apart.
type spikes struct {
	rng  *rand.Rand
	rate float64
	peak float64
	wait int // frames to the next one
	at   int // frames into the present one
}

func (p *spikes) next() float64 {
	length := max(1, int(100e-6*p.rate))
	if p.wait--; p.wait < -length {
		p.wait = int((0.2 + 0.3*p.rng.Float64()) * p.rate)
		if p.rng.IntN(2) == 0 {
			p.peak = -p.peak
		}
	}
	if p.wait >= 0 {
		return 0
	}
	return p.peak * math.Sin(math.Pi*(float64(-p.wait-1)+0.5)/float64(length+1))
}

// lostFrames is how long a dropout lasts.
const lostFrames = 384

// dropouts puts a stretch of lost samples somewhere in each state that lasts long enough to keep it 20 ms from the edges.
func dropouts(list []change, rng *rand.Rand) (lost [][2]int64) {
	for i := range len(list) - 1 {
		const margin = 960
		from, to := int64(list[i].at)+margin, int64(list[i+1].at)-margin-lostFrames
		if to > from {
			at := from + rng.Int64N(to-from)
			lost = append(lost, [2]int64{at, at + lostFrames})
		}
	}
	return lost
}

// gain is automatic gain control: the level wanted over the peaks that it follows, 1 at the least.
type gain struct {
	most            float64 // [dB]
	attack, release float64 // time constants of the peak follower [s]
}

// leveller is gain control under way.
type leveller struct {
	want, peak, top float64
	up, down        float64 // what the follower moves by in a frame
}

func (g gain) start(rate, amp float64) *leveller {
	return &leveller{want: amp, peak: amp, top: math.Pow(10, g.most/20), up: 1 / (g.attack * rate), down: 1 / (g.release * rate)}
}

// next returns the gain for the sample x, which the follower hears.
func (l *leveller) next(x float64) float64 {
	if d := math.Abs(x) - l.peak; d > 0 {
		l.peak += d * l.up
	} else {
		l.peak += d * l.down
	}
	return math.Max(1, math.Min(l.top, l.want/l.peak))
}
