package audio

import (
	"fmt"
	"math"
	"time"
)

// DBFS returns the level of a sine of the given amplitude (1 = full scale) in dB relative to a full-scale sine:
// 20*log10(|amplitude|). Amplitude 0 gives -Inf, NaN gives NaN.
func DBFS(amplitude float64) float64 { return 20 * math.Log10(math.Abs(amplitude)) }

// Amplitude is the inverse of DBFS: 10^(dbfs/20), the amplitude (1 = full scale) of a sine of that level.
// -Inf gives 0, NaN gives NaN.
func Amplitude(dbfs float64) float64 { return math.Pow(10, dbfs/20) }

// SoftStart is how long a Tone takes to reach its level, unless SetRamp says otherwise, by a raised cosine. It keeps the
// click of a hard start, which is heard and looks like an edge, out of the sound.
const SoftStart = 5 * time.Millisecond

// Tone generates a sine, without a break of phase however it is cut into blocks. Its phase is kept as a fraction of a
// turn in 64 bits: it wraps exactly and gathers no rounding error, so a Tone may run for days.
type Tone struct {
	amplitude float64
	rate      float64 // [frames/s]
	phase     uint64  // of the next frame, in turns/2^64
	step      uint64  // a frame, in turns/2^64
	frame     int64   // frames made so far
	ramp      ramp
}

// NewTone returns a Tone that starts at phase 0 with a soft start. The frequency hz must be more than 0 and less than
// half of sampleRate [frames/s, 1 or more]; the level dbfs must be at most 0; -Inf is silence.
func NewTone(hz, dbfs float64, sampleRate int) (*Tone, error) {
	if sampleRate < 1 {
		return nil, fmt.Errorf("audio: sample rate, got %d, want 1 or more frames/s", sampleRate)
	}
	rate := float64(sampleRate)
	if !(hz > 0 && hz < rate/2) {
		return nil, fmt.Errorf("audio: tone, got %g Hz, want more than 0 and less than %g", hz, rate/2)
	}
	if !(dbfs <= 0) {
		return nil, fmt.Errorf("audio: tone level, got %g dBFS, want 0 or less", dbfs)
	}
	t := &Tone{amplitude: Amplitude(dbfs), rate: rate, step: uint64(math.Round(hz / rate * (1 << 63) * 2))}
	t.SetRamp(SoftStart)
	return t, nil
}

// SetRamp sets how long the tone takes from silence to its level and back, rounded to frames; with 0 or less the level is
// there after one frame. A ramp under way goes on from where it is.
func (t *Tone) SetRamp(d time.Duration) { t.ramp.set(d, t.rate) }

// Stop lets the tone fall silent by its ramp, from the next frame. Its phase goes on, so that Start brings it back in step.
func (t *Tone) Stop() { t.ramp.stopped = true }

// Start lets the tone rise again after Stop, from whatever level it has.
func (t *Tone) Start() { t.ramp.stopped = false }

// Silent tells whether the tone was stopped and has come to its end: until Start, every sample is 0.
func (t *Tone) Silent() bool { return t.ramp.silent() }

// Fill writes the next len(dst)/channels frames of the tone to one channel, counted from 0, of the interleaved dst and
// leaves the other channels as they are. It panics unless 0 <= channel < channels.
func (t *Tone) Fill(dst []float32, channels, channel int) { t.run(dst, channels, channel, false) }

// Add is Fill, except that the tone is added to what the channel holds.
func (t *Tone) Add(dst []float32, channels, channel int) { t.run(dst, channels, channel, true) }

// Frames returns how many frames the tone has made so far.
func (t *Tone) Frames() int64 { return t.frame }

// run makes the next frames of the tone and adds them to, or puts them in the place of, what the channel holds.
func (t *Tone) run(dst []float32, channels, channel int, add bool) {
	if channel < 0 || channel >= channels {
		panic(fmt.Sprintf("audio: channel, got %d, want 0..%d", channel, channels-1))
	}
	frames := len(dst) / channels
	for i := range frames {
		v := t.amplitude * t.ramp.gain() * math.Sin(2*math.Pi*float64(t.phase)/(1<<63)/2)
		p := &dst[i*channels+channel]
		if add {
			*p += float32(v)
		} else {
			*p = float32(v)
		}
		t.phase += t.step
		t.frame++
		t.ramp.step()
	}
}
