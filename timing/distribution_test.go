package timing

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var inf = math.Inf(1)

// JCGM 101:2008, 9.2: the sum of four input quantities of standard uncertainty 1; 95 % intervals as printed, 3.8807 from the
// closed form 2 sqrt 3 (2 - (3/5)^(1/4)).
func TestGUMS1AdditiveModel(t *testing.T) {
	four := func(shape Shape) Distribution {
		var parts []Component
		for range 4 {
			parts = append(parts, Component{U: 1, DF: inf, Shape: shape})
		}
		return Sum(parts)
	}
	assert.InDelta(t, 3.92, four(Bell).Quantile(0.975), 0.005, "four normal ones, as printed")
	assert.InDelta(t, 3.88, four(Rectangular).Quantile(0.975), 0.005, "four rectangular ones, as printed")
	assert.InDelta(t, 3.8807, four(Rectangular).Quantile(0.975), 2e-3, "taking the function as straight within a step widens it by a part in 2000")
}

// JCGM 101:2008, 9.2.4 [from memory]: three rectangular ones of standard uncertainty 1 and one of 10 give ±17.0, where
// the normal distribution would give ±19.9.
func TestGUMS1OneDominates(t *testing.T) {
	d := Sum([]Component{{U: 1, DF: inf, Shape: Rectangular}, {U: 10, DF: inf, Shape: Rectangular}, {U: 1, DF: inf, Shape: Rectangular}, {U: 1, DF: inf, Shape: Rectangular}})
	assert.InDelta(t, 17.0, d.Quantile(0.975), 0.05, "as printed")
}

// Where one shape stands alone the closed form is known.
func TestSumOfOneShape(t *testing.T) {
	for _, p := range []float64{0.5, 0.8, 0.95, 0.975, 0.999} {
		assert.InDelta(t, 3*distuv.UnitNormal.Quantile(p), Sum([]Component{{U: 3, DF: inf}}).Quantile(p), 1e-12)
		assert.InDelta(t, 3*student(4).Quantile(p), Sum([]Component{{U: 3, DF: 4}}).Quantile(p), 1e-12)
		assert.InDelta(t, (2*p-1)*math.Sqrt(3), Sum([]Component{{U: 1, DF: inf, Shape: Rectangular}}).Quantile(p), 1e-6)
		// Two equal limits: a triangle from -2 to 2 half widths (JCGM 100:2008, 4.3.9).
		assert.InDelta(t, 2-2*math.Sqrt(2*(1-p)), Sum([]Component{{U: 1 / math.Sqrt(3), DF: inf, Shape: Rectangular}, {U: 1 / math.Sqrt(3), DF: inf, Shape: Rectangular}}).Quantile(p), 2e-3,
			"steps of a thirty-second")
	}
	assert.Zero(t, Sum(nil).Quantile(0.975))
	assert.Equal(t, 1.0, Sum(nil).CDF(0))
	assert.Equal(t, 0.0, Sum(nil).CDF(-1e-9))
	assert.Panics(t, func() { Sum(nil).Quantile(1) })
}

// A rectangular error from -1 to 1 beside one of another shape: the mean of that shape's distribution function within 1 to either
// side. Of a normal one it is known in closed form, of Student's it is integrated here (Gauss and Legendre, gonum).
func TestSumOfTwoShapes(t *testing.T) {
	edge := Component{U: 1 / math.Sqrt(3), DF: inf, Shape: Rectangular}
	for _, u := range []float64{0.1, 0.3, 1, 3} {
		whole := func(z float64) float64 { return z*distuv.UnitNormal.CDF(z) + distuv.UnitNormal.Prob(z) } // integral of the function
		normal, few := Sum([]Component{edge, {U: u, DF: inf}}), Sum([]Component{edge, {U: u, DF: 5}})
		for x := 0.0; x < 1+5*u; x += 0.1 * u {
			want := u / 2 * (whole((x+1)/u) - whole((x-1)/u))
			assert.InDelta(t, want, normal.CDF(x), 3.5e-4, "normal %g at %g: taking the function as straight within a step", u, x)
			want = quad.Fixed(func(e float64) float64 { return distuv.StudentsT{Sigma: u, Nu: 5}.CDF(x - e) }, -1, 1, 200, nil, 0) / 2
			assert.InDelta(t, want, few.CDF(x), 1e-4, "Student's %g at %g: steps of a quarter of its scale", u, x)
		}
	}
}

// Against a plain Monte Carlo of the same components (JCGM 101:2008, 7). A million draws: the share of 2.5 % has a standard
// deviation of 0.016 %; 0.08 % is five of them.
func TestSumAgainstMonteCarlo(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	for _, parts := range [][]Component{
		{{U: 1, DF: 4}, {U: 0.5, DF: inf, Shape: Rectangular}, {U: 0.2, DF: inf, Shape: Rectangular}},
		{{U: 0.3, DF: 6}, {U: 1, DF: inf, Shape: Rectangular}, {U: 0.6, DF: inf}},
		{{U: 0.01, DF: 5}, {U: 1, DF: inf, Shape: Rectangular}},
		{{U: 1, DF: 5}, {U: 1, DF: inf}},
	} {
		d := Sum(parts)
		draws := make([]float64, 1_000_000)
		for _, p := range parts {
			draw := func() float64 { return rng.NormFloat64() }
			switch {
			case p.Shape == Rectangular:
				draw = func() float64 { return (2*rng.Float64() - 1) * math.Sqrt(3) }
			case !math.IsInf(p.DF, 1):
				draw = distuv.StudentsT{Sigma: 1, Nu: p.DF, Src: rng}.Rand
			}
			for i := range draws {
				draws[i] += p.U * draw()
			}
		}
		slices.Sort(draws)
		for _, p := range []float64{0.025, 0.05, 0.5, 0.95, 0.975} {
			assert.InDelta(t, p, stat.CDF(d.Quantile(p), stat.Empirical, draws, nil), 8e-4+2e-3*math.Min(p, 1-p), "%v at %g", parts, p)
		}
	}
}

func TestDistributionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var parts []Component
		for range rapid.IntRange(0, 7).Draw(t, "parts") {
			p := Component{U: rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-6, 1)).Draw(t, "u"), DF: inf}
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				p.Shape = Rectangular
			case 1:
				p.DF = rapid.Float64Range(1, 50).Draw(t, "df")
			}
			parts = append(parts, p)
		}
		d := Sum(parts)
		u, _ := Combine(parts)
		assert.InDelta(t, u, d.u, 1e-12)
		last := math.Inf(-1)
		for _, p := range []float64{0.01, 0.05, 0.5, 0.95, 0.99} {
			q := d.Quantile(p)
			assert.True(t, finite(q) && q >= last, "%g at %g after %g", q, p, last)
			last = q
			assert.InDelta(t, -q, d.Quantile(1-p), 1e-6*u, "the root is found to 1e-7 u")
			if u > 0 {
				assert.InDelta(t, p, d.CDF(q), 0.01)
			}
		}
	})
}

func BenchmarkSumQuantile(b *testing.B) {
	parts := []Component{{U: 0.03, DF: 7}, {U: 0.009, DF: inf, Shape: Rectangular}, {U: 0.003, DF: inf, Shape: Rectangular}, {U: 0.02, DF: inf}}
	for b.Loop() {
		Sum(parts).Quantile(0.975)
	}
}
