package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// confusion counts, of n random circuits, which kind was found for which.
func (l listening) confusion(t require.TestingT, n int, seed uint64) (table [6][6]int, right int) {
	rng := rand.New(rand.NewPCG(seed, 0))
	for range n {
		c, kind := l.draw(rng)
		got, err := Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		table[kind][got.Kind]++
		if got.Kind == kind {
			right++
		}
	}
	return table, right
}

func format(table [6][6]int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-20s", "is \\ found")
	for k := range table {
		fmt.Fprintf(&b, "%20s", Kind(k))
	}
	for k, row := range table {
		fmt.Fprintf(&b, "\n%-20s", Kind(k))
		for _, n := range row {
			fmt.Fprintf(&b, "%20d", n)
		}
	}
	return b.String()
}

// The kind is found at 40 dB, in line and across.
func TestKindIsFound(t *testing.T) {
	for _, l := range []listening{recommended(), across()} {
		table, right := l.confusion(t, 100, 5)
		assert.GreaterOrEqual(t, right, 97, "%s\n%s", l.cable.Wiring, format(table))
	}
}

// BenchmarkKinds prints what is found for what: go test ./audio/circuit -run '^$' -bench Kinds -benchtime 1x
func BenchmarkKinds(b *testing.B) {
	for _, l := range []listening{recommended(), across()} {
		b.Run(l.cable.Wiring.String(), func(b *testing.B) {
			for range b.N {
				table, right := l.confusion(b, 2000, 6)
				fmt.Printf("%s: %d of 2000 right\n%s\n", l.cable.Wiring, right, format(table))
			}
		})
	}
}

// errorsOf collects the relative errors of n draws: of condenser and contact, and of the coil's values.
func (l listening) errorsOf(t require.TestingT, n int, seed uint64, coil bool) map[string][]float64 {
	rng, list := rand.New(rand.NewPCG(seed, 0)), map[string][]float64{}
	add := func(what string, e Estimate, truth float64) {
		if e.Had() {
			list[what] = append(list[what], math.Abs(e.Value/truth-1))
			list["pull "+what] = append(list["pull "+what], (e.Value-truth)/e.Sd)
			return
		}
		list[what] = append(list[what], 1)
	}
	for range n {
		c := l.cable
		c.Condenser, c.Contact = logRange(rng, 0.1e-6, 0.4e-6), logRange(rng, 1, 30)
		if coil {
			c.Coil = l.sourceCoil(rng)
		}
		got, err := Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		add("condenser", got.Condenser, c.Condenser)
		add("contact", got.Contact, c.Contact)
		if coil {
			add("coil L", got.CoilL, c.Coil.L)
			add("coil R", got.CoilR, c.Coil.R)
			add("coil eddy", got.Eddy, c.Coil.Eddy)
		}
	}
	return list
}

func quantile(x []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[int(math.Ceil(p*float64(len(s))))-1]
}

// With a known resistor and the cable in line, at 40 dB: condensers of 0.1..0.4 uF within 15 %, contacts of 1..30 ohm within 20 %.
func TestValuesInLine(t *testing.T) {
	list := recommended().errorsOf(t, 60, 8, false)
	assert.Less(t, quantile(list["condenser"], 1), 0.15)
	assert.Less(t, quantile(list["contact"], 1), 0.20)
	assert.Len(t, list["pull contact"], 60, "all were had")
}

// A source coil's values, across: what comes out at 40 dB for nineteen of twenty. No source: what is reached now, with a margin.
func TestSourceCoilAcross(t *testing.T) {
	list := across().errorsOf(t, 60, 8, true)
	for what, most := range map[string]float64{"coil L": 0.02, "coil eddy": 0.02, "coil R": 0.4, "condenser": 0.12, "contact": 0.1} {
		assert.Less(t, quantile(list[what], .95), most, what)
	}
}

