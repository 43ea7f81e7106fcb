package handturn

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// BenchmarkCoverage prints the whole table, 5,000 settings a line.
func BenchmarkCoverage(b *testing.B) {
	for b.Loop() {
		s, err := newStudy(5000, 1)
		require.NoError(b, err)
		s.write(os.Stdout)
		all := together(s.main)
		b.ReportMetric(all.percent(all.held), "%held")
		b.ReportMetric(mean(all.toBayes), "width/Bayes")
		b.ReportMetric(mean(all.toOracle), "width/oracle")
	}
}

// The table in short. What it says is only as sure as its size allows: a hundred settings a line, 1,600 in all, so the
// bounds are four standard errors (2.2 % and 0.54 %) beyond what is aimed at, and more for the widths.
func TestCoverageInShort(t *testing.T) {
	tallies, err := runAll(mainTrials(), 100, 2)
	require.NoError(t, err)
	all := together(tallies)
	assert.InDelta(t, 95.5, all.percent(all.held), 1+4*0.54)
	assert.InDelta(t, 95, all.percent(all.bayesHeld), 4*0.54, "the yardstick holds what it should")
	assert.InDelta(t, 95, all.percent(all.oracleHeld), 4*0.54, "the yardstick holds what it should")
	assert.Less(t, mean(all.toBayes), 1.2)
	for i, c := range classes() {
		m := tallies[i]
		assert.Greater(t, m.percent(m.held), 93.5-4*2.2, c)
		assert.Less(t, m.width/m.bayesWidth, 1.3, c)
	}

	tallies, err = runAll(wrongTrials(), 100, 2)
	require.NoError(t, err)
	all = together(tallies)
	assert.Less(t, all.percent(all.inTolerance), 5.5, "wrong verdicts, all classes together")
}

func TestStudyWrites(t *testing.T) {
	s, err := newStudy(2, 3)
	require.NoError(t, err)
	again, err := newStudy(2, 3)
	require.NoError(t, err)
	assert.Equal(t, s, again, "the same whichever processor comes first")
	var text strings.Builder
	s.write(&text)
	for _, c := range append(classes(), pooledClasses()...) {
		assert.Contains(t, text.String(), c.String())
	}
	assert.NotContains(t, text.String(), "NaN")
	assert.NotContains(t, text.String(), "%!")
}
