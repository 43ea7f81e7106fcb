//go:build unix

package cli

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/live"
	"breakcue/cmd/internal/cue"
	"breakcue/detect"
)

const (
	cueOpenings = 1000
	cueBlock    = 128   // frames in a callback
	cueHalf     = 12000 // frames closed, frames open: 0.25 s each, beyond the flash limit of 0.17 s
	cueRate     = 48000
)

// BenchmarkCue measures the way of an opening from the entry of the callback that carries the block in which it is decided to the
// end of the write of the whole screen, for a thousand openings in noise 20 dB below the tone: engine, ring, detector and screen
// are those of the live command. Only the sound card is missing, whose place a goroutine takes: it calls at the pace of one around each
// opening, as fast as the sound is read in between.
func BenchmarkCue(b *testing.B) {
	for _, size := range []pty.Winsize{{Cols: 80, Rows: 24}, {Cols: 120, Rows: 40}} {
		b.Run(fmt.Sprintf("%dx%d", size.Cols, size.Rows), func(b *testing.B) {
			for b.Loop() {
				benchCue(b, size)
			}
		})
	}
}

func benchCue(b *testing.B, size pty.Winsize) {
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

	var ahead atomic.Int64 // by which the sound is ahead of the clock
	now := func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) }
	r := &liveRun{env: Env{Getenv: os.Getenv, Now: now}, flags: &liveFlags{}, rate: cueRate, delays: &delays{}, sentry: newSentry()}
	r.screen, err = cue.OpenScreen(cue.Options{Tty: tty, Now: now, Shown: func(v cue.View, at time.Time) {
		r.delays.shown(v, at.Add(-time.Duration(ahead.Load())))
	}})
	require.NoError(b, err)
	r.undo = append(r.undo, r.screen.Close)

	o := live.Options{Tone: live.Voice{Hz: liveTone(detect.Series, cueRate), Level: -12, Channel: 1}, Gather: calm, Urgent: r.sentry.urgent}
	card, callback, err := live.ByHand(o, cueRate, 1, 1)
	require.NoError(b, err)
	r.card = &opened{Card: card, name: "bench", options: o}
	r.undo = append(r.undo, card.Close)
	r.follower, err = (&liveFlags{}).follow(card.Format(), o, card.ToneFrom()+cueBlock)
	require.NoError(b, err)
	r.hear = &hearing{follower: r.follower, out: r.screen, now: now, rate: cueRate}
	r.event, r.key = func(detect.Event) error { return nil }, func(cue.Key) error { return nil }
	r.keys = make(chan cue.Key)
	var heard atomic.Int64
	r.tick = func() error { heard.Store(r.follower.Frame()); return nil }

	done := make(chan error)
	const frames = (cueOpenings + 2) * 2 * cueHalf
	r.flags.length = time.Duration(frames) * time.Second / cueRate
	go func() { done <- r.listen(b.Context()) }()
	playCue(callback, &heard, &ahead, frames)
	require.NoError(b, <-done)
	half, _ := r.delays.quantile(0.5)
	most, _ := r.delays.quantile(0.99)
	require.Greater(b, len(r.delays.samples), cueOpenings*99/100)
	b.ReportMetric(half.Seconds()*1e3, "ms-p50")
	b.ReportMetric(most.Seconds()*1e3, "ms-p99")
	b.ReportMetric(float64(len(r.delays.samples)), "openings")
}

// playCue is the driver and the cable: what goes out comes back with the next block, unless the points are open.
func playCue(callback func(in, out []float32), heard, ahead *atomic.Int64, frames int64) {
	rng := rand.New(rand.NewPCG(1, 2))
	noise := make([]float32, 48001)
	for i := range noise {
		noise[i] = float32(bench.NoiseFor(audio.Amplitude(-12), 20) * rng.NormFloat64())
	}
	in, out := make([]float32, cueBlock), make([]float32, cueBlock)
	beat := time.NewTicker(cueBlock * time.Second / cueRate)
	defer beat.Stop()
	start := time.Now()
	for at := int64(0); at < frames+cueBlock; at += cueBlock {
		for i := range in {
			f := at + int64(i)
			if f/cueHalf%2 == 1 {
				out[i] = 0
			}
			in[i] = out[i] + noise[f%int64(len(noise))]
		}
		switch away := (at + cueHalf) % (2 * cueHalf); {
		case away > 2*cueHalf-4*cueBlock || away < 4*cueBlock: // near an opening
			<-beat.C
		default:
			for at-heard.Load() > cueRate && heard.Load() > 0 {
				runtime.Gosched()
			}
		}
		ahead.Store(int64(time.Duration(at)*time.Second/cueRate - time.Since(start)))
		callback(in, out)
	}
}
