package pump_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
	"breakcue/testdata/corpus"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// planeRate is the sample rate of these sounds [frames/s].
const planeRate = 48000

// part is a stretch of sound at one level, up to the next.
type part struct {
	from  int64
	level complex128
	// touch tells that the points are closed; off that the cable is: then they cannot be told.
	touch, off bool
}

// plane is a tone that goes from level to level in the I/Q plane. The bench has two levels; here each closing may have one of its own.
type plane struct {
	tone, ppm, phase float64
	parts            []part
	frames           int64
	loud             float64 // amplitude of the louder state [full scale]
	snr              float64 // of the louder state [dB]
	drift            float64 // of the gain, over its mean
	seed             uint64
}

func (p plane) sound() []float32 {
	rng := rand.New(rand.NewPCG(p.seed, 31))
	x := make([]float32, p.frames)
	sigma := bench.NoiseFor(p.loud, p.snr)
	w := 2 * math.Pi * p.tone * (1 + p.ppm*1e-6) / planeRate
	slow := 2 * math.Pi / (planeRate * (2 + 4*rng.Float64())) // 2 to 6 s
	at := 0
	for n := range x {
		for at+1 < len(p.parts) && p.parts[at+1].from <= int64(n) {
			at++
		}
		gain := 1 + p.drift*math.Sin(slow*float64(n))
		x[n] = float32(gain*real(p.parts[at].level*cmplx.Rect(1, w*float64(n)+p.phase)) + sigma*rng.NormFloat64())
	}
	return x
}

// planeCount is what became of the openings, closings and fallen leads of some sounds.
type planeCount struct {
	openings, edges, missed, false int
	sum2                           float64 // of the squares of the errors [us]
	withdrawn                      int     // decisions taken back, bounce left out
	refused                        int
}

// planeWithin is how far an edge may be found from where it is [frames].
const planeWithin = 240

// count compares what was found with the parts.
func (c *planeCount) count(parts []part, got, all []detect.Event) {
	type edge struct {
		at   int64
		open bool
	}
	var want []edge
	for i := 1; i < len(parts); i++ {
		if a, b := parts[i-1], parts[i]; !a.off && !b.off && a.touch != b.touch {
			want = append(want, edge{b.from, !b.touch})
			if !b.touch {
				c.openings++
			}
		}
	}
	c.edges += len(want)
	used := make([]bool, len(got))
	for _, w := range want {
		found := false
		for i, g := range got {
			if !used[i] && (g.Kind == detect.KindOpen) == w.open && math.Abs(g.At()-float64(w.at)) < planeWithin {
				used[i], found = true, true
				e := (g.At() - float64(w.at)) / planeRate * 1e6
				c.sum2 += e * e
				break
			}
		}
		if !found {
			c.missed++
		}
	}
	for _, u := range used {
		if !u {
			c.false++
		}
	}
	for _, e := range all {
		if e.Stage == detect.Withdrawn && e.Cause != detect.CauseBounce {
			c.withdrawn++
		}
	}
}

func (c *planeCount) add(d planeCount) {
	c.openings += d.openings
	c.edges += d.edges
	c.missed += d.missed
	c.false += d.false
	c.sum2 += d.sum2
	c.withdrawn += d.withdrawn
	c.refused += d.refused
}

func (c planeCount) rms() float64 { return math.Sqrt(c.sum2 / math.Max(1, float64(c.edges-c.missed))) }

// review hears a sound as a recording.
func (c *planeCount) review(t testing.TB, p plane, w detect.Wiring) {
	x := p.sound()
	a := analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(planeRate, 1, x), nil }, pump.Options{Wiring: w})
	if a.Refused != nil {
		c.refused++
	}
	c.count(p.parts, a.Edges, nil)
}

// live hears a sound as it comes.
func (c *planeCount) live(t testing.TB, p plane, opt pump.FollowOptions) {
	l, events := follow(t, audiotest.FromSlice(planeRate, 1, p.sound()), opt)
	got := settled(events)
	for i := range got {
		got[i] = got[i].Instant(l.EdgeModel())
	}
	c.count(p.parts, got, events)
}

// turning are so many openings of some tenths of a second; level gives the level of each closing and the one with the points open.
func turning(rng *rand.Rand, openings int, level func() (closed, open complex128)) (parts []part, frames int64) {
	closed, open := level()
	parts = append(parts, part{0, closed, true, false})
	at := 0.3 + 0.2*rng.Float64()
	for range openings {
		parts = append(parts, part{int64(at * planeRate), open, false, false})
		at += 0.06 + 0.14*rng.Float64()
		closed, open = level()
		parts = append(parts, part{int64(at * planeRate), closed, true, false})
		at += 0.06 + 0.14*rng.Float64()
	}
	return parts, int64((at + 0.4) * planeRate)
}

