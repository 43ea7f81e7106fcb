package detect

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"sort"
)

// Survey listens to a recording, or to a stretch of live sound, once and finds the tone, its channel, the two state
// levels and the noise. Its memory does not grow with the length of the sound.
type Survey struct {
	rate, channels int
	opt            SurveyOptions
	spec           []*spectrum // one a channel; nil for channels that are not to be looked at
	frames         int64
	notFinite      int64
	mono           []float64   // one channel of a block
	hums           []humSecond // where each channel's hum is learnt
}

// SurveyOptions narrows what a Survey looks for. The zero value leaves everything to it.
type SurveyOptions struct {
	Tone    float64 // [Hz]; 0: find it
	Channel int     // from 1; 0: find it
	Wiring  Wiring
	// Beside is another tone in the same sound [Hz]; 0: there is none that is known. Hum is told from both.
	Beside float64
	Quick  bool // without the search for hum, which takes time: see AddHum
}

// MaxSurveyChannels is how many channels a Survey looks through when the channel is not given.
const MaxSurveyChannels = 64

// MaxSample is the largest magnitude taken for sound [full scale]: a float file may be scaled as 16-bit numbers, but not much beyond.
// What lies above counts as no number.
const MaxSample = maxSample

// NewSurvey returns a Survey of interleaved sound. Errors tell which argument is out of range.
func NewSurvey(sampleRate, channels int, opt SurveyOptions) (*Survey, error) {
	if err := checkFormat(sampleRate, channels); err != nil {
		return nil, err
	}
	switch {
	case opt.Channel < 0 || opt.Channel > channels:
		return nil, fmt.Errorf("detect: channel, got %d, want 1..%d", opt.Channel, channels)
	case opt.Channel == 0 && channels > MaxSurveyChannels:
		return nil, fmt.Errorf("detect: channels, got %d without a choice, want a channel named when there are more than %d", channels, MaxSurveyChannels)
	case opt.Tone != 0 && !(opt.Tone >= MinTone && opt.Tone <= MaxTone(sampleRate)):
		return nil, fmt.Errorf("detect: tone, got %g Hz, want %d..%.0f Hz at this sample rate", opt.Tone, MinTone, MaxTone(sampleRate))
	}
	s := &Survey{rate: sampleRate, channels: channels, opt: opt, spec: make([]*spectrum, channels), hums: make([]humSecond, channels)}
	for c := range s.spec {
		s.hums[c].rate = float64(sampleRate)
		if opt.Channel == 0 || opt.Channel == c+1 {
			// One bin more on either side than a tone may lie in, to see peaks at the ends.
			s.spec[c] = newSpectrum(blockLength(sampleRate), s.bin(MinTone)-1, s.bin(MaxTone(sampleRate))+1)
		}
	}
	return s, nil
}

// Write takes a block of whole interleaved frames; a tail shorter than a frame is a caller bug and panics.
// Samples that are not finite count as 0.
func (s *Survey) Write(block []float32) {
	if len(block)%s.channels != 0 {
		panic("detect: Survey.Write needs whole frames")
	}
	for len(block) > 0 {
		hear, pass := s.Next()
		n := min(hear+pass, int64(len(block)/s.channels))
		if pass > 0 {
			s.Pass(n)
		} else {
			s.hear(block[:n*int64(s.channels)])
		}
		block = block[n*int64(s.channels):]
	}
}

// Next tells what the survey does with the frames that come next: it hears so many, or passes over so many unheard, whatever they
// hold; one of the two is 0. Sound that it would pass over need not be read: Pass tells it how much was left out.
func (s *Survey) Next() (hear, pass int64) {
	gather, next := int64(0), int64(math.MaxInt64) // frames wanted for the hum now, and the frame from which on there will be more
	for c, sp := range s.spec {
		if sp == nil {
			continue
		}
		hear, pass = int64(len(sp.buf)-sp.fill), int64(sp.skip) // alike in all channels
		want, from := s.hums[c].wants(s.frames)
		gather = max(gather, want)
		if want == 0 {
			next = min(next, from)
		}
	}
	switch {
	case pass == 0:
		return hear, 0
	case gather > 0:
		return min(pass, gather), 0
	}
	return 0, min(pass, next-s.frames)
}

