package circuit

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"github.com/stretchr/testify/require"
)

// listening is how a cable is listened to in the tests: tones, a resistor, and the noise of each level.
type listening struct {
	cable Circuit
	tones []float64
	ohm   float64
	noise float64
	core  func(f float64, closed, open complex128) (complex128, complex128) // what else lies across the points, nil for nothing
}

// snr40 is the noise of one level of a comb at 40 dB, relative to the largest level the cable gives: one tone at the peak level, of amplitude
// 1 and power 1/2, is 40 dB above the noise in the full band. A comb of n tones has that peak with 1/n for each at worst (all crests
// at once). One second at 48 kHz leaves 2/48000 of the noise's power in either part of a level.
func snr40(n int) float64 { return math.Sqrt(0.5e-4*2/48000) * float64(n) }

// comb returns n tones, 300..8000 Hz, evenly spaced on a log scale.
func comb(n int) (list []float64) {
	for i := range n {
		list = append(list, 300*math.Pow(8000./300, float64(i)/float64(n-1)))
	}
	return list
}

func recommended() listening {
	return listening{
		cable: Circuit{Source: 20, Series: 100, Load: 47, Input: 10e3, Lead: 0.1, Common: 0.1, LeadC: 500e-12},
		tones: comb(24), ohm: 47, noise: snr40(24),
	}
}

func across() listening {
	l := recommended()
	l.cable.Wiring, l.cable.Load = Shunt, 10e3
	return l
}

// hear returns what is heard of the circuit's points, with noise in all five levels of each tone, relative to the largest level of the cable.
func (l listening) hear(t require.TestingT, c Circuit, rng *rand.Rand) []Tone {
	var tones []Tone
	for _, f := range l.tones {
		apart, err := c.With(f, cmplx.Inf())
		require.NoError(t, err)
		together, err := c.With(f, 0)
		require.NoError(t, err)
		noise := l.noise * 0.7 * math.Max(cmplx.Abs(apart), cmplx.Abs(together))
		closed, open, err := c.Between(f)
		require.NoError(t, err)
		if l.core != nil {
			closed, open = l.core(f, closed, open)
		}
		tones = append(tones, Tone{F: f, Fixture: fixture(t, c, f, l.ohm, noise, rng),
			Closed: heard(t, c, f, closed, noise, rng), Open: heard(t, c, f, open, noise, rng)})
	}
	return tones
}

// logRange draws from lo..hi, evenly on a log scale.
func logRange(rng *rand.Rand, lo, hi float64) float64 { return lo * math.Pow(hi/lo, rng.Float64()) }

func (l listening) sourceCoil(rng *rand.Rand) *Coil {
	c := &Coil{R: 0.3 + 0.3*rng.Float64(), L: logRange(rng, 0.8e-3, 4e-3)}
	c.Eddy = lossAt * c.L / math.Tan((5+20*rng.Float64())*math.Pi/180)
	c.Plates = rng.IntN(2) == 0
	return c
}

func (l listening) batteryCoil(rng *rand.Rand) *Coil {
	c := &Coil{R: 0.5 + 3.5*rng.Float64(), L: logRange(rng, 3e-3, 10e-3), Far: []float64{0, 3}[rng.IntN(2)]}
	if rng.IntN(2) == 0 {
		c.Eddy = lossAt * c.L / math.Tan((5+20*rng.Float64())*math.Pi/180)
	}
	return c
}

// draw returns the cable connected to a kind drawn from what is met, and the kind.
func (l listening) draw(rng *rand.Rand) (Circuit, Kind) {
	c, kind := l.cable, Kind(rng.IntN(6))
	c.Contact = logRange(rng, 0.02, 30)
	c.Lead, c.Common, c.LeadC = rng.Float64(), 0.5*rng.Float64(), logRange(rng, 300e-12, 3e-9)
	switch kind {
	case Leaky:
		c.Leak = logRange(rng, 1e3, 30e3)
	case WithCondenser:
		c.Condenser = logRange(rng, 0.05e-6, 0.6e-6)
		if rng.IntN(3) == 0 {
			c.Leak = logRange(rng, 1e3, 1e6)
		}
	case WithCoil, WithBoth:
		c.Coil = l.sourceCoil(rng)
		if rng.IntN(2) == 0 {
			c.Coil = l.batteryCoil(rng)
		}
		if kind == WithBoth {
			c.Condenser = logRange(rng, 0.05e-6, 0.6e-6)
		}
	case Short:
		c.Leak = c.Contact
	}
	return c, kind
}