// turnedCables are cables in line in which a condenser turns the tone: contrast down to 1.5 dB, 20 degrees and more.
func turnedCables() (out []planeCable) {
	for _, load := range []float64{47, 100, 220, 470, 1000, 2000} {
		for _, farad := range []float64{0.1e-6, 0.22e-6, 0.4e-6} {
			for _, hz := range []float64{410, 770, 1010, 1730, 2990} {
				c := circuit.Circuit{Source: 100, Load: load, Condenser: farad, Contact: 0.1}
				l, err := c.At(hz)
				if err == nil && l.Contrast() >= 1.5 && l.Contrast() <= 20 && math.Abs(l.Turn()) >= 20 {
					out = append(out, planeCable{fmt.Sprintf("%.0f ohm, %.2f uF, %.0f Hz", load, farad*1e6, hz), hz, l})
				}
			}
		}
	}
	return out
}

type planeCable struct {
	name   string
	tone   float64
	levels circuit.Levels
}

func (p planeCable) sound(openings int, seed uint64) plane {
	rng := rand.New(rand.NewPCG(seed, 32))
	loud := math.Max(cmplx.Abs(p.levels.Closed), cmplx.Abs(p.levels.Open))
	scale := complex(0.25/loud, 0)
	s := plane{tone: p.tone, phase: 7 * rng.Float64(), loud: 0.25, snr: 30, seed: seed}
	s.parts, s.frames = turning(rng, openings, func() (complex128, complex128) { return p.levels.Closed * scale, p.levels.Open * scale })
	return s
}

// limit is the error of the most likely instant of one lone step between the two levels [us].
func (p planeCable) limit(snr float64, trials int) float64 {
	l := p.levels
	hi, lo := l.Closed, l.Open
	if cmplx.Abs(hi) < cmplx.Abs(lo) {
		hi, lo = lo, hi
	}
	return corpus.Step{Rate: planeRate, Tone: p.tone, SNR: snr, Left: lo / hi}.Limit(trials, 1).RMS
}

// sourceCoil is an engine whose source coil stays across the points, seen by a cable across: 100 ohm in the lead and a bare input of 10 kohm.
func sourceCoil(t testing.TB, openings int, snr float64, seed uint64) plane {
	const hz = 3250
	rng := rand.New(rand.NewPCG(seed, 33))
	c := circuit.Circuit{Wiring: circuit.Shunt, Series: 100, Load: 10000, Condenser: between(rng, 0.1e-6, 0.4e-6), Coil: aSourceCoil(rng, hz)}
	levels := func() circuit.Levels {
		c.Contact = between(rng, 0.05, 5)
		l, err := c.At(hz)
		require.NoError(t, err)
		return l
	}
	scale := complex(0.25/cmplx.Abs(levels().Open), 0)
	s := plane{tone: hz, phase: 7 * rng.Float64(), loud: 0.25, snr: snr, drift: 0.003, seed: seed}
	s.parts, s.frames = turning(rng, openings, func() (complex128, complex128) {
		l := levels()
		return l.Closed * scale, l.Open * scale
	})
	return s
}

// aSourceCoil is one of those that engines have (assumed): 0.8 to 4 mH, 0.3 to 0.6 ohm, and a core that loses a tenth to a half as much as it
// stores.
func aSourceCoil(rng *rand.Rand, hz float64) *circuit.Coil {
	henry := between(rng, 0.8e-3, 4e-3)
	return &circuit.Coil{R: 0.3 + 0.3*rng.Float64(), L: henry, Eddy: 2 * math.Pi * hz * henry * between(rng, 2, 10)}
}

// between draws a number, the logarithms of all being equally likely.
func between(rng *rand.Rand, a, b float64) float64 { return a * math.Pow(b/a, rng.Float64()) }

// hear hears a sound both ways: as a recording, whose clock is another one's, and live.
func hear(t testing.TB, p plane, w detect.Wiring) (recorded, live planeCount) {
	p.ppm = 40
	recorded.review(t, p, w)
	p.ppm = 0
	live.live(t, p, pump.FollowOptions{Tone: p.tone, Wiring: w})
	return recorded, live
}

