package circuit

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// heard is the level of z through c as a sound card has it: with a gain, a delay and a leak from output to input, and with noise.
func heard(t require.TestingT, c Circuit, f float64, z complex128, noise float64, rng *rand.Rand) Measured {
	level, err := c.With(f, z)
	require.NoError(t, err)
	level = 0.02i*complex(f/1e4, 0) + cmplx.Rect(0.7, -2*math.Pi*f*0.003)*level
	if noise > 0 {
		level += complex(noise*rng.NormFloat64(), noise*rng.NormFloat64())
	}
	return Measured{Level: level, Noise: noise}
}

func fixture(t require.TestingT, c Circuit, f, ohm, noise float64, rng *rand.Rand) Fixture {
	fix, err := NewFixture(heard(t, c, f, cmplx.Inf(), noise, rng), heard(t, c, f, 0, noise, rng),
		heard(t, c, f, complex(ohm, 0), noise, rng), ohm, 0)
	require.NoError(t, err)
	return fix
}

func anyCable(t *rapid.T) Circuit {
	return Circuit{
		Wiring: Wiring(rapid.IntRange(0, 1).Draw(t, "wiring")),
		Source: rapid.Float64Range(10, 600).Draw(t, "source"),
		Series: rapid.Float64Range(0, 100).Draw(t, "series"),
		Load:   rapid.Float64Range(10, 1000).Draw(t, "load"),
		Input:  rapid.Float64Range(10e3, 50e3).Draw(t, "input"),
		Block:  rapid.SampledFrom([]float64{0, 1e-6, 10e-6}).Draw(t, "block"),
		Lead:   rapid.Float64Range(0, 1).Draw(t, "lead"),
		Common: rapid.Float64Range(0, 1).Draw(t, "common"),
		LeadC:  rapid.Float64Range(0, 3e-9).Draw(t, "leadC"),
	}
}

// Forward, through the model of the cable, then backward gives the impedance back, whatever the cable.
func TestImpedanceComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, f := anyCable(t), rapid.Float64Range(300, 8000).Draw(t, "f")
		z := complex(rapid.Float64Range(0, 2000).Draw(t, "re"), rapid.Float64Range(-2000, 2000).Draw(t, "im"))
		fix := fixture(t, c, f, rapid.Float64Range(10, 200).Draw(t, "resistor"), 0, nil)
		m := heard(t, c, f, z, 0, nil)
		got, err := fix.Impedance(m)
		require.NoError(t, err)
		// Rounding: a few digits of 16 are lost where an impedance is far from the resistor and the cable's own.
		assert.InDelta(t, 0, cmplx.Abs(got.Z-z), 1e-7*(1+cmplx.Abs(z)))
		assert.InDelta(t, 0, cmplx.Abs(fix.Level(z)-m.Level), 1e-12)
		assert.Less(t, got.U, 1e-300, "there is no noise")
		assert.False(t, fix.Assumed())
	})
}

// A cable that is assumed rightly gives the same as one measured on a resistor.
func TestAssumedFixture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, f := anyCable(t), rapid.Float64Range(300, 8000).Draw(t, "f")
		z := complex(rapid.Float64Range(0, 500).Draw(t, "re"), rapid.Float64Range(-500, 500).Draw(t, "im"))
		fix, err := AssumeFixture(f, heard(t, c, f, cmplx.Inf(), 0, nil), heard(t, c, f, 0, 0, nil), c, 0.1)
		require.NoError(t, err)
		assert.True(t, fix.Assumed())
		got, err := fix.Impedance(heard(t, c, f, z, 0, nil))
		require.NoError(t, err)
		assert.InDelta(t, 0, cmplx.Abs(got.Z-z), 1e-7*(1+cmplx.Abs(z))) // rounding
		assert.Equal(t, 0.1, got.Rel)
	})
}

// The stated uncertainty is the scatter of many draws, with all levels noisy.
func TestImpedanceUncertainty(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, tt := range []struct {
		name    string
		c       Circuit
		z       complex128
		assumed bool
	}{
		{"in line, resistor's size", Circuit{Source: 10, Series: 100, Load: 47}, 30 - 60i, false},
		{"in line, small", Circuit{Source: 10, Series: 100, Load: 47}, 0.5, false},
		{"in line, large", Circuit{Source: 10, Series: 100, Load: 47}, -700i, false},
		{"in line, assumed", Circuit{Source: 10, Series: 100, Load: 47}, 30 - 60i, true},
		{"across", Circuit{Wiring: Shunt, Source: 100, Series: 100, Load: 10e3, Common: 0.1}, 20i, false},
		{"across, assumed", Circuit{Wiring: Shunt, Source: 100, Series: 100, Load: 10e3, Common: 0.1}, 20i, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var re, im, u float64
			const draws = 4000
			for range draws {
				fix := fixture(t, tt.c, 1000, 47, 1e-4, rng)
				if tt.assumed {
					var err error
					fix, err = AssumeFixture(1000, fix.apart, fix.together, tt.c, 0)
					require.NoError(t, err)
				}
				got, err := fix.Impedance(heard(t, tt.c, 1000, tt.z, 1e-4, rng))
				require.NoError(t, err)
				re += square(real(got.Z - tt.z))
				im += square(imag(got.Z - tt.z))
				u += square(got.U)
			}
			// The root of a mean of 4000 squares scatters by 1.1 %; the noise is of second order, up to 1 % here.
			assert.InEpsilon(t, math.Sqrt(u), math.Sqrt(re), 0.05)
			assert.InEpsilon(t, math.Sqrt(u), math.Sqrt(im), 0.05)
		})
	}
}