// BenchmarkValues prints how good the values are: go test ./audio/circuit -run '^$' -bench Values -benchtime 1x
func BenchmarkValues(b *testing.B) {
	for _, l := range []listening{recommended(), across()} {
		for _, coil := range []bool{false, true} {
			b.Run(fmt.Sprintf("%s/coil=%v", l.cable.Wiring, coil), func(b *testing.B) {
				for range b.N {
					list := l.errorsOf(b, 1000, 7, coil)
					for _, what := range []string{"condenser", "contact", "coil L", "coil R", "coil eddy"} {
						if e := list[what]; e != nil {
							pull := 0.0
							for _, p := range list["pull "+what] {
								pull += p * p
							}
							fmt.Printf("%s, coil %v: %s: 95 %% within %.3f %%, worst %.3f %%; had %d; error over stated %.2f\n", l.cable.Wiring, coil, what,
								100*quantile(e, .95), 100*quantile(e, 1), len(list["pull "+what]), math.Sqrt(pull/float64(len(list["pull "+what]))))
						}
					}
				}
			})
		}
	}
}

// A core whose losses are half those of a ring and half those of plates is in no model. It looks like a condenser, or hides one; then
// it is said that the condenser is unsure, and the interval holds the truth.
func TestACoreOfNoModel(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 0))
	for _, condenser := range []float64{0, 0.06e-6, 0.22e-6} {
		unsure, outside := 0, 0
		const draws = 25
		for range draws {
			ring := recommended().sourceCoil(rng)
			ring.Plates = false
			plates := *ring
			plates.Plates = true
			l := recommended()
			l.core = func(f float64, closed, open complex128) (complex128, complex128) {
				z := (ring.Impedance(f) + plates.Impedance(f)) / 2
				return parallel(closed, z), parallel(open, z)
			}
			c := l.cable
			c.Contact, c.Condenser = logRange(rng, 0.02, 30), condenser
			got, err := Identify(l.hear(t, c, rng))
			require.NoError(t, err)
			assert.Contains(t, []Kind{WithCoil, WithBoth}, got.Kind)
			if got.Unsure {
				unsure++
			}
			switch e := got.Condenser; {
			case condenser == 0:
				assert.True(t, got.Kind == WithCoil || got.Unsure, "a condenser that is none")
			case e.Had() && math.Abs(e.Value-condenser) > 2*e.Sd, !e.Had() && e.Bound < condenser:
				outside++
			}
			assert.InEpsilon(t, ring.L, got.CoilL.Value, 0.15)
		}
		// Two standard uncertainties: one in twenty, of 25; more than 5 once in 100 times.
		assert.LessOrEqual(t, outside, 5)
		assert.Equal(t, condenser == 0, unsure > draws/2, "unsure %d times", unsure)
	}
}

// Nothing more is found than there is, with pure noise: no leak, no eddy losses, no condenser.
func TestNoPartForNoise(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(11, 0))
	for range 40 {
		c := l.cable
		c.Contact = logRange(rng, 0.02, 30)
		got, err := Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		assert.Equal(t, Nothing, got.Kind)
		assert.Equal(t, TooLarge, got.Leak.Reason)
		assert.Greater(t, got.Leak.Bound, 30e3)
		assert.Equal(t, TooSmall, got.Condenser.Reason)
		assert.Less(t, got.Condenser.Bound, 5e-9)
		assert.Equal(t, Absent, got.CoilL.Reason)

		c.Coil = &Coil{R: 0.4, L: 2e-3}
		got, err = Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		assert.Equal(t, WithCoil, got.Kind)
		assert.Equal(t, Hidden, got.Leak.Reason)
		assert.Equal(t, TooSmall, got.Condenser.Reason)
		assert.Less(t, got.Condenser.Bound, 0.3e-6, "reactance at 8 kHz less than that of the coil")
		assert.InDelta(t, 2e-3, got.CoilL.Value, 4*got.CoilL.Sd)
		if assert.False(t, got.Eddy.Had() && got.Eddy.Value < 5e3, "losses of a coil that has none: %+v", got.Eddy); !got.Eddy.Had() {
			assert.Equal(t, TooLarge, got.Eddy.Reason)
			assert.Greater(t, got.Eddy.Bound, 3e3, "beside 13 ohm at 1 kHz and 100 ohm at 8 kHz")
		}
	}
}

