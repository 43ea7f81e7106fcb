package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/cmd/internal/session"
)

// talker is a sound with somebody who talks into one of its two channels, all the time.
type talker struct {
	audio.Source
	channel  int
	loud     float64 // peak of the loudest syllables [full scale]
	leak     float64 // how much of the voice is in the other channel
	rng      *rand.Rand
	syllable []float32 // what is left of it
}

// Read implements audio.Source.
func (s *talker) Read(dst []float32) (int, error) {
	n, err := s.Source.Read(dst)
	for i := range n {
		if len(s.syllable) == 0 {
			s.syllable = s.say()
		}
		x := s.syllable[0]
		s.syllable = s.syllable[1:]
		at := 2*i + s.channel
		dst[at] = float32(math.Max(-1, math.Min(1, float64(dst[at]+x))))
		dst[2*i+1-s.channel] += float32(s.leak) * x
	}
	return n, err
}

// say makes a syllable and the pause after it: 100 to 300 ms of a voice of 100 to 400 Hz with some twenty harmonics, which are
// strong where a mouth is (two places between 300 and 2500 Hz), while the pitch goes up or down by a fifth at most. What people
// speak at, and where, is common knowledge of phonetics; the figures are from memory.
func (s *talker) say() []float32 {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*s.rng.Float64() }
	length, pause := between(0.1, 0.3), between(0.02, 0.12)
	if s.rng.IntN(6) == 0 {
		pause = between(0.3, 0.8) // the end of a phrase
	}
	from := between(100, 400)
	to := math.Max(100, math.Min(400, from*between(0.67, 1.5)))
	mouth := [2]float64{between(300, 900), between(900, 2500)}
	peak := s.loud * between(0.2, 1)
	out := make([]float32, int((length+pause)*48000))
	phase := 0.0
	for n := range int(length * 48000) {
		at := float64(n) / (length * 48000)
		pitch := from + (to-from)*at
		phase += 2 * math.Pi * pitch / 48000
		x, all := 0.0, 0.0
		for k := 1.0; k*pitch < 5000; k++ {
			gain := 0.05 / k
			for _, hz := range mouth {
				gain += math.Exp(-math.Pow((k*pitch-hz)/150, 2))
			}
			x += gain * math.Sin(k*phase)
			all += gain
		}
		out[n] = float32(peak * math.Sin(math.Pi*at) * x / all * 1.5)
	}
	return out
}

// spoken is a take of the job to which nobody types: the readings are said aloud into the other channel. asked tells what the
// openings were asked like the day after, and what came out.
func spoken(t *testing.T, toneOn int, loud, leak float64) (r session.Report, asked string) {
	w := newWorkplace(t, nil, openings()...)
	w.sound.Frames = 48000 * 15
	w.sound.Channel = toneOn
	inner := w.wrap
	w.wrap = func(src audio.Source) audio.Source {
		if loud == 0 {
			return inner(src)
		}
		return inner(&talker{Source: src, channel: 1 - toneOn, loud: loud, leak: leak, rng: rand.New(rand.NewPCG(7, uint64(toneOn)))})
	}
	w.session(t)
	w.until(14)
	w.strike("q")
	require.Equal(t, ExitInconclusive, w.code, "nothing was typed: %s", w.errs.String())
	live, dir := w.journal(t)
	require.Len(t, live.Unread, len(job), "as they were heard")
	take := filepath.Join(dir, "take-01.wav")

	cues, _ := cuesOf(t, take)
	var marked []float64
	for _, c := range cues {
		if strings.HasPrefix(c.Label, "points open ") {
			marked = append(marked, float64(c.Frame)/48000)
		}
	}
	require.Len(t, marked, len(job))
	for i, pass := range job {
		assert.InDelta(t, pass.at, marked[i], 1e-3) // noise; a listener needs a second
	}

	var lines strings.Builder
	for _, i := range []int{0, 1, 7, 6, 5, 4, 3, 2} { // the last are heard backwards
		pass := job[i]
		fmt.Fprintf(&lines, "# %s %s\n", pass.place.Cylinder, pass.place.Phase)
		if i > 1 {
			fmt.Fprintf(&lines, "%d*", i+1)
		}
		fmt.Fprintf(&lines, "%s\n", pass.reading)
	}
	w.errs.Reset()
	w.out.Reset()
	w.env.In, w.env.InTTY, w.env.OutTTY = strings.NewReader(lines.String()), true, false
	require.Equal(t, ExitOK, w.run(t, append(append([]string{}, sheetArgs...), "--dir", t.TempDir(), "--input", take, "--json")...), w.errs.String())
	require.NoError(t, json.Unmarshal(w.out.Bytes(), &r))
	return r, w.errs.String()
}

// Readings may be said aloud, into the second input channel: they are found beside the openings, and change none of them.
func TestReadingsSpokenIntoTheOtherChannel(t *testing.T) {
	for toneOn := range 2 {
		var plain session.Report
		for name, voice := range map[string]struct{ loud, leak float64 }{
			"as loud as the tone": {0.25, 0}, "louder": {0.9, 0}, "cut off": {3, 0}, "louder, and some of it leaks": {0.9, 0.003},
		} {
			t.Run(fmt.Sprintf("%s, tone on channel %d", name, toneOn+1), func(t *testing.T) {
				if plain.Schema == "" {
					plain, _ = spoken(t, toneOn, 0, 0)
				}
				r, asked := spoken(t, toneOn, voice.loud, voice.leak)
				var opened []float64
				for _, pass := range job {
					opened = append(opened, pass.at)
				}
				assertJob(t, r, opened, 1e-3) // noise
				assert.Equal(t, results(t, plain), results(t, r))
				for i, c := range r.Cylinders {
					for k, ph := range c.Phases {
						for n, p := range ph.Passes {
							want := plain.Cylinders[i].Phases[k].Passes[n].Edge
							assert.Equal(t, want.ID, p.Edge.ID)
							if voice.leak == 0 {
								assert.Equal(t, want.Sample, p.Edge.Sample)
							}
						}
					}
				}
				assert.Contains(t, asked, "opening 1 of 8, points open at 1.500 s, next at 3.000 s; left, as found: ")
				assert.Contains(t, asked, "opening 8 at 12.000 s: taken, as of right, as left\n")
				assert.Contains(t, asked, "opening 3 of 8, points open at 4.500 s, next at 6.000 s; right, as found: ")
			})
		}
	}
}