// An impedance that is too large to tell has a least magnitude, which it has.
func TestBeyond(t *testing.T) {
	c, rng := Circuit{Source: 10, Series: 100, Load: 47}, rand.New(rand.NewPCG(3, 4))
	for _, noise := range []float64{0, 1e-5, 1e-4} {
		fix := fixture(t, c, 1000, 47, noise, rng)
		apart := heard(t, c, 1000, cmplx.Inf(), noise, rng)
		_, err := fix.Impedance(apart)
		var beyond *BeyondError
		require.ErrorAs(t, err, &beyond)
		// The cable's 157 ohm over the noise of 1 of 0.21, at some deviations: of that order.
		assert.Greater(t, beyond.AtLeast, 157*0.21/(20*noise+1e-12))
		assert.ErrorContains(t, err, "circuit: level, got that of clips held apart")
	}
}

func TestReferencesThatAreAlike(t *testing.T) {
	far := []Measured{{Level: 0.01}, {Level: 0.9}, {Level: 0.6}}
	for _, tt := range []struct{ a, b Reference }{{Apart, Together}, {Apart, Resistor}, {Together, Resistor}} {
		m := append([]Measured(nil), far...)
		m[tt.b] = m[tt.a]
		m[tt.a].Noise, m[tt.b].Noise = 3e-4, 4e-4
		for _, off := range []complex128{0, 4.9e-3i} { // 10 times 5e-4 is the limit
			m[tt.b].Level = m[tt.a].Level + off
			_, err := NewFixture(m[Apart], m[Together], m[Resistor], 47, 0)
			var alike *AlikeError
			require.ErrorAs(t, err, &alike)
			assert.Equal(t, [2]Reference{tt.a, tt.b}, [2]Reference{alike.A, alike.B})
			assert.InDelta(t, cmplx.Abs(off), alike.Distance, 1e-12)
			assert.InDelta(t, 5e-4, alike.Noise, 1e-12)
			assert.ErrorContains(t, err, tt.a.String()+" and "+tt.b.String())
		}
		m[tt.b].Level = m[tt.a].Level + 5.1e-3i
		_, err := NewFixture(m[Apart], m[Together], m[Resistor], 47, 0)
		require.NoError(t, err)
	}
	_, err := AssumeFixture(1000, far[0], far[0], Circuit{Load: 47, Source: 10}, 0)
	var alike *AlikeError
	require.ErrorAs(t, err, &alike)
}

func TestBadReferences(t *testing.T) {
	ok := [3]Measured{{Level: 0.01}, {Level: 0.9}, {Level: 0.6}}
	for _, tt := range []struct {
		want string
		edit func(m *[3]Measured, ohm, rel *float64)
	}{
		{"known resistor [ohm], got 0, want more than 0", func(_ *[3]Measured, ohm, _ *float64) { *ohm = 0 }},
		{"known resistor [ohm], got NaN", func(_ *[3]Measured, ohm, _ *float64) { *ohm = math.NaN() }},
		{"known resistor [ohm], got +Inf", func(_ *[3]Measured, ohm, _ *float64) { *ohm = math.Inf(1) }},
		{"relative uncertainty of the resistance, got 1,", func(_ *[3]Measured, _, rel *float64) { *rel = 1 }},
		{"relative uncertainty of the resistance, got NaN", func(_ *[3]Measured, _, rel *float64) { *rel = math.NaN() }},
		{"level of clips apart, got (NaN", func(m *[3]Measured, _, _ *float64) { m[0].Level = complex(math.NaN(), 0) }},
		{"level of clips together, got", func(m *[3]Measured, _, _ *float64) { m[1].Level = cmplx.Inf() }},
		{"noise of the level of clips on the resistor, got -1", func(m *[3]Measured, _, _ *float64) { m[2].Noise = -1 }},
		{"noise of the level of clips apart, got +Inf", func(m *[3]Measured, _, _ *float64) { m[0].Noise = math.Inf(1) }},
	} {
		m, ohm, rel := ok, 47.0, 0.0
		tt.edit(&m, &ohm, &rel)
		_, err := NewFixture(m[0], m[1], m[2], ohm, rel)
		require.ErrorContains(t, err, "circuit: "+tt.want)
	}
	_, err := AssumeFixture(1000, ok[0], ok[1], Circuit{}, 0)
	require.ErrorContains(t, err, "circuit: load resistance")
	_, err = AssumeFixture(0, ok[0], ok[1], Circuit{Load: 47}, 0)
	require.ErrorContains(t, err, "circuit: frequency")
	_, err = Fixture{}.Impedance(ok[0])
	require.ErrorContains(t, err, "circuit: fixture, got none")
	fix, err := NewFixture(ok[0], ok[1], ok[2], 47, 0)
	require.NoError(t, err)
	_, err = fix.Impedance(Measured{Level: cmplx.NaN()})
	require.ErrorContains(t, err, "circuit: level of what is measured, got")
}

// Whatever the levels, there is an error or a finite impedance: never a NaN.
func TestNoiseNeverMakesNaN(t *testing.T) {
	value := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-1, 1), rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), math.Inf(-1)}))
	rapid.Check(t, func(t *rapid.T) {
		level := func(name string) Measured {
			return Measured{Level: complex(value.Draw(t, name+" re"), value.Draw(t, name+" im")), Noise: value.Draw(t, name+" noise")}
		}
		fix, err := NewFixture(level("apart"), level("together"), level("on"), value.Draw(t, "ohm"), 0)
		if err != nil {
			return
		}
		z, err := fix.Impedance(level("what"))
		var beyond *BeyondError
		if errors.As(err, &beyond) {
			assert.False(t, math.IsNaN(beyond.AtLeast))
		}
		if err == nil {
			assert.True(t, finite(z.Z) && !math.IsNaN(z.U) && !math.IsInf(z.U, 0), "%v", z)
		}
	})
}
