package logbook

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// manySessions writes sessions of 50 entries as a job makes them: 10 openings with their closings, 20 readings, the report last.
func manySessions(b testing.TB, root string, sessions int) {
	b.Helper()
	sheet := strings.Repeat("# a sheet of usual length, with a line of words for each figure\n", 20)
	report := `{"schema":"breakcue.session/1","passes":[` + strings.TrimSuffix(strings.Repeat(`{"n":1,"reading":"2.03/1.98","travel_mm":2.005},`, 60), ",") + `]}`
	for n := range sessions {
		at := time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC).Add(time.Duration(n) * time.Hour)
		entries := []Data{
			Begin{Session: fmt.Sprintf("s%04d", n), Engine: "Lathe-shed twin", EngineSheet: sheet, DialSheet: sheet, SampleRate: 48000, Channels: 1, Frames: -1},
			Take{Take: 1, File: "take-01.wav", ApproachS: 0.3},
		}
		for i := range 10 {
			edge := Edge{Take: 1, ID: int64(i + 1), Frame: int64(48000 * i), Frac: 0.253418, TimeS: 1.0213 * float64(i), Uncertainty: 6.014065304058601e-06,
				Before: Level{0.25341887, -0.12}, After: Level{0.0012, 0.00034}}
			entries = append(entries, Opening{edge}, Closing{edge})
		}
		entries = append(entries, Place{"left", AsFound}, Place{"left", AsLeft}, Place{"right", AsFound}, Place{"right", AsLeft}, Caveat{"mains_hum", "hum near the tone"})
		for i := range 20 {
			entries = append(entries, Reading{Text: "2.03/1.98", Cylinder: []string{"left", "right"}[i%2], Phase: AsFound, Take: 1, Opening: int64(i%10 + 1)})
		}
		entries = append(entries, Result{[]byte(report)}, End{"finished"})
		if n%10 == 0 { // one in ten is corrected afterwards
			entries = append(entries, Amend{Seq: 30, Field: "text", From: []byte(`"2.03/1.98"`), To: []byte(`"2.02/1.98"`), Why: "figures swapped", Who: "Ada"})
		} else {
			entries = append(entries, Caveat{"tone_low", "the tone is low"})
		}
		require.Len(b, entries, 50)
		var file []byte
		for i, d := range entries {
			line, err := encode(Entry{Seq: int64(i + 1), Time: at.Add(time.Duration(i) * time.Second), Data: d})
			require.NoError(b, err)
			file = append(file, line...)
		}
		dir := filepath.Join(root, fmt.Sprintf("s%04d", n))
		require.NoError(b, os.Mkdir(dir, 0o755))
		require.NoError(b, os.WriteFile(filepath.Join(dir, FileName), file, 0o644))
	}
}

// readPlainly reads every journal of root and nothing more.
func readPlainly(b testing.TB, root string) (bytes int64) {
	names, err := os.ReadDir(root)
	require.NoError(b, err)
	for _, n := range names {
		f, err := os.Open(filepath.Join(root, n.Name(), FileName))
		require.NoError(b, err)
		size, err := io.Copy(io.Discard, f)
		require.NoError(b, err)
		require.NoError(b, f.Close())
		bytes += size
	}
	return bytes
}

// BenchmarkList tells how many times as long List takes as a plain read of the same files, for 2,000 sessions of 50 entries.
func BenchmarkList(b *testing.B) {
	root := b.TempDir()
	manySessions(b, root, 2000)
	size := readPlainly(b, root)
	b.SetBytes(size)
	var plain, list time.Duration
	for b.Loop() {
		start := time.Now()
		readPlainly(b, root)
		plain += time.Since(start)
		start = time.Now()
		got, err := List(context.Background(), root)
		list += time.Since(start)
		require.NoError(b, err)
		require.Len(b, got, 2000)
		require.Equal(b, 20, got[0].Passes)
	}
	b.ReportMetric(plain.Seconds()*1e3/float64(b.N), "ms/plain-read")
	b.ReportMetric(list.Seconds()*1e3/float64(b.N), "ms/list")
	b.ReportMetric(list.Seconds()/plain.Seconds(), "times-the-read")
}