// Pass tells that frames were left out, 0 to what Next named; other numbers are a caller bug and panic.
func (s *Survey) Pass(frames int64) {
	if _, most := s.Next(); frames < 0 || frames > most {
		panic(fmt.Sprintf("detect: Survey.Pass, got %d frames, want 0..%d", frames, most))
	}
	for _, sp := range s.spec {
		if sp != nil {
			sp.skip -= int(frames)
			sp.seen += frames
		}
	}
	s.frames += frames
}

// hear takes frames that Next wants to hear.
func (s *Survey) hear(block []float32) {
	n := len(block) / s.channels
	if cap(s.mono) < n {
		s.mono = make([]float64, n)
	}
	mono := s.mono[:n]
	for c, sp := range s.spec {
		if sp == nil {
			continue
		}
		sum, at := sp.sum, c
		for i := range mono {
			x := float64(block[at])
			at += s.channels
			if !(math.Abs(x) <= maxSample) {
				s.notFinite++
				x = 0
			}
			if x == 0 {
				sp.zeros++
			}
			mono[i] = x
			sum += x
		}
		sp.sum = sum
		sound := mono
		if sp.lead == sp.heard { // padding up to now
			for len(sound) > 0 && sound[0] == 0 {
				sound = sound[1:]
			}
			sp.lead += int64(n - len(sound))
		}
		sp.heard += int64(n)
		dense := int64(denseSeconds) * int64(s.rate)
		if len(sound) > 0 {
			s.hums[c].add(sound, s.frames+int64(n-len(sound)), dense)
		}
		sp.add(mono, dense)
	}
	s.frames += int64(n)
}

// Findings is what a Survey knows. Frames counts all sound; everything else is from the parts of it that the survey heard: the first
// 30 s, and stretches at equal distances of what follows.
type Findings struct {
	Frames    int64
	NotFinite int64 // samples that were NaN, infinite or absurdly large, in the channels looked at
	Channel   int   // the channel with the tone, from 0
	Tone      float64
	// High and Low are the amplitudes of the louder and the quieter state [full scale]; 0 where not found.
	High, Low float64
	// Distance is |aC-aO|, the distance of the two levels in the I/Q plane [full scale]; 0 where it was not measured, because the
	// magnitudes tell the states apart.
	Distance  float64
	Noise     float64 // sigma [full scale]
	Coherence float64 // of the tone, 0..1
	Hum       Hum     // found beside the tone; zero where there is none worth taking off
	// Thinned tells that parts of the sound were passed over, so that a rare short opening may have been missed.
	Thinned bool
	Zeros   float64   // share of the samples heard that are exactly 0, 0..1
	Others  []float64 // further tones that are switched on and off [Hz], strongest first
}

// The reasons for which a recording is refused. Error texts are for people.
var (
	ErrTooShort = errors.New("the sound is too short to learn the two levels from")
	ErrSilence  = errors.New("there is only silence")
	ErrNoTone   = errors.New("there is no test tone")
	ErrNoChange = errors.New("the tone never changes: the points neither open nor close")
	ErrNotATone = errors.New("the sound comes and goes, but not like a tone through contacts (speech or music?)")
	ErrContrast = errors.New("open and closed points are too alike to be told apart")
	// ErrWhich is an ErrContrast too.
	ErrWhich     = fmt.Errorf("%w: the tone turns when they change but is equally loud, so nobody can say which is which", ErrContrast)
	ErrNoise     = errors.New("the noise (hum?) is louder than the tone")
	ErrManyTones = errors.New("several tones are switched on and off")
)

const (
	minSurvey    = 0.05 // [s] of sound that a Survey needs
	minCoherence = 0.80 // of a bin, to be a tone
	minContrast  = 1.0  // between the states [dB]
	dipsAtTurn   = 4    // pairs that a turn within them can weaken
	toneSlack    = 1e-3 // by which a tone at the end of the range may be read beyond it
	leastSteps   = 4    // steps between two phases that overrule two magnitudes at which the tone has stood: two may be lost samples
	minSpread    = 0.60 // share of the loud steady sound that must lie within 1.5 dB of the state levels
)

