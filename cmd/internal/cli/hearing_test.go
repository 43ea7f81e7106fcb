package cli

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// views keeps what is shown.
type views []cue.View

func (v *views) Show(w cue.View) { *v = append(*v, w) }

func (v views) last() cue.View { return v[len(v)-1] }

// benchRun lets a sound go through a follower and a hearing; the clock is that of the sound. at is called after each block of
// 10 ms with the time [s].
func benchRun(t *testing.T, c bench.Config, wiring detect.Wiring, at func(h *hearing, s float64)) views {
	c.SampleRate, c.Channels, c.Tone, c.Level, c.Seed = 48000, 1, 1010, -12, 1
	if c.Noise == 0 {
		c.Noise = bench.NoiseFor(bench.Amplitude(-12), 40)
	}
	src, err := bench.New(c)
	require.NoError(t, err)
	f, err := pump.NewFollower(src.Format(), pump.FollowOptions{Tone: 1010, Wiring: wiring})
	require.NoError(t, err)
	var out views
	start := time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)
	h := &hearing{follower: oneSet{f}, out: &out, rate: 48000, wiring: wiring}
	h.now = func() time.Time { return start.Add(h.seconds(f.Frame())) }
	buf := make([]float32, 480)
	var events []detect.Event
	for {
		n, err := src.Read(buf)
		if err != nil {
			break
		}
		events = f.Process(events[:0], buf[:n])
		for _, e := range events {
			h.event(e)
		}
		h.tick()
		if at != nil {
			at(h, float64(f.Frame())/48000)
		}
	}
	return out
}

func TestTheViewFollowsThePoints(t *testing.T) {
	var seen []string
	out := benchRun(t, bench.Config{Frames: 48000 * 4, Closed: 1, Changes: []bench.Change{
		{At: 1}, {At: 1.5, Closed: true}, {At: 2}, {At: 2.5, Closed: true}, {At: 3},
	}}, detect.Series, nil)
	var was cue.View
	for _, v := range out {
		if v.State != was.State || v.Number != was.Number || v.Provisional != was.Provisional {
			name := map[cue.State]string{cue.Unknown: "unknown", cue.Closed: "closed", cue.Open: "open", cue.Lost: "lost"}[v.State]
			if v.Provisional {
				name += "?"
			}
			seen = append(seen, name)
		}
		was = v
	}
	// An opening is provisional until the points have closed again, at the level they had.
	assert.Equal(t, []string{"open?", "closed?", "closed", "open?", "closed?", "closed", "open?"}, seen)
	assert.Equal(t, 3, was.Number)
	// The second one was heard 1 s before the end, and the view is of the last change of the text.
	assert.Equal(t, time.Date(2026, 1, 2, 3, 4, 8, 0, time.UTC), was.OpenedAt.Round(time.Millisecond))
	assert.Contains(t, was.Health, "points closed -12 dBFS")
	assert.Empty(t, was.Warning)
}

func TestTheViewSaysWhatToDoBeforeAnythingIsKnown(t *testing.T) {
	still := benchRun(t, bench.Config{Frames: 48000 * 2, Closed: 1}, detect.Series, nil).last()
	assert.Equal(t, cue.Unknown, still.State)
	assert.Contains(t, still.Health, "the tone comes back at -12 dBFS, 40 dB above the noise")
	assert.Contains(t, still.Advice, "Open and close the points once")

	apart := benchRun(t, bench.Config{Frames: 48000 * 2, Closed: 1, StartOpen: true}, detect.Series, nil).last()
	assert.Equal(t, cue.Unknown, apart.State)
	assert.Equal(t, "no tone comes back", apart.Health)
	assert.Contains(t, apart.Advice, "Close the points")

	across := benchRun(t, bench.Config{Frames: 48000 * 2, Open: 1}, detect.Shunt, nil).last()
	assert.Contains(t, across.Advice, "Open the points")
}

// A lead that falls off looks like an opening; the tone that comes back through a worse contact is not the level it was.
func TestAnOpeningCountsOnlyWhenTheToneComesBackAsItWas(t *testing.T) {
	first := bench.Config{Frames: 48000 * 3, Closed: 1, Changes: []bench.Change{{At: 1}, {At: 1.3, Closed: true}, {At: 2}, {At: 2.5, Closed: true}}}
	out := benchRun(t, first, detect.Series, nil)
	assert.Equal(t, 2, out.last().Number)
	assert.Empty(t, out.last().Note)

	open := detect.Event{Before: 0.25, After: 0.0001}
	assert.True(t, sameLevel(open, detect.Event{After: 0.24}))
	assert.False(t, sameLevel(open, detect.Event{After: 0.1}))
	assert.Equal(t, "8 dB quieter", louder(open, detect.Event{After: 0.1}))
	assert.Equal(t, "6 dB louder", louder(open, detect.Event{After: 0.5}))
}

func TestAnOpeningIsThrownAway(t *testing.T) {
	did := false
	out := benchRun(t, bench.Config{Frames: 48000 * 3, Closed: 1, Changes: []bench.Change{
		{At: 1}, {At: 1.3, Closed: true}, {At: 2}, {At: 2.3, Closed: true},
	}}, detect.Series, func(h *hearing, s float64) {
		if s > 1.4 && !did {
			did = true
			assert.Positive(t, h.newest())
			h.throwAway(h.newest())
			assert.Zero(t, h.newest(), "there is but one")
		}
	})
	assert.Equal(t, 2, out.last().Number, "the numbers are those of the log, which keeps what was thrown away")
	assert.Equal(t, 1, out.last().Thrown)
}

func TestWithSomethingLeftOfTheToneAnOpeningIsSure(t *testing.T) {
	out := benchRun(t, bench.Config{Frames: 48000 * 2, Closed: 1, Open: 0.2, Changes: []bench.Change{{At: 1}, {At: 1.6, Closed: true}}}, detect.Series, nil)
	sure := false
	for _, v := range out {
		sure = sure || v.State == cue.Open && !v.Provisional
	}
	assert.True(t, sure, "a lead that fell off would leave nothing")
}

// struck is a sound that is louder for some frames: somebody strikes metal beside the cable.
type struck struct {
	audio.Source
	pos, at, frames int
}

func (s *struck) Read(dst []float32) (int, error) {
	n, err := s.Source.Read(dst)
	ch := s.Format().Channels
	for i := range n * ch {
		if f := s.pos + i/ch; f >= s.at && f < s.at+s.frames {
			dst[i] *= 1.8
		}
	}
	s.pos += n
	return n, err
}

// What is measured in the milliseconds after a closing may be that of a blow: the level is looked at again before an opening is refused.
func TestABlowAtTheClosingRefusesNoOpening(t *testing.T) {
	for _, frames := range []int{0, 240, 960, 48000} {
		s := newShop(t, bench.Change{At: 1}, bench.Change{At: 1.5, Closed: true})
		s.wrap = func(src audio.Source) audio.Source { return &struck{Source: src, at: 48000*15/10 + 10, frames: frames} }
		require.Equal(t, ExitOK, s.run(t, "listen"), s.errs.String())
		said := s.out.String()
		assert.Contains(t, said, "points open, number 1", frames)
		if frames < 48000 {
			assert.Contains(t, said, "number 1 counts\n", frames)
			assert.NotContains(t, said, "does not count", frames)
		} else {
			assert.Contains(t, said, "opening 1 does not count: the tone came back", "another level that stays")
		}
	}
}
