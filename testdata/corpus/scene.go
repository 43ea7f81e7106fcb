package corpus

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// scene says all that happens in a recording. Of what is left 0, basic fills in rate, tone, amp, bits, openings and the two spans.
type scene struct {
	rate      float64    // [frames/s]
	tone      float64    // [Hz]
	swing     float64    // of the tone, slowly up and down [share of it]
	amp       float64    // of the tone in the loud state
	noisier   float64    // by how much the SNR is less than 40 dB [dB]
	noiseless bool       // but for the rounding
	left      complex128 // of the tone in the quiet state, over that in the loud one
	across    bool       // shunt: points closed = quiet
	openings  int
	open      [2]float64 // shortest and longest time open [s]; their logarithms are evenly spread
	closed    [2]float64
	shape     func(rate, tone float64) *Shape // nil: hard edges on whole frames
	burst     *burst
	hum       *hum
	spikes    bool
	dropouts  bool
	gain      *gain
	fade      bool
	clip      float64 // over amp; 0: none
	late      float64 // when the tone starts [s]
	stereo    bool    // tone on the right; hum and noise on the left
	bits      float64
	codec     []string // arguments of ffmpeg
}

// basic fills in what a scene leaves open.
func (s scene) basic() scene {
	or := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	or(&s.rate, 48000)
	or(&s.tone, 1000)
	or(&s.amp, 0.3)
	or(&s.bits, 16)
	or(&s.open[0], 0.05)
	or(&s.open[1], 0.3)
	or(&s.closed[0], 0.06)
	or(&s.closed[1], 0.4)
	if s.openings == 0 {
		s.openings = 60
	}
	return s
}

// change is the contacts going to a state at an instant [frames].
type change struct {
	at     float64
	closed bool
	first  bool // a first break or first make, not one of a burst
}

// burst is what contacts do before they stay: stretches in the new state, and back in the old one.
type burst struct {
	count      [2]int     // fewest and most returns
	stay, back [2]float64 // shortest and longest stretch in the new state, in the old one [s]
}

// between draws a value whose logarithm is evenly spread.
func between(rng *rand.Rand, span [2]float64) float64 {
	return span[0] * math.Pow(span[1]/span[0], rng.Float64())
}

// schedule draws the changes. It returns them with the length of the recording [frames].
func (s scene) schedule(rng *rand.Rand) (list []change, length int64) {
	at := s.late + 0.5
	place := func(closed, first bool) {
		f := at * s.rate
		if s.shape == nil {
			f = math.Round(f)
			at = f / s.rate
		}
		list = append(list, change{f, closed, first})
	}
	turn := func(closed bool) {
		place(closed, true)
		if b := s.burst; b != nil {
			for range b.count[0] + rng.IntN(b.count[1]-b.count[0]+1) {
				at += between(rng, b.stay)
				place(!closed, false)
				at += between(rng, b.back)
				place(closed, false)
			}
		}
	}
	for range s.openings {
		at += between(rng, s.closed)
		turn(false)
		at += between(rng, s.open)
		turn(true)
	}
	return list, int64((at + 0.6) * s.rate)
}

// render makes the recording called name.
func (s scene) render(name, doc string) *Take {
	s = s.basic()
	h := fnv.New64a()
	h.Write([]byte(name))
	rng := rand.New(rand.NewPCG(h.Sum64(), 0))
	list, frames := s.schedule(rng)
	sigma := 0.0
	if !s.noiseless {
		sigma = s.amp / math.Sqrt2 / math.Pow(10, (40-s.noisier)/20)
	}
	step := 1 / fullScale(s.bits)
	snr := 20 * math.Log10(s.amp/math.Sqrt2/math.Sqrt(sigma*sigma+step*step/12))
	t := &Take{Channels: 1, Hard: s.shape == nil && s.codec == nil, Truth: Truth{
		File: name + ".wav", Rate: int(s.rate), Frames: frames, Wiring: "series", FirstState: "closed", Tone: s.tone, SNR: snr,
		Left: cmplx.Abs(s.left), LeftTurn: cmplx.Phase(s.left) / (2 * math.Pi), Ignore: [][2]float64{}, Doc: doc,
	}}
	if s.across {
		t.Truth.Wiring = "shunt"
	}
	t.note(list)
	if s.late > 0 {
		t.Truth.FirstState = "open" // as far as can be heard
		t.Truth.Ignore = append(t.Truth.Ignore, [2]float64{(s.late - 0.01) * s.rate, (s.late + 0.01) * s.rate})
	}
	r := newRenderer(s, list, sigma, frames, rng)
	t.next = r.next
	if s.codec == nil && s.clip == 0 {
		t.Lone = &Step{Rate: s.rate, Tone: s.tone, SNR: snr, Left: s.left, Shape: r.gate.shape}
	}
	if s.stereo {
		t.Channels, t.Truth.Channel = 2, 1
		t.side = newSide(s, rng)
	}
	return t
}

// note puts the first breaks and makes down as edges, and each burst as a stretch to ignore, with 1 ms before and 3 ms after.
func (t *Take) note(list []change) {
	rate := float64(t.Truth.Rate)
	for i, c := range list {
		if !c.first {
			continue
		}
		kind := Open
		if c.closed {
			kind = Close
		}
		t.Truth.Edges = append(t.Truth.Edges, Edge{kind, c.at})
		last := i
		for last+1 < len(list) && !list[last+1].first {
			last++
		}
		if last > i {
			t.Truth.Ignore = append(t.Truth.Ignore, [2]float64{c.at - 0.001*rate, list[last].at + 0.003*rate})
		}
	}
}

// Recipe is how one recording is made.
type Recipe struct {
	Name string
	Doc  string // what is special about it
	// Quick tells that it takes well under a second to make.
	Quick bool
	scene scene
}

// Find returns the recipe of a name.
func Find(name string) (Recipe, error) {
	for _, r := range Recipes() {
		if r.Name == name {
			return r, nil
		}
	}
	return Recipe{}, fmt.Errorf("corpus: recording, got %q, want a name from the table of recipes", name)
}

// Render makes the recording. The error is an *exec.Error where it needs ffmpeg and that is not installed, or tells what ffmpeg would not do.
func (r Recipe) Render() (*Take, error) {
	t := r.scene.render(r.Name, r.Doc)
	if r.scene.codec == nil {
		return t, nil
	}
	return t, t.encode(r.scene.codec)
}
