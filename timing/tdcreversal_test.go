package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func codesOf(list []Caveat) (out []string) {
	for _, c := range list {
		out = append(out, c.Code)
	}
	return out
}

// Worked by hand from the formulas of FindReversal.
func TestFindReversal(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	r, err := FindReversal(c, d, []Length{0.01, 0.01, 0.02}, []Length{0, 0.01})
	require.NoError(t, err)
	mf, mb := 0.04/3, 0.005
	assert.InDelta(t, (mf+mb)/2, float64(r.Reading.Value), 1e-15, "rounding only, as below")
	assert.InDelta(t, mf-mb, float64(*r.Difference), 1e-15)
	assert.InDelta(t, 4+2+1, r.Budget[0].DF, 0)
	s2 := (4*((0.01*0.01+0.003*0.003)/12+0.0025*0.0025) + 2*(1.0/3)*1e-4 + 0.5*1e-4) / 7
	assert.InDelta(t, math.Sqrt(s2*(1.0/3+1.0/2))/2, r.Budget[0].U, 1e-15)
	left := 1e-4 / 12 * math.Exp(-4*math.Pi*math.Pi*(s2-1e-4/12)/1e-4)
	assert.InDelta(t, math.Sqrt(left), r.Budget[1].U, 1e-15)
	assert.Equal(t, 5, r.Reading.N)
	assert.Empty(t, r.Reading.Caveats)
	// The pointer seems to stand until the piston is 0.008 mm down: b = sqrt(0.008/0.0051215242784046)°, the quadratic of
	// the travel at 1° (computed independently with mpmath).
	assert.InDelta(t, math.Sqrt(0.008/0.0051215242784046), float64(r.LeftOpen), 1e-3, "the next term is 1e-4 of it")
}

// Turning one way only, the pointer hangs back by anything up to the hysteresis, and nobody sees it: a rectangle of that width.
func TestReversalOfOneDirection(t *testing.T) {
	d := NewDial(10)
	d.Hysteresis = 0.02
	r, err := FindReversal(testCrank(t, 0), d, []Length{0.01, 0.01, 0.02}, nil)
	require.NoError(t, err)
	last := r.Budget[len(r.Budget)-1]
	assert.Equal(t, Rectangular, last.Shape)
	assert.InDelta(t, 0.02/math.Sqrt(12), last.U, 1e-15, "rounding only")
	assert.Nil(t, r.Difference)
	both, err := FindReversal(testCrank(t, 0), d, []Length{0.01, 0.01, 0.02}, []Length{0})
	require.NoError(t, err)
	assert.Len(t, both.Budget, len(r.Budget)-1, "both ways it drops out")
}

func TestReversalCaveats(t *testing.T) {
	c, d := testCrank(t, 0), NewDial(10)
	alike, err := FindReversal(c, d, []Length{0, 0, 0, 0, 0, 0, 0, 0}, []Length{0, 0, 0, 0, 0, 0, 0, 0})
	require.NoError(t, err)
	assert.Greater(t, float64(alike.Reading.U), 0.0015, "all alike: the graduation still counts, near 0.01/sqrt 12 mm")
	for name, tc := range map[string]struct {
		forwards, backwards []Length
		want                []string
	}{
		"one":       {[]Length{0}, nil, []string{"one_direction", "no_repeat"}},
		"backwards": {nil, []Length{0, 0}, []string{"one_direction"}},
		"one each":  {[]Length{0}, []Length{0.01}, []string{"no_repeat"}},
		// Hysteresis 3 µm and three times the 2.26 µm of the difference: sqrt(4 (109/12 + 6.25) / 8 · 2/3) µm. 9.78 µm in all.
		"near":      {[]Length{0, 0, 0}, []Length{0.0095, 0.0095, 0.0095}, nil},
		"over":      {[]Length{0, 0, 0}, []Length{0.0101, 0.0101, 0.0101}, []string{"directions_differ"}},
		"far apart": {[]Length{0, 0, 0}, []Length{0.06, 0.06, 0.06}, []string{"directions_differ"}},
		"outlier":   {[]Length{0, 0, 0.1, 0}, []Length{0, 0}, []string{"outlier"}},
		"fine":      {[]Length{0, 0.01}, []Length{0, 0}, nil},
	} {
		r, err := FindReversal(c, d, tc.forwards, tc.backwards)
		require.NoError(t, err, name)
		assert.Equal(t, tc.want, codesOf(r.Reading.Caveats), name)
		assert.True(t, r.Reading.U > 0 && finite(float64(r.Reading.U)))
	}
	for _, tc := range []struct {
		forwards, backwards []Length
		want                string
	}{
		{nil, nil, "readings at the reversal, got none, want at least one"},
		{[]Length{0, 6}, nil, "reading at the reversal, got 6 mm, want all within half the dial's range"},
		{[]Length{Length(math.NaN())}, nil, "reading at the reversal"},
	} {
		_, err := FindReversal(c, d, tc.forwards, tc.backwards)
		assert.ErrorContains(t, err, tc.want)
	}
	_, err = FindReversal(Crank{}, d, []Length{0}, nil)
	assert.ErrorContains(t, err, "crank, got none")
	_, err = FindReversal(c, Dial{}, []Length{0}, nil)
	assert.ErrorContains(t, err, "unit")
}

// Dials, hands and hysteresis are invented; the interval must hold the truth as often as it says.
func TestReversalCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	c, d := testCrank(t, 0), NewDial(10)
	var all, both tally
	for range 2000 {
		z, sd := rect(r, 1), spreadOf(r, 0.003)
		apart := rect(r, 2*d.Hysteresis)
		read := func(n int, shift float64) (out []Length) {
			for range n {
				y := z + shift + sd*r.NormFloat64() + rect(r, d.Repeatability)
				out = append(out, Length(toStep(y, float64(d.Graduation))))
			}
			return out
		}
		got, err := FindReversal(c, d, read(1+r.IntN(4), apart/2), read(r.IntN(5), -apart/2))
		require.NoError(t, err)
		holds := float64(got.Reading.Interval[0]) <= z && z <= float64(got.Reading.Interval[1])
		all.add(holds)
		if got.Difference != nil {
			both.add(holds)
		}
	}
	all.check(t, "reversal")
	both.check(t, "reversal, both directions")
}
