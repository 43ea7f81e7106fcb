package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// wholeSession writes a session of 50 entries as a job makes them into root: two cylinders before and after, four passes each,
// the last two.
func wholeSession(b testing.TB, root, name string) (dir string) {
	sheets, err := session.LoadSheets("../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml")
	require.NoError(b, err)
	begun := time.Date(2026, 5, 4, 10, 11, 12, 0, time.UTC)
	w, err := logbook.Create(root, name, sheets.Begin("test"), func() time.Time { begun = begun.Add(time.Second); return begun })
	require.NoError(b, err)
	var heard []session.Change
	for i := range 14 {
		heard = append(heard, session.Change{Open: true, Edge: logbook.Edge{ID: int64(i + 1), Frame: int64(96000 * i), TimeS: float64(2 * i), Uncertainty: 1e-5}},
			session.Change{Edge: logbook.Edge{ID: int64(i + 1), Frame: int64(96000*i + 48000), TimeS: float64(2*i + 1), Uncertainty: 1e-5}})
	}
	rec, err := session.NewRecorder(w, sheets.Setup, logbook.Take{Take: 1, File: "-"}, heard, nil)
	require.NoError(b, err)
	for i := range 14 {
		place := logbook.Place{Cylinder: []string{"left", "right"}[i/4%2], Phase: []logbook.Phase{logbook.AsFound, logbook.AsLeft}[i/8]}
		_, err := rec.Reading(session.Typed{Text: fmt.Sprintf("2.%02d/1.%02d", 1+i%3, 97+i%2), Place: place})
		require.NoError(b, err)
	}
	j, err := logbook.Read(w.Dir())
	require.NoError(b, err)
	r, err := session.FromJournal(j)
	require.NoError(b, err)
	require.Len(b, j.Entries, 48)
	require.NoError(b, rec.Finish(r, "finished")) // two more
	require.NoError(b, w.Close())
	return w.Dir()
}

// BenchmarkLog measures the commands on 2,000 sessions of 50 entries against a plain read of the journals that they must read,
// and shows what it costs log show that there are so many: it is run on the same session alone too. What log show takes above the
// read are the parts of it, each against the read: understanding the entries, working the results out anew, writing them, and making
// the commands.
func BenchmarkLog(b *testing.B) {
	alone, many := b.TempDir(), b.TempDir()
	dir := wholeSession(b, alone, "twin")
	journal, err := os.ReadFile(filepath.Join(dir, logbook.FileName))
	require.NoError(b, err)
	for n := range 2000 {
		folder := filepath.Join(many, fmt.Sprintf("s%04d", n))
		require.NoError(b, os.Mkdir(folder, 0o755))
		require.NoError(b, os.WriteFile(filepath.Join(folder, logbook.FileName), journal, 0o644))
	}
	run := func(args ...string) time.Duration {
		env := Env{Out: io.Discard, Err: io.Discard, Getenv: os.Getenv, Now: time.Now}
		start := time.Now()
		require.Equal(b, ExitOK, Main(context.Background(), args, env))
		return time.Since(start)
	}
	plain := func(folders ...string) time.Duration {
		start := time.Now()
		for _, folder := range folders {
			_, err := os.ReadFile(filepath.Join(folder, logbook.FileName))
			require.NoError(b, err)
		}
		return time.Since(start)
	}
	folders, err := logbook.Folders(many)
	require.NoError(b, err)
	var read, list, readOne, showOne, showAlone, parse, workOut, write, commands time.Duration
	timed := func(what func()) time.Duration {
		start := time.Now()
		what()
		return time.Since(start)
	}
	var j logbook.Journal
	var report session.Report
	for b.Loop() {
		read += plain(folders...)
		list += run("log", "list", "--dir", many)
		readOne += plain(folders[1000])
		showOne += run("log", "show", "s1000", "--dir", many)
		showAlone += run("log", "show", filepath.Base(dir), "--dir", alone)
		parse += timed(func() { j, err = logbook.Read(folders[1000]) })
		require.NoError(b, err)
		workOut += timed(func() { report, err = session.FromJournal(j) })
		require.NoError(b, err)
		write += timed(func() { err = report.Print(io.Discard, false) })
		require.NoError(b, err)
		commands += timed(func() { newRoot(Env{Out: io.Discard, Err: io.Discard, Getenv: os.Getenv, Now: time.Now}) })
	}
	ms := func(d time.Duration) float64 { return d.Seconds() * 1e3 / float64(b.N) }
	b.ReportMetric(ms(read), "ms/read-all")
	b.ReportMetric(ms(list), "ms/list")
	b.ReportMetric(list.Seconds()/read.Seconds(), "list/read")
	b.ReportMetric(ms(readOne), "ms/read-one")
	b.ReportMetric(ms(showOne), "ms/show-one")
	b.ReportMetric(showOne.Seconds()/showAlone.Seconds(), "show/alone")
	for name, took := range map[string]time.Duration{"show": showOne, "parse": parse, "results": workOut, "print": write, "commands": commands} {
		b.ReportMetric(took.Seconds()/readOne.Seconds(), name+"/read-one")
	}
}
