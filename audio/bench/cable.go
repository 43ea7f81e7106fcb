package bench

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"breakcue/audio"
)

// Cable is an audio.Source that poses as a sound card with a cable: what is played on it comes back through the cable, whose clips are
// moved while it runs. What is played is switched as on a live.Stream. It has no clock: it plays as fast as it is read. Its methods may be
// called from any goroutine, Read and Close as of any Source.
type Cable struct {
	mu     sync.Mutex
	cfg    CableConfig
	clips  Clips
	frame  int64 // of the input, losses included
	behind int64 // frames lost in silence: the output is so far ahead
	loss   int   // of those in the Config, the next
	sounds []*sounding
	combs  []*sounding // that were played, for their phases: finding these takes a while
	full   int64       // frame from which the last that was asked for stands at its level
	hum    hummer
	noise  *rand.Rand
	auto   autoGain
	steady suppressor
	closed bool
}

// sounding is something that is played: its tones as they come back.
type sounding struct {
	level  float64
	hz     []float64
	played []complex128 // amplitudes with the phases at frame 0 of the output
	back   []complex128 // the same through the cable
	turns  []phasor
	from   int64 // frame of the output at which it begins to rise
	until  int64 // at which it begins to fall; math.MaxInt64 while it sounds
}

// NewCable returns the sound of a CableConfig, with nothing played, or the error of its Validate.
func NewCable(cfg CableConfig) (*Cable, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	phases := rand.New(rand.NewPCG(cfg.Seed, 1))
	c := &Cable{cfg: cfg, clips: cfg.Clips, noise: rand.New(rand.NewPCG(cfg.Seed, 2))}
	c.auto = newAutoGain(cfg.Auto, cfg.SampleRate)
	c.steady = newSuppressor(cfg.Suppress, cfg.SampleRate)
	c.hum = newHummer(cfg.Hum, cfg.SampleRate, phases)
	return c, nil
}

// Format implements audio.Source.
func (c *Cable) Format() audio.Format {
	return audio.Format{SampleRate: c.cfg.SampleRate, Channels: c.cfg.Channels, Frames: c.cfg.Frames, Encoding: "bench"}
}

// ramp is how long a sound rises and falls [frames].
func (c *Cable) ramp() int64 {
	return max(1, int64(math.Round(audio.SoftStart.Seconds()*float64(c.cfg.SampleRate))))
}

// Play has a chord played from the next frame on, in the place of what was played before: see live.Stream.
func (c *Cable) Play(chord audio.Chord) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	s, err := c.sounding(chord)
	if err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	now := c.frame + c.behind
	for _, s := range c.sounds {
		s.until = min(s.until, now)
	}
	s.from, s.until = now, math.MaxInt64
	s.pass(c.cfg, c.clips)
	c.sounds = append(c.sounds, s)
	c.full = c.frame + c.ramp()
	return nil
}

// sounding returns a chord as it is played.
func (c *Cable) sounding(chord audio.Chord) (*sounding, error) {
	for _, s := range c.combs {
		if s.level == chord.Level && slices.Equal(s.hz, chord.Hz) {
			return &sounding{level: s.level, hz: s.hz, played: s.played, turns: slices.Clone(s.turns)}, nil
		}
	}
	comb, err := audio.NewComb(chord, c.cfg.SampleRate)
	if err != nil {
		return nil, err
	}
	s := &sounding{level: chord.Level, hz: slices.Clone(chord.Hz)}
	for k, hz := range s.hz {
		s.played = append(s.played, comb.Level(k))
		s.turns = append(s.turns, newPhasor(hz/float64(c.cfg.SampleRate), 0))
	}
	c.combs = append(c.combs, s)
	return s, nil
}

// Playing returns the frame from which what was given to Play last stands at its level; false before any Play.
func (c *Cable) Playing() (from int64, ok bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.full, c.full > 0
}

