//go:build soak

package detect

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
)

var soakHours = flag.Float64("hours", 1, "length of each kind of sound [h]")

const (
	soakRate  = 48000
	soakTone  = 1010.0 // [Hz]
	soakLevel = 0.2    // of the tone [full scale]
	soakBlock = soakRate / 10
	soakEvery = 61 * soakRate // frames from one true opening to the next
	soakOpen  = soakRate / 2  // frames that one lasts
	soakSNR   = 10.0          // [dB]
	spikesPer = 100           // spikes of which one may cause a change that is decided and withdrawn
)

// restless is a kind of sound: contacts that stand still for most of the time, and what disturbs them.
type restless struct {
	name  string
	open  bool    // the contacts stand open and close now and then; else the other way round
	leak  float64 // of the tone past the open contacts, over its level
	turn  float64 // phase of the leak [rad]
	spike [2]float64
	hum   float64 // amplitude of its fundamental over that of the tone
	gain  bool
}

var (
	anySpike = [2]float64{0.3, 10} // peak over the tone's amplitude, from and to
	ownSpike = [2]float64{0.7, 1.3}
)

// Ten hours in which nothing may be taken for an opening or closing but the true ones, once a minute.
func TestHoursWithoutAFalseOpening(t *testing.T) {
	kinds := []restless{
		{name: "noise"},
		{name: "noise, standing open", open: true},
		{name: "spikes", spike: anySpike},
		{name: "spikes of the tone's size", spike: ownSpike},
		{name: "hum", hum: 1},
		{name: "gain control", gain: true},
		{name: "gain control, leak -12 dB", leak: 0.25, turn: 1, gain: true},
		{name: "all", spike: anySpike, hum: 0.3, gain: true},
		{name: "all, leak -12 dB", leak: 0.25, turn: 1, spike: anySpike, hum: 0.3, gain: true},
		{name: "all, standing open", open: true, spike: anySpike, hum: 0.3, gain: true},
	}
	counts := make([]alarms, len(kinds))
	var all sync.WaitGroup
	for i, k := range kinds {
		all.Go(func() { counts[i] = k.hear(t, *soakHours, uint64(i)) })
	}
	all.Wait()
	var table strings.Builder
	fmt.Fprintf(&table, "\n%-26s %6s %8s %8s %8s %8s %8s %8s %8s %8s\n", "", "hours", "spikes", "true", "missed", "decided", "placed", "settled", "lost", "astray s")
	for i, k := range kinds {
		c := counts[i]
		fmt.Fprintf(&table, "%-26s %6.2f %8d %8d %8d %8d %8d %8d %8d %8.1f\n", k.name, *soakHours, c.spikes, c.turns, c.missed, c.decided, c.placed, c.settled, c.lost, c.astray)
	}
	t.Log(table.String())
	for i, k := range kinds {
		c := counts[i]
		assert.Zero(t, c.settled, "false edges settled: %s %s", k.name, c.first)
		assert.Zero(t, c.placed, "false edges placed: %s", k.name)
		assert.LessOrEqual(t, c.decided, c.spikes/spikesPer, "false edges decided: %s %s", k.name, c.first)
		assert.Zero(t, c.missed, "true edges missed: %s", k.name)
		assert.Zero(t, c.lost, "levels lost: %s", k.name)
		assert.Zero(t, c.astray, "seconds in the wrong state: %s", k.name)
	}
}

// alarms counts what a Detector says of a sound.
type alarms struct {
	spikes, turns            int // what there was
	missed                   int // true edges that were not settled
	decided, placed, settled int // openings and closings that were none
	lost                     int
	astray                   float64 // [s] in a state that was not the true one, away from its edges
	first                    string  // false edge
}

