package handturn

import (
	"math"
	"math/rand/v2"
	"testing"

	"breakcue/timing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHermiteIsExact(t *testing.T) {
	// Moments of the standard normal distribution: 1, 0, 1, 0, 3, 0, 15, 0, 105.
	for power, want := range []float64{1, 0, 1, 0, 3, 0, 15, 0, 105} {
		sum := 0.0
		for _, node := range hermite {
			sum += node[1] * math.Pow(node[0], float64(power))
		}
		assert.InDelta(t, want, sum, 1e-11, "rounding only")
	}
}

// With a very long rod travel is r (1 - cos b) + r² sin² b / 2l, whose mean over a normal angle is known: the mean of cos b is
// cos(mean) exp(-sigma²/2), and of sin² b (1 - cos(2 mean) exp(-2 sigma²))/2.
func TestMeanTravel(t *testing.T) {
	const r, l = 27.0, 10000.0
	c, err := timing.NewCrank(2*r, l, 0)
	require.NoError(t, err)
	for _, sigma := range []timing.Angle{0, 0.25, 2} {
		b, s := timing.Angle(20).Radians(), sigma.Radians()
		want := r*(1-math.Cos(b)*math.Exp(-s*s/2)) + r*r/(2*l)*(1-math.Cos(2*b)*math.Exp(-2*s*s))/2
		assert.InDelta(t, want, float64(meanTravel(c, 20, sigma)), 1e-6, "the next term is r⁴/8l³, 7e-8")
		opens, err := opening(c, timing.Length(want), sigma)
		require.NoError(t, err)
		assert.InDelta(t, 20, float64(opens), 1e-5)
	}
}

// A setting is what its population says: the truth is where it was asked for, and no reading is farther from it than six
// times the scatter and the limits of all that goes wrong.
func TestDraw(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range append(classes(), pooledClasses()...) {
		for range 20 {
			s, err := typical.Draw(rng, c, 0.05)
			require.NoError(t, err)
			assert.InDelta(t, 0.05, float64(s.Truth-s.Setup.Target.Travel), 1e-9)
			assert.InDelta(t, math.Log(0.25), math.Log(float64(s.Sigma)), cut*math.Ln2+1e-9)
			require.Len(t, s.Passes, 1+len(c.Others))
			assert.True(t, len(s.Passes[0]) >= c.Least && len(s.Passes[0]) <= c.Most)
			results, err := s.Setup.Evaluate(s.Passes)
			require.NoError(t, err)
			d := s.Setup.Dial
			for i, passes := range s.Passes {
				// The angles of plunger and crown are far inside their limits times the travel; a hand's longest step is some five typical ones.
				tilt := results[i].Travel.Value * timing.Length((angleHalf + s.crownHalf).Radians())
				limit := d.MaxError + d.Hysteresis + d.Repeatability + 2*d.Graduation + tilt
				for j, r := range passes {
					assert.Equal(t, c.Mode == Brackets || c.Mode == Both && j%2 == 1, r.Bracket)
					travel, err := s.Setup.Travel(r)
					require.NoError(t, err)
					late := timing.Length(0.2 * s.kappa)
					assert.InDelta(t, float64(s.Truth), float64(travel), float64(6*timing.Length(float64(s.Sigma)*s.kappa)+limit+late+r.Width()/2))
				}
			}
		}
	}
}

func TestDrawAgain(t *testing.T) {
	draw := func() Setting {
		s, err := typical.Draw(rand.New(rand.NewPCG(3, 4)), Class{Mode: Stops, Inclined: true, Least: 2, Most: 5}, 0)
		require.NoError(t, err)
		return s
	}
	assert.Equal(t, draw(), draw(), "the same seed gives the same setting")
}