// planeRows hears turned cables and source coils, so many openings in each sound; of the cables and coils every so manieth.
func planeRows(t testing.TB, openings, every int) (out []planeRow) {
	cables := turnedCables()
	row := planeRow{name: "condenser, in line, 30 dB"}
	for i := 0; i < len(cables); i += every {
		l := cables[i].limit(30, 1000)
		row.add(hear(t, cables[i].sound(openings, uint64(i)), detect.Series))
		row.limit2 += l * l
		row.sounds++
	}
	out = append(out, row)
	for _, snr := range []float64{30, 20} {
		row := planeRow{name: fmt.Sprintf("source coil, across, %.0f dB", snr)}
		for i := 0; i < 50; i += every {
			p := sourceCoil(t, openings, snr, uint64(i))
			l := planeCable{"", p.tone, circuit.Levels{Closed: p.parts[0].level, Open: p.parts[1].level}}.limit(snr, 1000)
			row.add(hear(t, p, detect.Shunt))
			row.limit2 += l * l
			row.sounds++
		}
		out = append(out, row)
	}
	return out
}

// planeRow is what became of the sounds of one kind.
type planeRow struct {
	name           string
	recorded, live planeCount
	limit2         float64
	sounds         int
}

func (r *planeRow) add(recorded, live planeCount) {
	r.recorded.add(recorded)
	r.live.add(live)
}

func (r planeRow) limit() float64 { return math.Sqrt(r.limit2 / float64(r.sounds)) }

// Openings that change mostly the phase, and openings of points whose contact resistance is another each time, are all found. The bound on the
// error is half as much again as the limit for the distance of the two levels.
func TestOpeningsInThePlane(t *testing.T) {
	for _, r := range planeRows(t, 10, 6) {
		for name, c := range map[string]planeCount{"recorded": r.recorded, "live": r.live} {
			assert.Zero(t, c.missed, "%s, %s", r.name, name)
			assert.Zero(t, c.false, "%s, %s", r.name, name)
			assert.Zero(t, c.refused, "%s, %s", r.name, name)
			assert.Zero(t, c.withdrawn, "%s, %s", r.name, name)
			assert.Less(t, c.rms(), 1.5*r.limit(), "%s, %s", r.name, name)
		}
	}
}

func BenchmarkOpeningsInThePlane(b *testing.B) {
	for b.Loop() {
		fmt.Printf("\n%30s  %8s  %9s  |  %8s %6s %6s  |  %8s %6s %6s\n", "", "openings", "limit us", "recorded", "false", "RMS us", "live", "false", "RMS us")
		for _, r := range planeRows(b, 20, 1) {
			fmt.Printf("%30s  %8d  %9.1f  |  %8d %6d %6.1f  |  %8d %6d %6.1f\n", r.name, r.recorded.openings, r.limit(),
				r.recorded.edges-r.recorded.missed, r.recorded.false, r.recorded.rms(), r.live.edges-r.live.missed, r.live.false, r.live.rms())
		}
		fmt.Println("recorded, live: edges found, two to an opening")
	}
}

// States that are equally loud are refused where nothing is known of them, with their figures; who knows the turn finds every opening.
func TestEquallyLoudStatesAreToldByTheirTurn(t *testing.T) {
	for _, degrees := range []float64{20, 90} {
		for _, snr := range []float64{30, 20} {
			c := planeCable{"", 1010, circuit.Levels{Closed: 1, Open: cmplx.Rect(1, degrees/180*math.Pi)}}
			p := c.sound(15, 3)
			p.snr, p.drift = snr, 0.003
			x := p.sound()
			a := analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(planeRate, 1, x), nil }, pump.Options{})
			require.ErrorIs(t, a.Refused, detect.ErrWhich)
			assert.Contains(t, a.Refused.Error(), "degrees apart")
			var live planeCount
			live.live(t, p, pump.FollowOptions{Tone: p.tone, Profile: &detect.Profile{Tone: p.tone, Closed: p.parts[0].level,
				Open: p.parts[1].level, PhaseKnown: true, Noise: bench.NoiseFor(p.loud, snr)}})
			assert.Zero(t, live.missed, "%g degrees, %g dB", degrees, snr)
			assert.Zero(t, live.false, "%g degrees, %g dB", degrees, snr)
			assert.Less(t, live.rms(), 1.5*c.limit(snr, 1000)+1, "%g degrees, %g dB", degrees, snr) // a few edges: 1 us for chance
		}
	}
}