// hear feeds a Detector that knows the levels, as a survey would tell them, for so many hours.
func (k restless) hear(t *testing.T, hours float64, seed uint64) (got alarms) {
	s := newStream(k, seed)
	closed := complex(soakLevel, 0)
	sin, cos := math.Sincos(k.turn)
	d, err := New(Config{SampleRate: soakRate, Channels: 1, Profile: Profile{
		Tone: soakTone, Closed: closed, Open: closed * complex(k.leak*cos, k.leak*sin), PhaseKnown: k.leak > 0,
		Noise: snr(soakLevel, soakSNR), Hum: s.hum(),
	}})
	if !assert.NoError(t, err) {
		return got
	}
	block := make([]float32, soakBlock)
	var events []Event
	found := map[int64]bool{}
	far := int64(0.05 * soakRate)
	for range int(hours * 36000) {
		s.fill(block)
		events = d.Process(events[:0], block)
		for _, e := range events {
			if e.Kind == KindLost {
				got.lost++
			}
			if e.Kind != KindOpen && e.Kind != KindClose {
				continue
			}
			at := s.nearest(e.Frame)
			if (e.Kind == KindOpen) == s.opens(at) && e.Frame-at < far && at-e.Frame < far {
				if e.Stage == Settled {
					found[at] = true
				}
				continue
			}
			switch e.Stage {
			case Decided:
				got.decided++
				if got.first == "" {
					got.first = fmt.Sprintf("%v at frame %d, decided %d later", e.Kind, e.Frame, e.DecidedFrame-e.Frame)
				}
			case Placed:
				got.placed++
			case Settled:
				got.settled++
			}
		}
		state, _ := d.State()
		if off := s.n - s.nearest(s.n); max(off, -off) > far && state != s.state(s.n-1) {
			got.astray += float64(soakBlock) / soakRate
		}
	}
	got.spikes = s.spikes
	last := s.n - soakRate // what lies later may be on its way
	for at := int64(soakEvery); at < last; at += soakEvery {
		for _, edge := range []int64{at, at + soakOpen} {
			if edge >= last {
				continue
			}
			got.turns++
			if !found[edge] {
				got.missed++
			}
		}
	}
	return got
}

// stream makes the sound frame by frame. The contacts leave the state in which they stand every soakEvery frames for soakOpen.
type stream struct {
	kind   restless
	rng    *rand.Rand
	n      int64
	sigma  float64
	closed complex128 // the tone at frame n, unit level
	turn   complex128 // what it goes on by
	leak   complex128
	mains  float64 // phase of the fundamental [turns]
	wander float64 // its frequency [turns/frame]
	gain   float64
	spikes int
	next   int64 // frame of the next spike
	peak   float64
}

const (
	spikeFrames = 5 // 0.1 ms
	spikesASec  = 5.0
	control     = 48 // frames for which gain and mains frequency stand
)

// humParts are the harmonics of the hum: odd ones mostly, and those near the tone too.
var humParts = []float64{1, 0.2, 0.5, 0.1, 0.25, 0.05, 0.15, 0.03, 0.1, 0.02, 0.06, 0, 0.05, 0, 0.04, 0, 0.03, 0, 0.02, 0.01, 0.02}

func newStream(k restless, seed uint64) *stream {
	rng := rand.New(rand.NewPCG(seed, 71))
	s := &stream{kind: k, rng: rng, sigma: snr(soakLevel, soakSNR), closed: 1, gain: 1, wander: 50.0 / soakRate}
	sin, cos := math.Sincos(2 * math.Pi * soakTone * (1 + 20e-6) / soakRate) // the cards' clocks differ a little
	s.turn = complex(cos, sin)
	sin, cos = math.Sincos(k.turn)
	s.leak = complex(k.leak*cos, k.leak*sin)
	s.next = math.MaxInt64
	if k.spike[1] > 0 {
		s.next = s.pause()
	}
	return s
}

func (s *stream) pause() int64 { return spikeFrames + int64(s.rng.ExpFloat64()*soakRate/spikesASec) }

