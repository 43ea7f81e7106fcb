package cli

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio/circuit"
	"breakcue/cmd/internal/leads"
	"breakcue/detect"
)

// cableLevels are the levels of a cable at a tone, as a detector gives them for a full-scale tone.
func cableLevels(t require.TestingT, c circuit.Circuit, hz, gain float64, edges int) detect.Levels {
	l, err := c.At(hz)
	require.NoError(t, err)
	return detect.Levels{Closed: gain * cmplx.Abs(l.Closed), Open: gain * cmplx.Abs(l.Open), Distance: gain * cmplx.Abs(l.Closed-l.Open),
		Noise: 1e-4, Edges: edges}
}

// Points that close with a few tenths of an ohm now and an ohm or two then are as they are: nothing has moved. A gain that has is told.
func TestContactResistanceIsNoDrift(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := circuit.Circuit{Source: 100, Series: 100, Load: 47, Input: 10e3, Condenser: 0.22e-6, Contact: 0.2}
		hz := 925.0
		if rapid.Bool().Draw(r, "across") {
			c = circuit.Circuit{Wiring: circuit.Shunt, Source: 100, Series: 100, Input: 10e3, Condenser: 0.22e-6, Contact: 0.2,
				Coil: &circuit.Coil{R: 0.5, L: 2e-3, Eddy: 50}}
			hz = 3175
		}
		w := levelWatch{tone: hz, wiring: detectWiring(c.Wiring)}
		if rapid.Bool().Draw(r, "checked") {
			l, err := c.At(hz)
			require.NoError(r, err)
			w.from = &leads.Profile{Closed: leads.Complex{real(l.Closed), imag(l.Closed)}, Open: leads.Complex{real(l.Open), imag(l.Open)}, Noise: 1e-4}
		}
		moved := rapid.SampledFrom([]float64{1, 0.7, 1.4}).Draw(r, "gain")
		n := rapid.IntRange(2*(watchFirst+watchLast), 60).Draw(r, "closings")
		for i := range n {
			k := c
			// 0.05 to 2 ohm: clean points, and such with a film.
			k.Contact = 0.05 * math.Pow(40, rapid.Float64Range(0, 1).Draw(r, "contact"))
			gain := 1.0
			if i >= n/2 {
				gain = moved
			}
			w.closing(cableLevels(r, k, hz, gain, 2*i+2))
		}
		if got := w.driftWords(); moved == 1 {
			assert.Empty(r, got)
		} else {
			assert.Contains(r, got, map[bool]string{true: "since the check of the cable", false: "since the first openings"}[w.from != nil])
		}
	})
}

// Of few openings nothing is said.
func TestTooFewOpeningsForADrift(t *testing.T) {
	c := circuit.Circuit{Source: 100, Load: 47}
	w := levelWatch{tone: 1000}
	for i := range watchFirst + watchLast - 1 {
		w.closing(cableLevels(t, c, 1000, math.Pow(2, float64(i)), 2*i))
		assert.Empty(t, w.driftWords())
	}
	w.closing(cableLevels(t, c, 1000, 64, 20))
	assert.NotEmpty(t, w.driftWords())
}

// Noise that has risen is told where it begins to matter, not where the tone still stands far above it.
func TestNoiseThatHasRisen(t *testing.T) {
	c := circuit.Circuit{Source: 100, Series: 100, Load: 47, Input: 10e3, Condenser: 0.22e-6, Contact: 0.2}
	for _, tc := range []struct {
		part float64 // of the distance between the states
		told bool
	}{{0.001, false}, {0.02, false}, {0.03, true}, {0.2, true}} {
		w := levelWatch{tone: 925, from: &leads.Profile{Noise: 1e-4}}
		now := cableLevels(t, c, 925, 1, 8)
		l, err := c.At(925)
		require.NoError(t, err)
		w.from.Closed, w.from.Open = leads.Complex{real(l.Closed), imag(l.Closed)}, leads.Complex{real(l.Open), imag(l.Open)}
		now.Noise = tc.part * now.Distance
		w.closing(now)
		w.closing(now)
		if text := w.driftWords(); tc.told {
			assert.Contains(t, text, "the noise has moved", "%g", tc.part)
		} else {
			assert.Empty(t, text, "%g", tc.part)
		}
	}
}
