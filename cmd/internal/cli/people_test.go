package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// racket is a sound with that of the shop on top: hammering, music, and the beep that comes from the loudspeaker back into the
// input.
type racket struct {
	audio.Source
	hammer audio.Source
	music  []*audio.Tone
	bar    int64 // [frames] of each note
	beep   *audio.Tone
	left   int64 // [frames] of the beep
	pos    int64
}

func (r *racket) Read(dst []float32) (int, error) {
	n, err := r.Source.Read(dst)
	dst = dst[:2*n]
	knocks := make([]float32, len(dst))
	_, _ = r.hammer.Read(knocks)
	for i, x := range knocks {
		dst[i] += x
	}
	for c := range 2 {
		r.music[r.pos/r.bar%int64(len(r.music))].Add(dst, 2, c)
	}
	if r.beep != nil {
		if r.left <= 0 {
			r.beep.Stop()
		}
		r.left -= int64(n)
		for i := range n { // it is as loud in both channels
			var x [1]float32
			r.beep.Add(x[:], 1, 0)
			dst[2*i] += x[0]
			dst[2*i+1] += x[0]
		}
	}
	r.pos += int64(n)
	return n, err
}

// tone is a sine that sounds.
func tone(t *testing.T, hz, dbfs float64) *audio.Tone {
	x, err := audio.NewTone(hz, dbfs, 48000)
	require.NoError(t, err)
	return x
}

// job is two cylinders as found and as left, two passes each: when the points open [s], the keys that are struck before and after,
// how the reading stands in the log, and what the two passes come to [mm before TDC], mean of all four figures.
var job = []struct {
	at            float64
	before, after string
	reading       string
	place         logbook.Place
	mean          float64
	verdict       string
}{
	{1.5, "2.28/\n", "2.25\n", "2.28/2.25", logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, 2.28, timing.OutOfTolerance.String()},
	{3.0, "", "2+31/2+28\n*", "2+31/2+28", logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, 2.28, timing.OutOfTolerance.String()},
	{4.5, "2.09/\n2.01/\n", "1.98\n", "2.01/1.98", logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}, 2.0025, timing.InTolerance.String()},
	{6.0, "", "2.02/2.00\n*", "2.02/2.00", logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}, 2.0025, timing.InTolerance.String()},
	{7.5, "1.72/\n", "1.69\n", "1.72/1.69", logbook.Place{Cylinder: "right", Phase: logbook.AsFound}, 1.715, timing.OutOfTolerance.String()},
	{9.0, "1.74/\n", "1.71\n*", "1.74/1.71", logbook.Place{Cylinder: "right", Phase: logbook.AsFound}, 1.715, timing.OutOfTolerance.String()},
	{10.5, "2.03/\n", "1.98\n", "2.03/1.98", logbook.Place{Cylinder: "right", Phase: logbook.AsLeft}, 2.005, timing.InTolerance.String()},
	{12.0, "2.02/\n", "1.99\n", "2.02/1.99", logbook.Place{Cylinder: "right", Phase: logbook.AsLeft}, 2.005, timing.InTolerance.String()},
}

// openings are those of the job: the points are open for half a second each time.
func openings() (out []bench.Change) {
	for _, pass := range job {
		out = append(out, bench.Change{At: pass.at}, bench.Change{At: pass.at + 0.5, Closed: true})
	}
	return out
}

// work does the job: the first half of a reading is struck half a second before its opening, the rest so long after it [s].
func (w *workplace) work(after float64) {
	for _, pass := range job {
		w.until(pass.at - 0.5)
		w.strike(pass.before)
		w.until(pass.at + after)
		w.strike(pass.after)
	}
}