// hum is what a survey learns from the first second.
func (s *stream) hum() Hum {
	if s.kind.hum == 0 {
		return Hum{}
	}
	h := Hum{Freq: 50, Harmonics: make([]complex128, len(humParts))}
	for i, p := range humParts {
		if math.Abs(50*float64(i+1)-soakTone) > humNearTone {
			h.Harmonics[i] = complex(0, -p*s.kind.hum*soakLevel) // sines
		}
	}
	return h
}

// nearest returns the frame of the true edge next to a frame, 0 before the first.
func (s *stream) nearest(frame int64) int64 {
	k := frame / soakEvery * soakEvery
	best := k
	for _, at := range []int64{k + soakOpen, k + soakEvery} {
		if max(at-frame, frame-at) < max(best-frame, frame-best) && at > soakOpen {
			best = at
		}
	}
	return best
}

// away tells that the contacts have left the state in which they stand.
func (s *stream) away(frame int64) bool { return frame >= soakEvery && frame%soakEvery < soakOpen }

func (s *stream) state(frame int64) State {
	if s.away(frame) != s.kind.open {
		return Open
	}
	return Closed
}

// opens tells that the true edge at a frame is an opening.
func (s *stream) opens(at int64) bool { return s.state(at) == Open }

// fill makes the next frames.
func (s *stream) fill(block []float32) {
	for i := range block {
		if s.n%control == 0 {
			s.steer()
		}
		v := imag(s.closed)
		if s.state(s.n) == Open {
			v = imag(s.closed * s.leak)
		}
		v = soakLevel*v + s.sigma*s.rng.NormFloat64()
		if s.kind.hum > 0 {
			v += s.humming()
		}
		if s.n >= s.next {
			v += s.spike()
		}
		block[i] = float32(s.gain * v)
		s.closed *= s.turn
		s.n++
	}
}

// steer sets what changes slowly. The gain goes up and down by 6 dB in 20 s, and comes down by 6 dB within 30 ms when there is a loud noise, twice
// a minute, to recover within a second. The mains wander by 0.05 Hz in a minute, and the hum by a third.
func (s *stream) steer() {
	t := float64(s.n) / soakRate
	s.closed /= complex(math.Hypot(real(s.closed), imag(s.closed)), 0) // against rounding
	s.wander = (50 + 0.05*math.Sin(2*math.Pi*t/60)) / soakRate
	if s.kind.gain {
		since := math.Mod(t, 29)
		s.gain = (0.75 + 0.25*math.Cos(2*math.Pi*t/20)) * (1 - 0.5*math.Min(1, since/0.03)*math.Exp(-since/0.3))
	}
}

func (s *stream) humming() float64 {
	// sin(k a) by the recurrence of Chebyshev: sin((k+1)a) = 2 cos(a) sin(k a) - sin((k-1)a).
	sin, cos := math.Sincos(2 * math.Pi * s.mains)
	before, now, sum := 0.0, sin, 0.0
	for _, p := range humParts {
		sum += p * now
		before, now = now, 2*cos*now-before
	}
	if s.mains += s.wander; s.mains >= 1 {
		s.mains--
	}
	return s.kind.hum * soakLevel * sum * (1 + 0.3*math.Sin(2*math.Pi*float64(s.n)/soakRate/45))
}

// spike is a half sine, its peak drawn anew each time, by decibels.
func (s *stream) spike() float64 {
	k := s.n - s.next
	if k == 0 {
		s.spikes++
		lo, hi := s.kind.spike[0], s.kind.spike[1]
		s.peak = soakLevel * lo * math.Pow(hi/lo, s.rng.Float64())
		if s.rng.IntN(2) == 0 {
			s.peak = -s.peak
		}
	}
	v := s.peak * math.Sin(math.Pi*(float64(k)+0.5)/spikeFrames)
	if k == spikeFrames-1 {
		s.next = s.n + s.pause()
	}
	return v
}
