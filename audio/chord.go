package audio

import (
	"fmt"
	"math"
	"math/cmplx"
	"time"
)

// Chord says what is to be played on one channel: several sines of the same amplitude at once. One is a plain tone, none is silence.
type Chord struct {
	Hz    []float64 // each more than 0, less than half of the sample rate
	Level float64   // of the peak of all together [dB relative to full scale], at most 0
}

// Comb generates a Chord with a soft start. The phase of each tone is a function of the absolute frame: stretches of one stream are
// coherent with each other, also after others were played between them. The phases are chosen such that the peak is low beside
// the power: for tones at equal distances phase k is pi*k^2/N (Newman's phases; S. Boyd, Multitone signals with low crest
// factor, IEEE Transactions on Circuits and Systems 33, 1986, from memory), and bettered from there for others.
//
// The amplitude is such that the highest sample has the Chord's level. Where all tones are whole Hz, one second holds all samples
// that there are; otherwise later ones may be a little higher, but never above full scale.
type Comb struct {
	amplitude float64
	tones     []partial
	rate      float64 // [frames/s]
	frame     int64   // absolute number of the next frame
	ramp      ramp
}

// partial is one tone of a Comb.
type partial struct {
	start uint64 // phase at frame 0, in turns/2^64
	cycle uint64 // a frame, in turns/2^64
	turn  complex128
	now   complex128 // at the next frame
}

// renewed is the number of frames after which the phasors are made anew from the exact phase, so that rounding does not add up.
// It happens at multiples of absolute frames: what is played does not depend on where a stretch begins.
const renewed = 64

// MaxTones is how many tones a Chord may have.
const MaxTones = 256

// NewComb returns a Comb at frame 0 for a sample rate [frames/s, 1 or more]. Errors: a tone, a level or a rate out of range.
func NewComb(c Chord, sampleRate int) (*Comb, error) {
	if sampleRate < 1 {
		return nil, fmt.Errorf("audio: sample rate, got %d, want 1 or more frames/s", sampleRate)
	}
	if len(c.Hz) > MaxTones {
		return nil, fmt.Errorf("audio: tones of a chord, got %d, want 0..%d", len(c.Hz), MaxTones)
	}
	rate := float64(sampleRate)
	g := &Comb{rate: rate, tones: make([]partial, len(c.Hz))}
	for i, hz := range c.Hz {
		if !(hz > 0 && hz < rate/2) {
			return nil, fmt.Errorf("audio: tone %d of a chord, got %g Hz, want more than 0 and less than %g", i+1, hz, rate/2)
		}
		g.tones[i].cycle = turns64(hz / rate)
		g.tones[i].turn = cmplx.Rect(1, 2*math.Pi*hz/rate)
	}
	if !(c.Level <= 0) {
		return nil, fmt.Errorf("audio: level of a chord, got %g dBFS, want 0 or less", c.Level)
	}
	g.ramp.set(SoftStart, rate)
	if len(c.Hz) > 0 {
		g.amplitude = Amplitude(c.Level) / g.choosePhases(c.Hz, sampleRate)
	}
	g.GoTo(0)
	return g, nil
}

// SetRamp sets how long the comb takes from silence to its level and back, as Tone.SetRamp does.
func (g *Comb) SetRamp(d time.Duration) { g.ramp.set(d, g.rate) }

// Stop lets the comb fall silent by its ramp, from the next frame.
func (g *Comb) Stop() { g.ramp.stopped = true }

// Start lets the comb rise again after Stop, from whatever level it has.
func (g *Comb) Start() { g.ramp.stopped = false }

// Silent tells whether the comb was stopped and has come to its end: until Start, every sample is 0.
func (g *Comb) Silent() bool { return g.ramp.silent() }

// Frame returns the absolute number of the next frame.
func (g *Comb) Frame() int64 { return g.frame }

// GoTo makes frame, 0 or more, the absolute number of the next frame; the ramp stays where it is.
func (g *Comb) GoTo(frame int64) {
	g.frame = frame
	before := frame % renewed
	for i := range g.tones {
		t := &g.tones[i]
		t.renew(frame - before)
		for range before {
			t.now *= t.turn
		}
	}
}

// Level returns the amplitude of each tone [full scale] with its phase at frame 0: tone k is Re(level*exp(j*2*pi*f*n/rate)) at frame n.
// k counts from 0, in the order of the Chord; it panics for one that is not there.
func (g *Comb) Level(k int) complex128 {
	return cmplx.Rect(g.amplitude, 2*math.Pi*(float64(g.tones[k].start)/(1<<63)/2-0.25))
}