// A few tones with hum, lost or not finite change nothing, and are named.
func TestBadTones(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(12, 0))
	for i := range 20 {
		c := l.cable
		c.Contact, c.Condenser = 2, 0.22e-6
		if i%2 == 0 {
			c.Coil = l.sourceCoil(rng)
		}
		tones := l.hear(t, c, rng)
		tones[3].Open.Level += 0.1
		tones[10].Closed.Level *= 1.3i
		tones[17].Open.Level = complex(math.NaN(), 0)
		tones[20].Fixture = Fixture{}
		tones[21].F = math.Inf(1)
		got, err := Identify(tones)
		require.NoError(t, err)
		assert.ElementsMatch(t, []float64{tones[17].F, tones[20].F, tones[21].F, tones[3].F, tones[10].F}, got.Left)
		assert.Equal(t, c.Coil != nil, got.Kind == WithBoth, got.Kind)
		assert.InDelta(t, 0.22e-6, got.Condenser.Value, 4*got.Condenser.Sd)
		assert.InDelta(t, 2, got.Contact.Value, 4*got.Contact.Sd)
	}
}

// Noise that was stated five times too small shows as misfit, and makes no parts.
func TestNoiseStatedTooSmall(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(13, 0))
	for range 20 {
		c := l.cable
		c.Contact, c.Condenser = 2, 0.22e-6
		tones := l.hear(t, c, rng)
		for i := range tones {
			fix := &tones[i].Fixture
			for _, m := range []*Measured{&tones[i].Closed, &tones[i].Open, &fix.apart, &fix.together, &fix.on} {
				m.Noise /= 5
			}
		}
		got, err := Identify(tones)
		require.NoError(t, err)
		assert.Equal(t, WithCondenser, got.Kind)
		assert.InDelta(t, 5, got.Misfit, 1.5)
		assert.Empty(t, got.Left)
		assert.InDelta(t, 2, got.Contact.Value, 4*got.Contact.Sd)
	}
}

// Points that never closed, or never opened, are said to be alike.
func TestPointsThatDoNotMove(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(14, 0))
	c := l.cable
	c.Condenser = 0.22e-6
	tones, again := l.hear(t, c, rng), l.hear(t, c, rng)
	for i := range tones {
		tones[i].Closed = tones[i].Open
		tones[i].Open = heard(t, c, tones[i].F, complex(0, -Reactance(c.Condenser, tones[i].F)), again[i].Open.Noise, rng)
	}
	got, err := Identify(tones)
	require.NoError(t, err)
	assert.True(t, got.Alike)
	assert.Equal(t, WithCondenser, got.Kind)
	assert.Equal(t, Unchanged, got.Contact.Reason)
	assert.InDelta(t, 0.22e-6, got.Condenser.Value, 4*got.Condenser.Sd)

	c = l.cable
	c.Contact, c.Leak = 5, 5
	got, err = Identify(l.hear(t, c, rng))
	require.NoError(t, err)
	assert.True(t, got.Alike)
	assert.Equal(t, Short, got.Kind)
	assert.InDelta(t, 5, got.Contact.Value, 4*got.Contact.Sd)
}

// An assumed cable that is 10 % off makes every resistance 10 % off, and says that it may.
func TestIdentifyAssumed(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(15, 0))
	c := l.cable
	c.Contact, c.Condenser = 10, 0.22e-6
	tones := l.hear(t, c, rng)
	wrong := l.cable
	wrong.Series += 0.1 * (wrong.drive() + wrong.load())
	for i, tone := range tones {
		var err error
		tones[i].Fixture, err = AssumeFixture(tone.F, tone.Fixture.apart, tone.Fixture.together, wrong, 0.1)
		require.NoError(t, err)
	}
	got, err := Identify(tones)
	require.NoError(t, err)
	assert.True(t, got.Assumed)
	assert.Equal(t, WithCondenser, got.Kind)
	assert.InEpsilon(t, 11, got.Contact.Value, 0.03)
	assert.InEpsilon(t, 0.22e-6/1.1, got.Condenser.Value, 0.01)
	assert.InEpsilon(t, 0.1, got.Condenser.Sd/got.Condenser.Value, 0.05)
}

