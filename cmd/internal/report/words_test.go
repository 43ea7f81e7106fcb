package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestWordsForSigns(t *testing.T) {
	for want, got := range map[string]string{
		"0.29 mm too early":                           errorMM.words(0.287),
		"0.22 mm too late":                            errorMM.words(-0.222),
		"0.00 mm":                                     errorMM.words(-0.004),
		"1.40° too early":                             errorDeg.words(1.4),
		"0.10 to 0.25 mm too early":                   errorMM.span([2]float64{0.1, 0.25}),
		"0.10 to 0.25 mm too late":                    errorMM.span([2]float64{-0.25, -0.1}),
		"0.03 mm too late to 0.08 mm too early":       errorMM.span([2]float64{-0.03, 0.08}),
		"0.00 mm to 0.08 mm too early":                errorMM.span([2]float64{-0.003, 0.08}),
		"0.00 to 0.00 mm":                             errorMM.span([2]float64{-0.001, 0.001}),
		"0.05 mm later to 0.05 mm earlier":            changeMM.span([2]float64{-0.05, 0.05}),
		"2.0025 mm − 2.0000 mm = 0.0025 mm too early": errorMM.to(4).less(2.0025, 2),
		"2.00° − 1.75° = 0.25° too late":              errorDeg.less(1.75, 2),
		"2.00° − 2.00° = 0.00°":                       errorDeg.less(2, 2),
		"1 pass":                                      count(1, "pass", "passes"),
		"0 passes":                                    count(0, "pass", "passes"),
	} {
		assert.Equal(t, want, got)
	}
}

// Never a bare sign, whatever the figure.
func TestNoSign(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := rapid.Float64Range(-1e6, 1e6)
		ends := [2]float64{x.Draw(rt, "from"), x.Draw(rt, "to")}
		for _, said := range []string{errorMM.words(ends[0]), errorDeg.span(ends), changeMM.span(ends)} {
			assert.NotContains(rt, said, "-")
		}
	})
}

// Round figures, four or more to a picture, none outside it: 1, 2 or 5 times a power of ten apart.
func TestTicks(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		lo := rapid.Float64Range(-50, 50).Draw(rt, "lo")
		sc := scale{lo, lo + math.Pow(10, rapid.Float64Range(-3, 2).Draw(rt, "span"))}
		ticks := sc.ticks()
		assert.GreaterOrEqual(rt, len(ticks), leastTicks)
		assert.LessOrEqual(rt, len(ticks), 3*leastTicks)
		seen := map[string]bool{}
		for _, k := range ticks {
			assert.False(rt, seen[k.Text], "two alike: %s", k.Text)
			seen[k.Text] = true
		}
	})
	assert.Equal(t, []string{"1.8", "1.9", "2.0", "2.1"}, texts(scale{1.74, 2.16}.ticks()))
	assert.Equal(t, []string{"1.90", "1.95", "2.00", "2.05", "2.10"}, texts(scale{1.89, 2.11}.ticks()))
}

func texts(labels []label) (out []string) {
	for _, l := range labels {
		out = append(out, l.Text)
	}
	return out
}
