package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The derivatives of each model by each of its values are those of small differences.
func TestDerivatives(t *testing.T) {
	l, rng := recommended(), rand.New(rand.NewPCG(20, 0))
	c := l.cable
	c.Contact, c.Condenser, c.Coil = 3, 0.2e-6, l.sourceCoil(rng)
	place := [partCount]float64{partRc: 2, partG: 1e-3, partC: 0.3e-6, partL: math.Log(3e-3), partR: 1, partE: 0.3, partM: 0.4}
	step := [partCount]float64{partRc: 1e-4, partG: 1e-7, partC: 1e-11, partL: 1e-4, partR: 1e-4, partE: 1e-4, partM: 1e-4}
	for _, tone := range l.hear(t, c, rng) {
		w, err := weigh(tone)
		require.NoError(t, err)
		short := w
		short.closedOff()
		list := append(models(false), rc|coil|mix, rc|g|coil|mix|con)
		for i, m := range append(list, rc) {
			on := &w
			if i == len(list) {
				on = &short
			}
			x := place
			if !m.has(partM) {
				x[partM] = 0
			}
			if m.has(partP) {
				x[partM] = 1
			}
			for p := range partCount {
				if !m.has(partC) {
					x[partC] = 0
				}
				if !m.has(p) {
					continue
				}
				var d [partCount][2]complex128
				on.residuals(&x, m, &d)
				hi, lo := x, x
				hi[p] += step[p]
				lo[p] -= step[p]
				a, b := on.residuals(&hi, m, nil), on.residuals(&lo, m, nil)
				for k := range a {
					want := (a[k] - b[k]) / complex(2*step[p], 0)
					// Central differences: 1e-6 of the value, and rounding.
					assert.InDelta(t, 0, cmplx.Abs(d[p][k]-want), 1e-5*cmplx.Abs(want)+1e-6/step[p]*1e-3, "model %b part %d level %d", m, p, k)
				}
			}
		}
	}
}

// What a level of one impedance changes by with each reference is what small differences say.
func TestPartials(t *testing.T) {
	c := Circuit{Source: 10, Series: 100, Load: 47, LeadC: 1e-9}
	level := func(z complex128) Measured { return heard(t, c, 2000, z, 0, nil) }
	refs := [3]Measured{level(cmplx.Inf()), level(0), level(47)}
	make := [2]func(m [3]Measured) (Fixture, error){
		func(m [3]Measured) (Fixture, error) { return NewFixture(m[0], m[1], m[2], 47, 0) },
		func(m [3]Measured) (Fixture, error) { return AssumeFixture(2000, m[0], m[1], c, 0) },
	}
	for i, z := range []complex128{1, 20 + 30i, -400i} {
		for k, fixture := range make {
			fix, err := fixture(refs)
			require.NoError(t, err)
			got := fix.partials(fix.place(level(z).Level))
			for r := range refs {
				moved := refs
				moved[r].Level += 1e-6
				there, err := fixture(moved)
				require.NoError(t, err)
				want := (there.Level(z) - fix.Level(z)) / 1e-6
				assert.InDelta(t, 0, cmplx.Abs(got[r]-want), 1e-4, "%d: %s, fixture %d; one-sided differences", i, Reference(r), k)
			}
		}
	}
}

// Weighted residuals at the truth are independent and of variance 1, though the noise of the fixture is in both levels.
func TestWeightedResidualsAreIndependent(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 0))
	l := recommended()
	l.tones, l.noise = []float64{1500}, 1e-4
	c := l.cable
	c.Contact, c.Condenser, c.Leak = 25, 0.22e-6, 60
	x := [partCount]float64{partRc: 25, partC: 0.22e-6, partG: 1. / 60}
	for _, alone := range []bool{false, true} {
		t.Run(fmt.Sprintf("open alone %v", alone), func(t *testing.T) {
			model := rc | g | con
			if alone {
				model = g | con
			}
			var cc, oo float64
			var co complex128
			const draws = 5000
			for range draws {
				w, err := weigh(l.hear(t, c, rng)[0])
				require.NoError(t, err)
				if alone {
					w.closedOff()
				}
				r := w.residuals(&x, model, nil)
				cc += norm(r[0]) / (2 * draws)
				oo += norm(r[1]) / (2 * draws)
				co += r[1] * cmplx.Conj(r[0]) / (2 * draws)
			}
			// A mean of 10,000 squares scatters by 1.4 %, and the product of two by 1 %.
			if !alone {
				assert.InDelta(t, 1, cc, 0.06)
			}
			assert.InDelta(t, 1, oo, 0.06)
			assert.InDelta(t, 0, cmplx.Abs(co), 0.05)
		})
	}
}
