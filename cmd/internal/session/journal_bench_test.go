package session

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// manyPasses returns a journal of so many passes of one cylinder, as left.
func manyPasses(t testing.TB, n int) logbook.Journal {
	s, err := LoadSheets(twin, "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	at := time.Date(2026, 5, 4, 10, 11, 12, 0, time.UTC)
	begin := s.Begin("test")
	var j logbook.Journal
	add := func(d logbook.Data) {
		j.Entries = append(j.Entries, logbook.Entry{Seq: int64(len(j.Entries) + 1), Time: at, Data: d})
	}
	add(begin)
	add(logbook.Take{Take: 1, File: "-"})
	for i := range n {
		edge := logbook.Edge{Take: 1, ID: int64(i + 1), Frame: int64(96000 * i), TimeS: float64(2 * i), Uncertainty: 1e-5}
		add(logbook.Opening{Edge: edge})
		add(logbook.Closing{Edge: edge})
		add(logbook.Reading{Text: fmt.Sprintf("2.%02d/1.%02d", 1+i%3, 97+i%2), Cylinder: "left", Phase: logbook.AsLeft, Take: 1, Opening: int64(i + 1)})
	}
	return j
}

// BenchmarkManyPasses tells how the time for a report grows with the passes: ten times as many are to take about ten times as long.
func BenchmarkManyPasses(b *testing.B) {
	few, many := manyPasses(b, 2000), manyPasses(b, 20000)
	var short, long time.Duration
	for b.Loop() {
		start := time.Now()
		_, err := FromJournal(few)
		short += time.Since(start)
		require.NoError(b, err)
		start = time.Now()
		_, err = FromJournal(many)
		long += time.Since(start)
		require.NoError(b, err)
	}
	b.ReportMetric(short.Seconds()*1e3/float64(b.N), "ms/2000")
	b.ReportMetric(long.Seconds()*1e3/float64(b.N), "ms/20000")
	b.ReportMetric(long.Seconds()/short.Seconds(), "20000/2000")
}