// Result returns the findings, and the Config of a Detector when the two states were found. Otherwise the error is one
// of the Err values above, and the findings hold what was measured. With ErrNoChange the Config is one for the tone and
// silence: a Detector finds what a thinned survey may have missed.
func (s *Survey) Result() (Config, Findings, error) {
	f := Findings{Frames: s.frames, NotFinite: s.notFinite, Channel: -1, Thinned: s.frames > denseSeconds*int64(s.rate)}
	cfg := Config{SampleRate: s.rate, Channels: s.channels, Wiring: s.opt.Wiring}
	if float64(s.frames) < minSurvey*float64(s.rate) {
		return cfg, f, ErrTooShort
	}
	cands := s.candidates()
	if len(cands) == 0 {
		for c, sp := range s.spec {
			if sp != nil && sp.zeros < sp.heard {
				f.Channel = c
				f.Zeros = float64(sp.zeros) / float64(sp.heard)
				return cfg, f, ErrNoTone
			}
		}
		f.Zeros = 1
		return cfg, f, ErrSilence
	}
	best := cands[0]
	sp := s.spec[best.channel]
	f.Channel, f.Tone, f.Coherence = best.channel, best.tone*float64(s.rate), best.coherence
	f.High, f.Low = best.levels.high, best.levels.low
	f.Noise = sp.noise()
	f.Zeros = float64(sp.zeros) / float64(sp.heard)
	for _, c := range cands[1:] {
		if c.reason == nil && c.channel == best.channel && math.Abs(c.tone-best.tone)*float64(sp.n) > 6 && c.strength > 0.02*best.strength &&
			!harmonic(c.tone, best.tone) {
			f.Others = append(f.Others, c.tone*float64(s.rate))
		}
	}
	if best.steps.n > 0 {
		f.Distance = f.High * best.steps.distance()
	}
	if best.reason != nil && best.reason != ErrNoChange {
		return cfg, f, best.reason
	}
	cfg.Channel = best.channel
	if !s.opt.Quick && (best.reason == nil || f.Thinned) { // without a change nobody will detect, and the search takes time
		if f.Hum = s.hum(f); f.Hum.tone > 0 { // hum draws what was read aside
			f.Tone = f.Hum.tone
		}
	}
	f.Tone = max(MinTone, min(f.Tone, MaxTone(s.rate)))
	cfg.Profile = Profile{Tone: f.Tone, Closed: complex(f.High, 0), Open: complex(f.Low, 0), Noise: f.Noise, Hum: f.Hum, Offset: sp.sum / float64(sp.heard)}
	if best.steps.n > 0 {
		cfg.Profile.Open, cfg.Profile.PhaseKnown = complex(f.High, 0)*best.steps.ratio, true
	}
	if s.opt.Wiring == Shunt {
		cfg.Profile.Closed, cfg.Profile.Open = cfg.Profile.Open, cfg.Profile.Closed
		if best.off != 0 && best.steps.n == 0 {
			cfg.Profile.Off = []OffLevel{{cfg.Profile.Open * best.off, CauseLeadOff}}
		}
	}
	// Open contacts read as exact zeros when a fair part of the quiet time does; otherwise zeros are lost samples.
	// Zeros before the first sound are padding, and some may be known to be lost.
	apart := float64(sp.lead)/float64(sp.heard) + lostShare(sp.trace(best.bin), 0.5*(f.High+f.Low)*best.loss*sp.gain)
	quiet := best.levels.lowShare - apart
	cfg.ZeroIsOpen = quiet > 0 && f.Zeros-apart > 0.3*quiet
	if best.reason != nil {
		return cfg, f, best.reason
	}
	return cfg, f, cfg.Validate()
}

// AddHum returns cfg, which a quick survey gave with the findings f, with the hum to take off.
func (s *Survey) AddHum(cfg Config, f Findings) Config {
	if cfg.Profile.Hum = s.hum(f); cfg.Profile.Hum.tone > 0 {
		cfg.Profile.Tone = max(MinTone, min(cfg.Profile.Hum.tone, MaxTone(s.rate)))
	}
	return cfg
}

// hum looks for hum in the channel with the tone.
func (s *Survey) hum(f Findings) Hum {
	sound, from, late := s.hums[f.Channel].pick()
	var h Hum
	if fs := float64(s.rate); s.opt.Beside > 0 {
		h = humBeside(sound, fs, [2]float64{f.Tone, s.opt.Beside}, f.High).later(-from, fs)
	} else {
		h = findHum(sound, fs, f.Tone/fs, f.High, f.Noise).later(-from, fs)
	}
	h.late = late && h.Freq > 0
	return h
}

// harmonic tells that f is a multiple of the tone g: clipping makes such.
func harmonic(f, g float64) bool {
	k := math.Round(f / g)
	return k >= 2 && math.Abs(f-k*g) < 0.005*g
}