// assertJob asserts that a report is that of the job: every pass with its opening [s], no other opening, and the results.
func assertJob(t *testing.T, r session.Report, opened []float64) {
	t.Helper()
	assert.Empty(t, r.Unread, "a false opening")
	count := map[logbook.Place]int{}
	for i, pass := range job {
		ph, ok := r.Phase(pass.place)
		require.True(t, ok, "%v", pass.place)
		require.Len(t, ph.Passes, 2, "%v", pass.place)
		p := ph.Passes[count[pass.place]]
		count[pass.place]++
		assert.Equal(t, pass.reading, p.Reading)
		assert.Empty(t, p.Unused)
		require.NotNil(t, p.Edge)
		assert.InDelta(t, opened[i], p.Edge.TimeS, 1e-3)  // noise and hammering; the openings are 1.5 s apart
		assert.InDelta(t, pass.mean-2, *ph.ErrorMM, 1e-9) // rounding; the sheet says 2.0 mm
		assert.Equal(t, pass.verdict, ph.Verdict)
		if pass.verdict == timing.OutOfTolerance.String() {
			require.NotNil(t, ph.EarlyOrLate)
			assert.Equal(t, pass.mean > 2, *ph.EarlyOrLate == "early")
		}
	}
}

// Noise, hum, hammering, music and the beep come back into the input, and both hands are dirty: nothing but the number pad is used.
func TestANoisyShop(t *testing.T) {
	slow := bench.Chatter{Speed: 2, Lift: 0.03, Length: 0.002} // a hand creeping up: 50 ms
	changes, err := bench.AddChatter(openings(), slow, 7)
	require.NoError(t, err)
	w := newWorkplace(t, nil, changes...)
	closed := bench.Amplitude(-12)
	w.sound.Frames = 48000 * 15
	w.sound.Noise = bench.NoiseFor(closed, 26)
	w.sound.Hum = bench.Hum{Hz: 50, Level: closed / 4, Harmonics: 7}
	w.sound.Ticks = bench.Ticks{Rate: 8, Length: 100e-6, Level: closed}
	w.sound.BandLimited = true
	hammer, err := bench.New(bench.Config{SampleRate: 48000, Channels: 2, Frames: w.sound.Frames, Tone: 1000, Level: -200, Seed: 3,
		Ticks: bench.Ticks{Rate: 2, Length: 0.005, Level: 2 * closed}})
	require.NoError(t, err)
	inner := w.wrap
	w.wrap = func(src audio.Source) audio.Source {
		r := &racket{Source: src, hammer: hammer, bar: 48000 / 5}
		for _, hz := range []float64{440, 523.25, 659.26, 987.77, 880, 783.99, 1046.5} { // near the test tone too
			r.music = append(r.music, tone(t, hz, -38))
		}
		if a := w.asked.Alert; a != nil {
			r.beep = tone(t, a.Hz, a.Level-20)
			r.beep.SetRamp(5 * time.Millisecond)
			r.beep.Stop()
			defer func() {
				w.card.beeped = func() { r.beep.Start(); r.left = int64(a.Length.Seconds() * 48000) }
			}()
		}
		return inner(r)
	}
	for _, pass := range job {
		assert.Empty(t, strings.Trim(pass.before+pass.after, "0123456789./*-+\n"), "the keys of a number pad")
	}
	w.session(t, "--alert", "--for", "14s")
	w.work(0.05)
	w.until(15)
	require.True(t, w.ended)
	require.Equal(t, ExitOK, w.code, w.errs.String())
	r, _ := w.journal(t)
	truth := broken(t, w.sound)
	require.Len(t, truth, len(job))
	assertJob(t, r, truth)
	// A blow of the hammer may look like an opening for some milliseconds: then the beep is cut short.
	assert.Equal(t, len(job), w.card.sounded-w.card.hushed, "one beep for each opening")
	assert.Contains(t, w.out.String(), "0.28 mm too early")
}

// broken gives when each opening of a sound began [s].
func broken(t *testing.T, c bench.Config) (at []float64) {
	b, err := bench.New(c)
	require.NoError(t, err)
	for _, e := range b.Truth(20 * time.Millisecond).Events {
		if !e.Closed {
			at = append(at, e.First/float64(c.SampleRate))
		}
	}
	return at
}

// bigWord are the rows with the big word of a state, as the screens kept with package cue have them.
func bigWord(t *testing.T, scene string) []string {
	raw, err := os.ReadFile(filepath.Join("..", "cue", "testdata", scene+"-80x24.txt"))
	require.NoError(t, err)
	return strings.Split(string(raw), "\n")[4:11]
}