// Clip puts the clips on something else, from the next frame on. It panics for what is none of the Clips.
func (c *Cable) Clip(on Clips) {
	if on >= clipsCount {
		panic(fmt.Sprintf("bench: clips, got %d, want 0..%d", on, clipsCount-1))
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.clips = on
	c.steady.begin(c.frame)
	for _, s := range c.sounds {
		s.pass(c.cfg, on)
	}
}

// Frame returns the number of the next frame, lost ones included.
func (c *Cable) Frame() int64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.frame
}

// Read implements audio.Source: it gives as many frames as dst holds up to the end or to the next loss that is told.
func (c *Cable) Read(dst []float32) (int, error) {
	ch := c.cfg.Channels
	if len(dst) < ch {
		panic("bench: Read needs room for one frame")
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return 0, errClosed
	}
	n := 0
	for ; n < len(dst)/ch && (c.cfg.Frames == Endless || c.frame < c.cfg.Frames); n++ {
		if l, ok := c.lost(); ok && l.Kind == Told {
			if n > 0 {
				break
			}
			c.frame += l.Frames
			c.loss++
			return 0, &audio.GapError{At: c.frame, Lost: l.Frames}
		} else if ok && l.Kind == Silent {
			c.behind += l.Frames
			c.loss++
		}
		c.render(dst[n*ch : (n+1)*ch])
	}
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// lost returns the loss that is under way at the next frame.
func (c *Cable) lost() (Loss, bool) {
	for c.loss < len(c.cfg.Losses) {
		l := c.cfg.Losses[c.loss]
		if l.Kind == Zeros && c.frame >= l.At+l.Frames {
			c.loss++
			continue
		}
		return l, c.frame >= l.At
	}
	return Loss{}, false
}

// Close implements audio.Source.
func (c *Cable) Close() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.closed = true
	return nil
}

// render makes the next frame. What is heard now was played Delay frames ago; frames lost in silence were played all the same.
func (c *Cable) render(dst []float32) {
	x := c.hum.at(c.frame, Amplitude(c.cfg.HumOn[c.clips]))
	out := c.frame + c.behind - int64(c.cfg.Delay)
	for i := 0; i < len(c.sounds); i++ {
		s := c.sounds[i]
		if out >= s.until+c.ramp() && s.until != math.MaxInt64 {
			c.sounds = append(c.sounds[:i], c.sounds[i+1:]...)
			i--
			continue
		}
		if out == s.from || out == s.until {
			c.steady.begin(c.frame)
		}
		x += s.at(out, c.ramp())
	}
	l, ok := c.lost()
	for i := range dst {
		v := 0.0
		if i == c.cfg.Channel {
			v = x
		}
		if c.cfg.Noise > 0 {
			v += c.cfg.Noise * c.noise.NormFloat64()
		}
		if i == c.cfg.Channel {
			v *= c.auto.next(v) * c.steady.at(c.frame)
		}
		dst[i] = float32(max(-1, min(1, v+c.cfg.Offset)))
		if ok && l.Kind == Zeros {
			dst[i] = 0
		}
	}
	c.frame++
}

// pass sets what comes back with the clips on something.
func (s *sounding) pass(cfg CableConfig, on Clips) {
	s.back = s.back[:0]
	for k, hz := range s.hz {
		s.back = append(s.back, s.played[k]*cfg.level(on, hz))
	}
}

// at returns what comes back of the output's frame n.
func (s *sounding) at(n, ramp int64) (x float64) {
	if n < s.from {
		return 0
	}
	for k := range s.turns {
		z := s.back[k] * s.turns[k].from(n)
		x += real(z)
	}
	return x * raised(n-s.from, ramp) * (1 - raised(n-s.until, ramp))
}

// raised is the raised cosine from 0 to 1, n frames after its beginning.
func raised(n, ramp int64) float64 {
	switch {
	case n <= 0:
		return 0
	case n >= ramp:
		return 1
	}
	return (1 - math.Cos(math.Pi*float64(n)/float64(ramp))) / 2
}

// from is at for numbers that need not begin with 0 nor follow each other.
func (p *phasor) from(n int64) complex128 {
	if n%renew == 0 || n != p.last+1 {
		p.now = turn(p.start + math.Mod(p.cycles*float64(n), 1))
	} else {
		p.now *= p.step
	}
	p.last = n
	return p.now
}
