package bench

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"breakcue/audio"
)

// Bench is an audio.Source that plays a Config once. Changes may be added while it plays, from any goroutine: see Add.
type Bench struct {
	mu       sync.Mutex
	voice           // of the first set of points
	second   *voice // nil without a second set
	coupling [2]complex128
	frame    int64
	hum      hummer
	ticks    *ticker // nil without ticks
	noise    *rand.Rand
	closed   bool // Close was called
}

// voice is one set of points and its tone.
type voice struct {
	cfg   *Config    // its changes grow by Add
	amp   complex128 // amplitude of the tone
	tone  phasor
	level leveller
}

func newVoice(cfg Config, phase float64) voice {
	cfg.Changes = slices.Clip(cfg.Changes) // what is added does not go into the caller's slice
	v := voice{cfg: &cfg, amp: complex(Amplitude(cfg.Level), 0), tone: newPhasor(cfg.tone()/float64(cfg.SampleRate), phase)}
	if cfg.BandLimited {
		v.level = newSmooth(v.cfg)
	} else {
		v.level = newGate(v.cfg)
	}
	return v
}

// at returns the sound of frame n.
func (v *voice) at(n int64) float64 { return v.sound(n, v.level.at(n)) }

// sound returns that of frame n at a level.
func (v *voice) sound(n int64, level complex128) float64 {
	return real(v.amp * (level + v.cfg.Leak) * v.tone.at(n))
}

// bothAt returns the sound of both sets in frame n.
func (b *Bench) bothAt(n int64) float64 {
	first, second := b.level.at(n), b.second.level.at(n)
	return b.sound(n, first*b.second.couple(second, b.coupling[0])) + b.second.sound(n, second*b.voice.couple(first, b.coupling[1]))
}

// New returns the sound of a Config, or the error of its Validate. The slice of changes must not be altered while the
// Bench is in use.
func New(cfg Config) (*Bench, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	phases := rand.New(rand.NewPCG(cfg.Seed, 1))
	b := &Bench{voice: newVoice(cfg, phases.Float64()), noise: rand.New(rand.NewPCG(cfg.Seed, 2))}
	b.hum = newHummer(cfg.Hum, cfg.SampleRate, phases)
	if cfg.Second != nil {
		second := newVoice(cfg.second(), phases.Float64())
		b.second, b.coupling = &second, cfg.Second.Coupling
	}
	if cfg.Ticks.Rate > 0 && cfg.Ticks.Level > 0 {
		b.ticks = newTicker(cfg.Ticks, cfg.SampleRate, rand.New(rand.NewPCG(cfg.Seed, 3)))
	}
	return b, nil
}

// Format implements audio.Source.
func (b *Bench) Format() audio.Format {
	return audio.Format{SampleRate: b.cfg.SampleRate, Channels: b.cfg.Channels, Frames: b.cfg.Frames, Encoding: "bench"}
}

var errClosed = errors.New("bench: read after close")

// Read implements audio.Source. It never fails before the end, and it gives as many frames as dst holds until then.
func (b *Bench) Read(dst []float32) (int, error) {
	ch := b.cfg.Channels
	if len(dst) < ch {
		panic("bench: Read needs room for one frame")
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return 0, errClosed
	}
	n := int(min(int64(len(dst)/ch), b.cfg.end()-b.frame))
	if n == 0 {
		return 0, io.EOF
	}
	for i := range n {
		b.render(dst[i*ch : (i+1)*ch])
	}
	return n, nil
}

// Close implements audio.Source.
func (b *Bench) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.closed = true
	return nil
}

// render makes the next frame.
func (b *Bench) render(dst []float32) {
	common := b.hum.at(b.frame, 1)
	if b.ticks != nil {
		common += b.ticks.at(b.frame)
	}
	for i := range dst {
		x := common
		if i == b.cfg.Channel {
			if b.second != nil {
				x += b.bothAt(b.frame)
			} else {
				x += b.voice.at(b.frame)
			}
		}
		if b.cfg.Noise > 0 {
			x += b.cfg.Noise * b.noise.NormFloat64()
		}
		dst[i] = float32(max(-1, min(1, x)))
	}
	b.frame++
}

// phasor is exp(j*2*pi*(start + cycles*n)) for n = 0, 1, 2, ... in this order. It turns by multiplication, and starts
// anew from the exact angle often enough for rounding not to add up.
type phasor struct {
	cycles, start float64 // a frame; at frame 0
	step, now     complex128
	last          int64 // that was asked for, by from
}

// renew is the number of frames after which a phasor is computed anew.
const renew = 512

func newPhasor(cycles, start float64) phasor {
	return phasor{cycles: cycles, start: start, step: turn(cycles)}
}

func (p *phasor) at(n int64) complex128 {
	if n%renew == 0 {
		p.now = turn(p.start + p.cycles*float64(n))
	} else {
		p.now *= p.step
	}
	return p.now
}

// turn returns exp(j*2*pi*cycles).
func turn(cycles float64) complex128 {
	sin, cos := math.Sincos(2 * math.Pi * (cycles - math.Floor(cycles)))
	return complex(cos, sin)
}

// ticker makes spikes: one after the other, at exponentially distributed distances.
type ticker struct {
	cfg    Ticks
	rate   float64
	rng    *rand.Rand
	start  float64 // of the next spike, or of the one in progress [frames]
	length float64 // [frames]
	peak   float64 // with its sign
}

func newTicker(cfg Ticks, sampleRate int, rng *rand.Rand) *ticker {
	t := &ticker{cfg: cfg, rate: float64(sampleRate), rng: rng, length: cfg.Length * float64(sampleRate)}
	t.next(0)
	return t
}

func (t *ticker) next(from float64) {
	t.start = from + t.rng.ExpFloat64()*t.rate/t.cfg.Rate
	t.peak = t.cfg.Level
	if t.rng.IntN(2) == 0 {
		t.peak = -t.peak
	}
}

func (t *ticker) at(n int64) float64 {
	x := float64(n)
	for x >= t.start+t.length {
		t.next(t.start + t.length)
	}
	if x < t.start {
		return 0
	}
	return t.peak * math.Sin(math.Pi*(x-t.start)/t.length)
}
