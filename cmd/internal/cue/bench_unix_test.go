//go:build unix

package cue

import (
	"io"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"
)

// BenchmarkShow measures from a Show with a new state to the end of the write of the whole frame, on a real
// pseudo-terminal whose other end is read all the time.
func BenchmarkShow(b *testing.B) {
	for _, size := range []pty.Winsize{{Cols: 80, Rows: 24}, {Cols: 120, Rows: 40}} {
		name := strconv.Itoa(int(size.Cols)) + "x" + strconv.Itoa(int(size.Rows))
		b.Run(name, func(b *testing.B) { benchShow(b, size, [2]View{scenes()[2].view, scenes()[3].view}) })
		both := bothScenes()[0].view
		opened := both
		opened.Sets[1].State = Open
		b.Run("both-"+name, func(b *testing.B) { benchShow(b, size, [2]View{both, opened}) })
	}
}

func benchShow(b *testing.B, size pty.Winsize, views [2]View) {
	b.Setenv("TERM", "xterm-256color")
	b.Setenv("COLORTERM", "truecolor")
	master, slave, err := pty.Open()
	require.NoError(b, err)
	defer master.Close()
	defer slave.Close()
	require.NoError(b, pty.Setsize(master, &size))
	go func() { _, _ = io.Copy(io.Discard, master) }()
	tty, err := tcell.NewDevTtyFromDev(slave.Name())
	require.NoError(b, err)

	// The clock is put forward between two changes, so that each is beyond the limit of flashes.
	var ahead time.Duration
	shown := make(chan time.Time)
	s, err := OpenScreen(Options{
		Tty:   tty,
		Now:   func() time.Time { return time.Now().Add(ahead) },
		Shown: func(_ View, at time.Time) { shown <- at },
	})
	require.NoError(b, err)
	defer s.Close()
	show := func(i int) time.Duration {
		ahead += 2 * pace
		v := views[i%2]
		if v.State == Open {
			v.Number, v.OpenedAt = i, time.Now().Add(ahead)
		}
		if s := &v.Sets[1]; s.State == Open {
			s.Number, s.OpenedAt = i, time.Now().Add(ahead)
		}
		start := time.Now().Add(ahead)
		s.Show(v)
		return (<-shown).Sub(start)
	}
	show(0)
	bytes, writes := s.wire.bytes.Load(), s.wire.writes.Load()
	var took []time.Duration
	b.ResetTimer()
	for i := range b.N {
		took = append(took, show(i+1))
	}
	b.StopTimer()
	slices.Sort(took)
	ms := func(p float64) float64 { return took[int(p*float64(len(took)-1))].Seconds() * 1000 }
	b.ReportMetric(ms(0.50), "p50-ms")
	b.ReportMetric(ms(0.99), "p99-ms")
	b.ReportMetric(float64(s.wire.bytes.Load()-bytes)/float64(b.N), "B/frame")
	b.ReportMetric(float64(s.wire.writes.Load()-writes)/float64(b.N), "writes/frame")
}
