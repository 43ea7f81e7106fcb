//go:build soak

package handturn

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCoverageHours prints the table with 20,000 settings a line and holds it against what is aimed at. Three standard errors more are
// allowed: with some 150 figures, one or two lie beyond two by chance.
func TestCoverageHours(t *testing.T) {
	s, err := newStudy(20000, 11)
	require.NoError(t, err)
	s.write(os.Stdout)
	within := func(x tally, count int, lo, hi float64, what string) {
		got := x.percent(count)
		slack := 3 * x.standardError(got)
		assert.True(t, got >= lo-slack && got <= hi+slack, "%s: %.2f %%, want %g..%g %%", what, got, lo, hi)
	}
	all := together(s.main)
	within(all, all.held, 94.5, 96.5, "all")
	within(all, all.bayesHeld, 95, 95, "all, Bayes")
	within(all, all.oracleHeld, 95, 95, "all, oracle")
	assert.LessOrEqual(t, mean(all.toBayes), 1.12)
	for i, c := range classes() {
		m := s.main[i]
		within(m, m.held, 93.5, 97, c.String())
		assert.LessOrEqual(t, mean(m.toBayes), 1.12, c)
	}
	for i, c := range repeatedClasses() {
		for _, w := range s.wrong[i] {
			within(w, w.inTolerance, 0, 5.5, "wrong, "+c.String())
		}
	}
	for i, c := range powerClasses() {
		if c.Mode == Brackets && !c.Inclined {
			within(s.power[i], s.power[i].inTolerance, map[int]float64{3: 50, 8: 75}[c.Least], 100, "power, "+c.String())
		}
	}
	for i, c := range pooledClasses() {
		for j, o := range others {
			if c.degrees() >= 4 && o != typical {
				within(s.other[i][j], s.other[i][j].held, 92.5, 98, c.String()+" in another population")
			}
		}
	}
}
