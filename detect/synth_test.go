package detect

import (
	"cmp"
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// synth makes the sound of a tone through contacts for tests, independent of the code under test.
type synth struct {
	fs         int
	tone       float64    // [Hz]
	phase      float64    // [rad]
	closed     complex128 // level with the points closed
	open       complex128
	sigma      float64
	seed       uint64
	startsOpen bool
	turns      []int // frames at which the contacts change
	n          int
	// The tone's frequency wanders by so many Hz to and fro, so many times a second (0: once in 8 s).
	wander, wanderHz float64
}

// basicSynth is a series cable at 48 kHz: a tone of amplitude 0.25 while closed, nothing while open, SNR 40 dB.
func basicSynth() synth {
	return synth{fs: 48000, tone: 1000, phase: 0.7, closed: 0.25, sigma: snr(0.25, 40), seed: 1,
		turns: []int{24013, 33301, 48007, 60100, 81234, 90001}, n: 110000}
}

// snr returns the noise that leaves a tone of amplitude a so many dB above it in the full band.
func snr(a, db float64) float64 { return a / math.Sqrt2 / math.Pow(10, db/20) }

func (s synth) render() []float32 {
	rng := rand.New(rand.NewPCG(s.seed, 7))
	x := make([]float32, s.n)
	isOpen, next := s.startsOpen, 0
	to := 2 * math.Pi * cmp.Or(s.wanderHz, 0.125) / float64(s.fs)
	for i := range x {
		for next < len(s.turns) && i == s.turns[next] {
			isOpen = !isOpen
			next++
		}
		a := s.closed
		if isOpen {
			a = s.open
		}
		turn := 2 * math.Pi * s.wander / float64(s.fs) * (1 - math.Cos(to*float64(i))) / to
		v := real(a * cmplx.Rect(1, 2*math.Pi*s.tone*float64(i)/float64(s.fs)+s.phase+turn))
		x[i] = float32(v + s.sigma*rng.NormFloat64())
	}
	return x
}

// config is what a survey of the sound would give.
func (s synth) config() Config {
	return Config{SampleRate: s.fs, Channels: 1, Profile: Profile{
		Tone: s.tone, Closed: complex(cmplx.Abs(s.closed), 0), Open: complex(cmplx.Abs(s.open), 0), Noise: s.sigma}}
}

// run surveys and detects as a command does, in blocks of so many frames.
func run(x []float32, fs, block int, opt SurveyOptions) (Config, []Event, *Detector, error) {
	s, err := NewSurvey(fs, 1, opt)
	if err != nil {
		return Config{}, nil, nil, err
	}
	s.Write(x)
	cfg, _, err := s.Result()
	if err != nil {
		return cfg, nil, nil, err
	}
	ev, d, err := detectAll(cfg, x, block)
	return cfg, ev, d, err
}

func detectAll(cfg Config, x []float32, block int) ([]Event, *Detector, error) {
	d, err := New(cfg)
	if err != nil {
		return nil, nil, err
	}
	var ev []Event
	for i := 0; i < len(x); i += block {
		ev = d.Process(ev, x[i:min(i+block, len(x))])
	}
	return d.Flush(ev), d, nil
}

// edges returns the settled openings and closings.
func edges(ev []Event) (out []Event) {
	for _, e := range ev {
		if e.Stage == Settled && (e.Kind == KindOpen || e.Kind == KindClose) {
			out = append(out, e)
		}
	}
	return out
}

func frames(ev []Event) (out []int) {
	for _, e := range edges(ev) {
		out = append(out, int(e.Frame))
	}
	return out
}

func kinds(ev []Event) (out []Kind) {
	for _, e := range edges(ev) {
		out = append(out, e.Kind)
	}
	return out
}
