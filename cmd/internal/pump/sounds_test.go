package pump_test

import (
	"math"
	"math/rand/v2"
)

// canvas is a stretch of sound that is being made, one channel.
type canvas struct {
	fs  float64
	x   []float32
	rng *rand.Rand
	// gates are the instants [s] at which a tone begins or ends at once, as if through contacts.
	gates []float64
}

func newCanvas(fs int, seconds float64, seed uint64) *canvas {
	return &canvas{fs: float64(fs), x: make([]float32, int(seconds*float64(fs))), rng: rand.New(rand.NewPCG(seed, 61))}
}

func (c *canvas) seconds() float64 { return float64(len(c.x)) / c.fs }

// between draws from a range.
func (c *canvas) between(lo, hi float64) float64 { return lo + (hi-lo)*c.rng.Float64() }

// pick draws one of several.
func pick[T any](c *canvas, of ...T) T { return of[c.rng.IntN(len(of))] }

// voice is how an instrument sounds.
type voice struct {
	partials []float64 // amplitudes of the harmonics
	stretch  float64   // of the harmonics: k becomes k*sqrt(1+stretch*k*k), as on a stiff string
	attack   float64   // [s] in which a note rises
	decay    float64   // [s] in which it falls to 1/e; 0: it stands
	release  float64   // [s] in which it ends
	vibrato  float64   // of the frequency, relative
	tremolo  float64   // of the level, relative
	shake    float64   // [Hz] of both
	glide    float64   // relative change of the frequency from begin to end
}

// controlFrames is how often level and frequency of a note are worked out anew [frames].
const controlFrames = 32

// note adds a note of hz from at on, as long as length [s], its loudest amplitude about amp.
func (c *canvas) note(v voice, at, length, hz, amp float64) {
	if v.attack <= 0 {
		v.attack = 1e-6
	}
	if v.release <= 0 {
		v.release = 1e-6
	}
	from, frames := int(at*c.fs), int((length+v.release)*c.fs)
	turn := c.between(0, 2*math.Pi)
	for k, p := range v.partials {
		f := hz * float64(k+1) * math.Sqrt(1+v.stretch*float64(k*k))
		if p == 0 || f > 0.45*c.fs {
			continue
		}
		sin, cos := math.Sincos(c.between(0, 2*math.Pi))
		z, last := complex(cos, sin), 0.0
		for i := 0; i < frames; i += controlFrames {
			t := float64(i+controlFrames) / c.fs
			shake := math.Sin(2*math.Pi*v.shake*t + turn)
			level := p * amp * math.Min(1, t/v.attack) * (1 + v.tremolo*shake)
			if v.decay > 0 {
				level *= math.Exp(-t * (1 + 0.3*float64(k)) / v.decay)
			}
			if t > length {
				level *= math.Max(0, 1-(t-length)/v.release)
			}
			if i == 0 && v.attack < controlFrames/c.fs {
				last = level
			}
			sin, cos := math.Sincos(2 * math.Pi * f * (1 + v.vibrato*shake + v.glide*t/length) / c.fs)
			w, step := complex(cos, sin), (level-last)/controlFrames
			for j := from + i; j < min(len(c.x), from+i+controlFrames, from+frames); j++ {
				last += step
				if j >= 0 {
					c.x[j] += float32(last * imag(z))
				}
				z *= w
			}
			last = level
		}
	}
}

// hit adds noise that begins at once and dies away with the time constant decay [s]; bright is the corner of a first-order low-pass
// [Hz], or of a high-pass below 0.
func (c *canvas) hit(at, decay, bright, amp float64) {
	from := int(at * c.fs)
	fade, level := math.Exp(-1/(decay*c.fs)), amp
	g := 1 - math.Exp(-2*math.Pi*math.Abs(bright)/c.fs)
	low := 0.0
	for j := max(0, from); j < min(len(c.x), from+int(7*decay*c.fs)); j++ {
		n := c.rng.NormFloat64()
		low += g * (n - low)
		if bright > 0 {
			c.x[j] += float32(level * low)
		} else {
			c.x[j] += float32(level * (n - low))
		}
		level *= fade
	}
}

// pluck adds a plucked string: noise that goes round a loop as long as the period and is averaged at each turn
// (Karplus and Strong, Computer Music Journal 7, 1983).
func (c *canvas) pluck(at, length, hz, amp float64) {
	n := max(2, int(c.fs/hz-0.5))
	loop := make([]float64, n)
	for i := range loop {
		loop[i] = amp * c.between(-1, 1)
	}
	from := int(at * c.fs)
	for i := range int(length * c.fs) {
		if j := from + i; j >= len(c.x) {
			return
		}
		k := i % n
		c.x[from+i] += float32(loop[k])
		loop[k] = 0.498 * (loop[k] + loop[(k+1)%n])
	}
}

// noise adds steady noise, its level moving slowly by depth about hz times a second.
func (c *canvas) noise(amp, bright, depth, hz float64) {
	g := 1 - math.Exp(-2*math.Pi*math.Abs(bright)/c.fs)
	low, turn := 0.0, c.between(0, 2*math.Pi)
	level := amp
	for i := range c.x {
		if i%controlFrames == 0 {
			level = amp * (1 + depth*math.Sin(2*math.Pi*hz*float64(i)/c.fs+turn))
		}
		n := c.rng.NormFloat64()
		low += g * (n - low)
		if bright > 0 {
			n = low
		} else if bright < 0 {
			n -= low
		}
		c.x[i] += float32(level * n)
	}
}

// hum adds mains hum with harmonics, its frequency wandering as the mains does.
func (c *canvas) hum(hz, amp float64) {
	c.note(voice{partials: []float64{1, 0.3, 0.5, 0.1, 0.25, 0.05, 0.15, 0.03, 0.1, 0, 0.06}, vibrato: 3e-4, shake: 0.05}, 0, c.seconds(), hz, amp)
}

// level scales the sound to a peak, and adds a little hiss, as any recording has.
func (c *canvas) level(peak, hiss float64) []float32 {
	top := float32(0)
	for _, x := range c.x {
		top = max(top, x, -x)
	}
	for i := range c.x {
		if top > 0 {
			c.x[i] *= float32(peak) / top
		}
		c.x[i] += float32(hiss * c.rng.NormFloat64())
	}
	return c.x
}

// pitch returns the frequency of a note, counted in semitones from the a of 440 Hz (equal temperament).
func pitch(semitones int) float64 { return 440 * math.Pow(2, float64(semitones)/12) }