// inside is a row without the pattern at its ends.
func inside(row string) string {
	r := []rune(row + strings.Repeat(" ", 80))
	return strings.TrimSpace(string(r[4:76]))
}

// Not a sound comes out but the test tone: all that happens is on the screen, with colours and without, and in no colour alone.
func TestSomebodyHardOfHearing(t *testing.T) {
	for name, env := range map[string]map[string]string{"colours": nil, "no colours": {"NO_COLOR": "1"}} {
		t.Run(name, func(t *testing.T) {
			w := newWorkplace(t, env, bench.Change{At: 1.5}, bench.Change{At: 2.5, Closed: true}, bench.Change{At: 4}, bench.Change{At: 5, Closed: true},
				bench.Change{At: 6.5}, bench.Change{At: 7.5, Closed: true})
			w.sound.Frames = 48000 * 20
			w.sound.Open = 0.1 // the condenser lets some of the tone through
			w.session(t)
			w.until(0.1)
			w.sees(t, "cable in line", "recording take-01.wav 0:00", caution, "Dial reading, left, as found", "No opening yet.", "q: end")
			w.until(1.3)
			w.sees(t, "Open and close the points once: then both levels are known.")
			w.until(1.9)
			open := w.sees(t, "P O I N T S", "opening", "Opening 1 was just now.")
			w.strike("2.02/1.99")
			w.watch(t, "what was typed, in big figures", func(rows []string) bool { return !slices.Equal(rows[16:20], open[16:20]) })
			w.strike("\n")
			w.sees(t, "2.02/1.99 (1 pass): 0.00 mm: neither early nor late; cannot tell yet, 1 more pass")
			w.until(3)
			closed := w.sees(t, "P O I N T S", "1 opening so far.", "cannot tell yet")
			w.until(4.5)
			w.strike("2.03/1.99\n")
			w.sees(t, "Opening 2 was just now.", "2.03/1.99 (2 passes): 0.01 mm too early", "in tolerance")
			w.strike("*")
			w.sees(t, "Dial reading, left, as left")
			w.until(6.9)
			w.sees(t, "Opening 3 was just now.")
			w.strike("x")
			w.sees(t, "2 openings so far. 1 thrown away.", "opening 3 thrown away")
			w.strike("q")
			require.True(t, w.ended)
			require.Equal(t, ExitOK, w.code, w.errs.String())
			assert.Contains(t, w.out.String(), "verdict: in tolerance")
			for scene, rows := range map[string][]string{"open-prompt": open, "closed-count": closed} {
				for i, row := range bigWord(t, scene) {
					assert.Equal(t, row, rows[3+i], "the big word of the scene %s, row %d", scene, i)
				}
			}
			for style := range w.screen.style {
				ink, paper, _ := style.Decompose()
				assert.Equal(t, name == "colours", ink != tcell.ColorDefault || paper != tcell.ColorDefault, "%v", style)
			}
		})
	}
}

// In line, with no condenser, a lead that falls off looks as open points do: the screen says when an opening counts, and when not.
func TestWhetherAnOpeningCountsIsSeen(t *testing.T) {
	w := newWorkplace(t, map[string]string{"NO_COLOR": "1"}, fourTimes[:6]...)
	w.sound.Frames = 48000 * 6
	inner := w.wrap
	w.wrap = func(src audio.Source) audio.Source { return inner(&halved{Source: src, at: 48000 * 32 / 10}) } // a clip slips, third time
	w.session(t)
	w.until(1.3)
	w.sees(t, "Opening 1 was just now. It counts when the points close again.")
	w.until(1.8)
	rows := w.sees(t, "1 opening so far.")
	assert.NotContains(t, unbroken(rows), "It counts when")
	w.strike("2.03/")
	w.strike("\n")
	w.sees(t, "2.03/; first open? left, as found")
	w.until(3.96) // half a second after the points closed
	lost := w.sees(t, "! WARNING: what comes back fits neither state: check the clips", "Open and close the points once")
	for i, row := range bigWord(t, "lost") {
		assert.Equal(t, inside(row), inside(lost[3+i]), "the big word, row %d", i)
	}
	w.until(5)
	w.sees(t, "2 openings so far.", "opening 3 does not count: the tone came back 6 dB quieter; check the clips")
	w.strike("q")
	require.True(t, w.ended)
}

