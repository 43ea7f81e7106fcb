package detect

import (
	"math"
	"math/rand/v2"
	"slices"
)

// pairSynth makes the sound of two sets of points in one channel, with the noise of a. Each tone is louder by a share, couple, while the points of
// the other set are open.
type pairSynth struct {
	a, b   synth
	couple [2]float64
}

func (s pairSynth) render() []float32 {
	x := s.a.render()
	for i, y := range s.quiet(1) {
		x[i] += y
	}
	if s.couple[0] != 0 {
		plain := s.a
		plain.sigma = 0
		louder := s.quiet(0)
		for i, y := range plain.render() {
			x[i] += louder[i] - y
		}
	}
	return x
}

// quiet returns the tone of a set, 0 or 1, without noise, as the other set lets it through.
func (s pairSynth) quiet(set int) []float32 {
	one, other := s.a, s.b
	if set == 1 {
		one, other = s.b, s.a
	}
	one.sigma = 0
	x := one.render()
	isOpen, next := other.startsOpen, 0
	for i := range x {
		for next < len(other.turns) && i == other.turns[next] {
			isOpen = !isOpen
			next++
		}
		if isOpen {
			x[i] *= float32(1 + s.couple[set])
		}
	}
	return x
}

// configs are what surveys of the two sets would give.
func (s pairSynth) configs() (a, b Config) {
	a, b = s.a.config(), s.b.config()
	a.Set, b.Set = 1, 2
	return a, b
}

// run lets a new Pair hear x in blocks of so many frames.
func (s pairSynth) run(x []float32, block int) ([]Event, *Pair, error) {
	a, b := s.configs()
	p, err := NewPair(a, b)
	if err != nil {
		return nil, nil, err
	}
	return hearPair(p, x, block), p, nil
}

func hearPair(p *Pair, x []float32, block int) (ev []Event) {
	for i := 0; i < len(x); i += block {
		ev = p.Process(ev, x[i:min(i+block, len(x))])
	}
	return p.Flush(ev)
}

// ofSet returns the events of a set.
func ofSet(ev []Event, set int) []Event {
	return slices.DeleteFunc(slices.Clone(ev), func(e Event) bool { return e.Set != set })
}

// pairTake has n edges of each set at random instants; in a third of the cases both within 1 ms. The noise lies db below the weaker of the
// two tones.
func pairTake(seed uint64, n int, hz, levels [2]float64, db float64) pairSynth {
	rng := rand.New(rand.NewPCG(seed, 21))
	s := pairSynth{a: basicSynth(), b: basicSynth()}
	s.a.seed, s.a.tone, s.a.phase, s.a.closed = seed, hz[0], 2*math.Pi*rng.Float64(), complex(levels[0], 0)
	s.a.sigma = snr(min(levels[0], levels[1]), db)
	s.b.seed, s.b.tone, s.b.phase, s.b.closed = seed, hz[1], 2*math.Pi*rng.Float64(), complex(levels[1], 0)
	s.b.sigma = s.a.sigma
	s.a.turns, s.b.turns = nil, nil
	at := 30000
	for range n {
		at += 8000 + rng.IntN(10000)
		s.a.turns = append(s.a.turns, at)
		off := 1500 + rng.IntN(5000)
		if rng.IntN(3) == 0 {
			off = rng.IntN(97) - 48
		}
		s.b.turns = append(s.b.turns, at+off)
	}
	s.a.n = at + 20000
	s.b.n = s.a.n
	return s
}

// pairTally adds up how well the edges of one set are placed, beside the other set and alone in the same noise.
type pairTally struct {
	with, alone        pairErrors
	undone, unexpected int
}

type pairErrors struct {
	sq            float64
	n             int
	missed, wrong int
}

// add takes the edges found, and the frames at which they are.
func (t *pairErrors) add(got []Event, want []int) {
	const near = 240 // frames: 5 ms
	for _, w := range want {
		for len(got) > 0 && got[0].At() < float64(w)-near {
			t.wrong++
			got = got[1:]
		}
		if len(got) == 0 || got[0].At() > float64(w)+near {
			t.missed++
			continue
		}
		e := got[0].At() - float64(w)
		t.sq += e * e
		t.n++
		got = got[1:]
	}
	t.wrong += len(got)
}

// rms returns the root mean square error [frames].
func (t pairErrors) rms() float64 { return math.Sqrt(t.sq / float64(max(1, t.n))) }

// take lets a Pair hear the two sets together, and a Detector each alone.
func (s pairSynth) take(tally *[2]pairTally) error {
	x := s.render()
	ev, p, err := s.run(x, 4800)
	if err != nil {
		return err
	}
	for i, one := range []synth{s.a, s.b} {
		t := &tally[i]
		if p.Detector(i).Judge() != nil {
			t.unexpected++
		}
		mine := ofSet(ev, i+1)
		for _, e := range mine {
			switch {
			case e.Stage == Withdrawn:
				t.undone++
			case e.Kind != KindOpen && e.Kind != KindClose:
				t.unexpected++
			}
		}
		t.with.add(edges(mine), one.turns)
		alone, _, err := detectAll(one.config(), one.render(), 4800)
		if err != nil {
			return err
		}
		t.alone.add(edges(alone), one.turns)
	}
	return nil
}