// What was found, put back into the cable, gives the levels that were heard.
func TestConnectedCircuit(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(16, 0))
	for _, coil := range []*Coil{nil, l.sourceCoil(rng), l.batteryCoil(rng)} {
		c := l.cable
		c.Contact, c.Condenser, c.Coil = 2, 0.22e-6, coil
		got, err := Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		found := got.Circuit(l.cable)
		for _, f := range l.tones {
			want, is := at(t, c, f), at(t, found, f)
			// A level of 0.28 at most, to some times its noise over the root of the tones.
			assert.InDelta(t, 0, cmplx.Abs(want.Closed-is.Closed), 0.002)
			assert.InDelta(t, 0, cmplx.Abs(want.Open-is.Open), 0.002)
		}
	}
	stay := Connected{Contact: Estimate{Reason: TooSmall, Bound: 0.1}}.Circuit(Circuit{Load: 47, Contact: 0.05, Condenser: 1e-6, Coil: &Coil{L: 1}})
	assert.Equal(t, Circuit{Load: 47, Contact: 0.05}, stay)
}

func TestTooFewTones(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(17, 0))
	tones := l.hear(t, l.cable, rng)[:MinTones]
	_, err := Identify(tones)
	require.NoError(t, err)
	_, err = Identify(tones[1:])
	require.ErrorContains(t, err, "circuit: tones of use, got 5 of 5, want 6 or more")
	tones[2].Open.Noise = -1
	_, err = Identify(tones)
	require.ErrorContains(t, err, "circuit: tones of use, got 5 of 6, want 6 or more")
	_, err = Identify(nil)
	require.ErrorContains(t, err, "circuit: tones of use, got 0 of 0")
}

// Whatever is heard, there is an error or an answer without NaN.
func TestIdentifyNeverMakesNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		rng := rand.New(rand.NewPCG(seed, 0))
		l := recommended()
		l.tones = comb(rapid.IntRange(6, 9).Draw(t, "tones"))
		l.noise = rapid.SampledFrom([]float64{0, 1e-6, 1e-2}).Draw(t, "noise")
		c, _ := l.draw(rng)
		tones := l.hear(t, c, rng)
		wild := rapid.IntRange(0, len(tones)).Draw(t, "wild")
		for i := range wild {
			tones[i].Closed.Level = complex(rng.NormFloat64(), rng.NormFloat64())
			tones[i].Open.Level = complex(rng.NormFloat64(), rng.NormFloat64()) * complex(rapid.SampledFrom([]float64{1, 1e9, 1e300}).Draw(t, "size"), 0)
		}
		got, err := Identify(tones)
		if err != nil {
			return
		}
		for _, e := range []Estimate{got.Contact, got.Leak, got.Condenser, got.CoilR, got.CoilL, got.Eddy} {
			assert.False(t, math.IsNaN(e.Value) || math.IsNaN(e.Sd) || math.IsNaN(e.Bound), "%+v", got)
			assert.False(t, math.IsInf(e.Value, 0) || math.IsInf(e.Sd, 0) || math.IsInf(e.Bound, 0), "%+v", got)
			assert.True(t, e.Had() || e.Value == 0 && e.Sd == 0, "%+v", e)
		}
		assert.GreaterOrEqual(t, got.Misfit, 1.0)
	})
}

// BenchmarkIdentify is the time of one: what a user waits for.
func BenchmarkIdentify(b *testing.B) {
	l, rng := recommended(), rand.New(rand.NewPCG(9, 0))
	var heard [][]Tone
	for range 20 {
		c, _ := l.draw(rng)
		heard = append(heard, l.hear(b, c, rng))
	}
	for i := 0; b.Loop(); i++ {
		_, err := Identify(heard[i%len(heard)])
		require.NoError(b, err)
	}
}