// results gives what people go by of each place of a report.
func results(t *testing.T, r session.Report) map[logbook.Place]session.Phase {
	out := map[logbook.Place]session.Phase{}
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			ph.Passes = slices.Clone(ph.Passes)
			for i := range ph.Passes {
				require.NotNil(t, ph.Passes[i].Edge)
				ph.Passes[i].Edge, ph.Passes[i].Entry = nil, 0
			}
			out[logbook.Place{Cylinder: c.Name, Phase: ph.Phase}] = ph
		}
	}
	return out
}

// again runs a command on another day and gives what it printed.
func (w *workplace) again(t *testing.T, in string, args ...string) string {
	w.out.Reset()
	w.env.In, w.env.InTTY, w.env.OutTTY = strings.NewReader(in), false, false
	require.Equal(t, ExitOK, w.run(t, args...), "%v: %s", args, w.errs.String())
	return w.out.String()
}

// The readings are on paper on the day, and are given to the openings of the recording on the next.
func TestReviewingLater(t *testing.T) {
	live := newWorkplace(t, nil, openings()...)
	live.sound.Frames = 48000 * 15
	live.session(t)
	live.work(0.3)
	live.strike("q")
	require.Equal(t, ExitOK, live.code, live.errs.String())
	typed, _ := live.journal(t)
	assertJob(t, typed, broken(t, live.sound))

	w := newWorkplace(t, nil, openings()...)
	w.sound.Frames = 48000 * 15
	w.session(t)
	w.until(14)
	w.strike("q")
	require.Equal(t, ExitInconclusive, w.code, "nothing was typed")
	bare, dir := w.journal(t)
	require.Len(t, bare.Unread, len(job))
	tuesday := time.Date(2026, 5, 5, 9, 0, 0, 0, time.UTC)
	w.env.Now = func() time.Time { return tuesday }
	take := filepath.Join(dir, "take-01.wav")

	var found reviewResult
	require.NoError(t, json.Unmarshal([]byte(w.again(t, "", "review", take, "--json")), &found))
	require.Len(t, found.Edges, 2*len(job))
	for i, pass := range job {
		assert.Equal(t, "open", found.Edges[2*i].Kind)
		assert.InDelta(t, pass.at, found.Edges[2*i].Time, 1e-4) // some frames: noise
	}

	var lines strings.Builder
	for i := len(job) - 1; i >= 0; i-- { // in any order
		pass := job[i]
		place := fmt.Sprintf("%s %s", pass.place.Cylinder, pass.place.Phase)
		w.again(t, "", "log", "amend", filepath.Base(dir), "--dir", w.root, "--opening", strconv.Itoa(i+1), "--place", place,
			"--reading", pass.reading, "--why", "from the paper", "--who", "Ada")
	}
	for _, pass := range job {
		fmt.Fprintf(&lines, "# %s %s\n%s\n", pass.place.Cylinder, pass.place.Phase, pass.reading)
	}
	amended, _ := w.journal(t)
	assertJob(t, amended, broken(t, live.sound))
	assert.Equal(t, results(t, typed), results(t, amended))

	other := t.TempDir()
	var fresh session.Report
	require.NoError(t, json.Unmarshal([]byte(w.again(t, lines.String(), append(append([]string{}, sheetArgs...),
		"--dir", other, "--input", take, "--readings", "-", "--json")...)), &fresh))
	assertJob(t, fresh, broken(t, live.sound))
	assert.Equal(t, results(t, typed), results(t, fresh))

	shown := w.again(t, "", "log", "show", filepath.Base(dir), "--dir", w.root)
	for _, pass := range job {
		assert.Contains(t, shown, fmt.Sprintf("corrected by Ada on 2026-05-05 09:00: text from \"-\" to %q: from the paper", pass.reading))
	}
}