// candidate is one tone in one channel.
type candidate struct {
	channel, bin        int
	loss                float64 // of the tone's amplitude in the bin, 0..1
	tone                float64 // cycles per sample
	coherence, strength float64
	levels              stateLevels
	steps               levelSteps // of states that differ little in magnitude; none where the magnitudes tell
	off                 complex128 // level of a clip that came off over that of open points; 0: none did
	reason              error      // why it will not do; nil when it will
}

// rank orders candidates: those that will do, then those whose two states were seen, then the others.
func (c candidate) rank() int {
	switch {
	case c.reason == nil && c.steps.n == 0:
		return 0
	case c.reason == nil:
		return 1
	case c.steps.n > 0:
		return 2
	}
	return 3
}

// change returns by how much the level changes [full scale].
func (c candidate) change() float64 {
	if c.steps.n > 0 {
		return c.levels.high * c.steps.distance()
	}
	return c.levels.high - c.levels.low
}

// candidates returns the tones, usable ones first, strongest first.
func (s *Survey) candidates() []candidate {
	var out []candidate
	for c, sp := range s.spec {
		if sp == nil || sp.pairs == 0 {
			continue
		}
		lo, hi := sp.lo+1, sp.hi-1
		if s.opt.Tone != 0 {
			lo, hi = max(lo, s.bin(s.opt.Tone)-1), min(hi, s.bin(s.opt.Tone)+1)
		}
		floor := sp.noise()
		for k := lo; k <= hi; k++ {
			if sp.prod[k] < sp.prod[k-1] || sp.prod[k] <= sp.prod[k+1] {
				continue // not a peak
			}
			if got, ok := s.candidate(c, k, floor); ok {
				out = append(out, got)
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if a, b := out[i].rank(), out[j].rank(); a != b {
			return a < b
		}
		return out[i].strength > out[j].strength
	})
	// A tone that is switched on and off reaches into the bins beside it, where a steady one, of hum or a fan, then seems to take steps: what
	// changes most is the tone itself.
	for i, c := range out {
		if c.rank() == 1 && c.change() > out[0].change() {
			copy(out[1:i+1], out[:i])
			out[0] = c
		}
	}
	return out
}

// candidate judges bin k of channel c.
func (s *Survey) candidate(c, k int, noise float64) (candidate, bool) {
	sp := s.spec[c]
	got := candidate{channel: c, bin: k, tone: sp.frequency(k), coherence: sp.coherence(k), strength: sp.prod[k]}
	lv := readLevels(sp, k)
	g := scallop((got.tone - float64(k)/float64(sp.n)) * float64(sp.n))
	if lv.high > 0 && got.coherence >= minCoherence {
		tr := sp.trace(k)
		lv.byFalls(tr, sp.gain, sp.upper[k])
		if s.opt.Wiring == Shunt {
			got.off = lv.byOff(readOff(tr, got.tone, sp.n), sp.gain, sp.upper[k])
		}
		switch st := readSteps(tr, got.tone, sp.n, lv.high*sp.gain); {
		case st.n > 0 && st.contrast() < minContrast && (st.n >= leastSteps || !lv.lowHeld):
			got.steps = st
			lv.high = st.high / sp.gain
			lv.low = lv.high * cmplx.Abs(st.ratio)
		case !lv.lowHeld && lv.dips <= dipsAtTurn*st.turned:
			lv.low = 0 // lost samples turn the tone; blocks with a turn in them are weaker, but no state
		}
	}
	lv.high, lv.low = lv.high/g, lv.low/g
	got.levels, got.loss = lv, g
	hz := got.tone * float64(s.rate)
	switch {
	case !(hz >= MinTone*(1-toneSlack) && hz <= MaxTone(s.rate)*(1+toneSlack)):
		return got, false // a bin reaches farther than a tone may lie
	case lv.high < 4*noise/math.Sqrt(float64(sp.n)) || lv.high < 1e-6:
		return got, false // no more than the noise in a bin
	case got.coherence < minCoherence:
		return got, false
	case got.steps.n > 0:
		got.reason = got.steps.reason(noise / lv.high * math.Sqrt(2/(settleWindow*hopTime*float64(s.rate))))
	case lv.low == 0:
		got.reason = ErrNoChange
	case 20*math.Log10(lv.high/lv.low) < minContrast:
		got.reason = ErrContrast
	case lv.spread < minSpread:
		got.reason = ErrNotATone
	}
	return got, true
}

func (s *Survey) bin(hz float64) int {
	return int(math.Round(hz * float64(blockLength(s.rate)) / float64(s.rate)))
}