// Add makes the next len(dst)/channels frames and adds them to one channel, counted from 0, of the interleaved dst. It panics unless
// 0 <= channel < channels. It neither allocates nor locks.
func (g *Comb) Add(dst []float32, channels, channel int) {
	if channel < 0 || channel >= channels {
		panic(fmt.Sprintf("audio: channel, got %d, want 0..%d", channel, channels-1))
	}
	for i := channel; i < len(dst)/channels*channels; i += channels {
		v := g.amplitude * g.ramp.gain() * g.sum()
		dst[i] += float32(max(-1, min(1, v)))
		g.next()
		g.ramp.step()
	}
}

// sum returns all tones at the next frame, each of amplitude 1.
func (g *Comb) sum() (v float64) {
	for i := range g.tones {
		v += imag(g.tones[i].now)
	}
	return v
}

// next goes on by a frame.
func (g *Comb) next() {
	g.frame++
	if g.frame%renewed == 0 {
		for i := range g.tones {
			g.tones[i].renew(g.frame)
		}
		return
	}
	for i := range g.tones {
		g.tones[i].now *= g.tones[i].turn
	}
}

// renew makes the phasor for a frame. The product wraps at whole turns: it is exact for any frame.
func (t *partial) renew(frame int64) {
	t.now = cmplx.Rect(1, 2*math.Pi*float64(t.start+t.cycle*uint64(frame))/(1<<63)/2)
}

// phaseWork limits the search for phases to so many tones times frames, phaseRounds to so many rounds; each clips at phaseClip of the peak.
const (
	phaseWork   = 8e6
	phaseRounds = 100
	phaseClip   = 0.7
)

// choosePhases sets phases with a low peak, and returns that peak for tones of amplitude 1. Newman's phases are bettered, for tones at
// other than equal distances, by going to and fro between time and frequency: the sum is clipped, and its tones' phases are taken
// (E. van der Ouderaa, J. Schoukens, J. Renneboog, IEEE Transactions on Instrumentation and Measurement 37, 1988, from memory).
func (g *Comb) choosePhases(hz []float64, sampleRate int) float64 {
	if len(hz) == 1 {
		return 1
	}
	frames := period(hz, sampleRate)
	best := make([]uint64, len(hz))
	g.setPhases()
	lowest := math.Inf(1)
	for round := 1; ; round++ {
		p := g.peak(frames)
		if p < lowest {
			lowest = p
			for k := range best {
				best[k] = g.tones[k].start
			}
		}
		if round > phaseRounds || 2*float64(round)*float64(frames)*float64(len(hz)) > phaseWork {
			break
		}
		g.clipPhases(frames, phaseClip*p)
	}
	for k := range best {
		g.tones[k].start = best[k]
	}
	return lowest
}

// clipPhases takes the phases of the sum clipped at top.
func (g *Comb) clipPhases(frames int, top float64) {
	sums := make([]complex128, len(g.tones))
	g.GoTo(0)
	for range frames {
		v := complex(max(-top, min(top, g.sum())), 0)
		for k := range sums {
			sums[k] += v * cmplx.Conj(g.tones[k].now)
		}
		g.next()
	}
	for k, z := range sums {
		g.tones[k].start += turns64(cmplx.Phase(z)/(2*math.Pi) + 0.25) // a sine of amplitude 1 gives -j/2 a frame
	}
}

// setPhases sets Newman's.
func (g *Comb) setPhases() {
	for k := range g.tones {
		g.tones[k].start = turns64(float64(k*k) / float64(2*len(g.tones)))
	}
}

// peak returns the highest magnitude in so many frames.
func (g *Comb) peak(frames int) (p float64) {
	g.GoTo(0)
	for range frames {
		p = max(p, math.Abs(g.sum()))
		g.next()
	}
	return p
}

// period returns the number of frames after which tones of whole Hz begin anew, or those of a second.
func period(hz []float64, sampleRate int) int {
	common := sampleRate
	for _, f := range hz {
		if f != math.Trunc(f) {
			return sampleRate
		}
		common = gcd(common, int(f))
	}
	return sampleRate / common
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// turns64 returns a number of turns as a fraction of 2^64, without whole turns.
func turns64(x float64) uint64 {
	x -= math.Floor(x)
	return uint64(math.Round(x*(1<<63))) * 2
}
