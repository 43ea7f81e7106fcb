package pump_test

import (
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func pairOptions(c bench.Config, o pump.Options) pump.PairOptions {
	return pump.PairOptions{Tones: [2]float64{c.Tone, c.Second.Tone}, Wiring: o.Wiring, Channel: c.Channel + 1}
}

// followPair lets a PairFollower hear a source to its end.
func followPair(t testing.TB, src audio.Source, opt pump.PairOptions) (*pump.PairFollower, []detect.Event) {
	l, err := pump.NewPairFollower(src.Format(), opt)
	require.NoError(t, err)
	var events []detect.Event
	_, err = pump.Run(t.Context(), src, []pump.Hearer{l}, pump.Span{}, pump.Taps{Event: func(e detect.Event) { events = append(events, e) }})
	require.NoError(t, err)
	return l, events
}

// heardOf returns the settled edges of a set as an analysis would.
func heardOf(l *pump.PairFollower, events []detect.Event, set int) pump.Analysis {
	a := ofSet(pump.Analysis{Edges: settled(events)}, set)
	for i, e := range a.Edges {
		a.Edges[i] = e.Instant(l.EdgeModel(set))
	}
	return a
}

// The tolerances are those of TestFollowingLosesNoOpeningNotEvenTheFirst and a fifth.
func TestFollowingTwoSetsLosesNoOpeningNotEvenTheFirst(t *testing.T) {
	for _, tt := range []struct {
		name string
		us   float64
		down float64
		set  func(*rig)
		more func(c *bench.Config)
	}{
		{"in line", 14, 0, func(r *rig) {}, nil},
		{"together", 14, 0, func(r *rig) {}, together},
		{"20 dB weaker", 14, 20, func(r *rig) {}, nil},
		{"the second much later", 14, 0, func(r *rig) {}, func(c *bench.Config) {
			for i := range c.Second.Changes {
				c.Second.Changes[i].At += 4
			}
			c.Frames += 4 * int64(c.SampleRate)
		}},
		{"in line, 1 kilohm", 24, 0, func(r *rig) { r.cable = highLoad }, nil},
		{"across", 24, 0, func(r *rig) { r.cable, r.tone = across, 3010 }, nil},
		{"open in the beginning", 14, 0, func(r *rig) {
			r.more = func(c *bench.Config) { c.StartOpen, c.Changes = true, c.Changes[1:] }
		}, nil},
		{"10 dB", 264, 0, func(r *rig) { r.snr = 10 }, nil},
		{"leak -6 dB, 20 dB", 144, 0, func(r *rig) { r.leak, r.phase, r.snr = 0.5, 0.1, 20 }, nil},
		{"ticks", 14, 0, func(r *rig) { r.more = ticks }, nil},
		{"coupled as by the recommended cable in line", 14, 0, func(r *rig) {}, coupled(0.06, 0.06)},
		{"coupled as by the recommended cable across", 24, 6, func(r *rig) { r.cable, r.tone = across, 3010 }, coupled(0.07, -0.07)},
		{"coupled by 1.2 dB", 24, 6, func(r *rig) {}, coupled(0.15, 0.15)},
		{"band-limited", 14, 0, func(r *rig) { r.more = bandLimited }, nil},
		{"two channels", 14, 0, func(r *rig) { r.more = func(c *bench.Config) { c.Channels, c.Channel = 2, 1 } }, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for seed := range uint64(2) {
				r := typical()
				tt.set(&r)
				c := r.beside(t, seed+1, 1630, tt.down)
				if tt.more != nil {
					tt.more(&c)
				}
				l, events := followPair(t, source(t, c), pairOptions(c, r.options()))
				for i, want := range bothTruths(t, c) {
					requireEvents(t, want, heardOf(l, events, i+1), tt.us*1e-6*float64(r.rate)+1, seed)
					cfg, times := l.Learnt(i + 1)
					assert.Equal(t, 1, times, "learnt once, and kept")
					assert.Equal(t, i+1, cfg.Set)
					assert.Equal(t, c.Channel, cfg.Channel)
					h := l.Health(i + 1)
					assert.True(t, h.Known)
					assert.Equal(t, c.Channel, h.Channel)
				}
			}
		})
	}
}

// While one set has never opened the other is followed, and the state of the first stays unknown.
func TestASetIsFollowedWhileTheOtherIsUnknown(t *testing.T) {
	c := typical().beside(t, 3, 1630, 0)
	c.Changes = nil
	l, events := followPair(t, source(t, c), pairOptions(c, pump.Options{}))
	requireEvents(t, bothTruths(t, c)[1], heardOf(l, events, 2), 2, 3)
	assert.Equal(t, detect.Unknown, l.State(1))
	assert.NotEqual(t, detect.Unknown, l.State(2))
	assert.False(t, l.Health(1).Known)
	assert.ErrorIs(t, l.Health(1).Reason, detect.ErrNoChange)
	for _, e := range events {
		assert.Equal(t, 2, e.Set)
	}
}

func TestFollowingTwoSetsGivesTheSameEventsHoweverTheSoundIsCut(t *testing.T) {
	c := typical().beside(t, 4, 1630, 6)
	x := soundOf(t, source(t, c))
	hear := func(cuts []int) (events []detect.Event) {
		l, err := pump.NewPairFollower(audio.Format{SampleRate: 48000, Channels: 1}, pairOptions(c, pump.Options{}))
		require.NoError(t, err)
		for at, k := 0, 0; at < len(x); k++ {
			n := min(cuts[k%len(cuts)], len(x)-at)
			events = l.Process(events, x[at:at+n])
			at += n
			if at == len(x)/2 {
				events = l.Skip(events, 100)
			}
		}
		return l.Flush(events)
	}
	half := len(x) / 2
	want := hear([]int{half})
	require.NotEmpty(t, settled(want))
	ids := map[int64]detect.Event{}
	for _, e := range want {
		if was, ok := ids[e.ID]; ok {
			require.Equal(t, was.Set, e.Set)
			require.Equal(t, was.DecidedFrame, e.DecidedFrame)
		}
		ids[e.ID] = e
	}
	rapid.Check(t, func(rt *rapid.T) {
		first := rapid.IntRange(1, half-1).Draw(rt, "first")
		assert.Equal(rt, want, hear([]int{first, half - first}))
	})
	assert.Equal(t, want, hear([]int{1}))
}

// With levels measured before the first opening of each set is decided at once, and the state is known before.
func TestKnownLevelsOfTwoSetsDecideTheFirstOpeningsAtOnce(t *testing.T) {
	for name, set := range map[string]func(*rig){
		"in line": func(r *rig) {}, "across": func(r *rig) { r.cable, r.tone = across, 3010 }, "20 dB": func(r *rig) { r.snr = 20 },
	} {
		t.Run(name, func(t *testing.T) {
			r := typical()
			set(&r)
			c := r.beside(t, 6, 1630, 0)
			opt := pairOptions(c, r.options())
			second := c
			second.Tone, second.Level, second.Closed, second.Open, second.Leak = c.Second.Tone, c.Second.Level, c.Second.Closed, c.Second.Open, c.Second.Leak
			opt.Profiles = [2]*detect.Profile{profileOf(c), profileOf(second)}
			l, events := followPair(t, source(t, c), opt)
			for i, want := range bothTruths(t, c) {
				fits, why := l.ProfileFits(i + 1)
				assert.True(t, fits, why)
				requireEvents(t, want, heardOf(l, events, i+1), 80e-6*float64(r.rate)+1, 6)
				for _, e := range events {
					if e.Set == i+1 && e.Stage == detect.Decided {
						// Two tones are told apart in 4 ms, where no phase is known yet; here the second set opens within 3 ms of the first.
						assert.Less(t, float64(e.DecidedFrame)-want[0].First, 0.008*float64(r.rate), "set %d", i+1)
						break
					}
				}
			}
		})
	}
}

// Lost frames: both sets are unknown until they are found again, and are told of once each.
func TestFollowingTwoSetsAcrossAGap(t *testing.T) {
	c := typical().beside(t, 5, 1630, 0)
	gap := int64(1.5 * 48000)
	_, events := followPair(t, audiotest.WithGaps(source(t, c), audio.GapError{At: gap, Lost: 700}), pairOptions(c, pump.Options{}))
	faults := map[int]int{}
	for _, e := range events {
		if e.Kind == detect.KindFault {
			faults[e.Set]++
			assert.Equal(t, detect.CauseGap, e.Cause)
			assert.Equal(t, gap-700, e.Frame, "where the lost ones would have begun")
		}
	}
	assert.Equal(t, map[int]int{1: 1, 2: 1}, faults)
}

func TestPairFollowerRefuses(t *testing.T) {
	f := audio.Format{SampleRate: 48000, Channels: 2}
	for _, tt := range []struct {
		opt  pump.PairOptions
		want string
	}{
		{pump.PairOptions{Tones: [2]float64{1000, 1600}}, "the one in which both tones come back"},
		{pump.PairOptions{Tones: [2]float64{1000, 1600}, Channel: 3}, "1 to 2"},
		{pump.PairOptions{Tones: [2]float64{1000, 1050}, Channel: 1}, "apart"},
		{pump.PairOptions{Tones: [2]float64{1000, 30000}, Channel: 1}, "tone"},
	} {
		_, err := pump.NewPairFollower(f, tt.opt)
		assert.ErrorContains(t, err, tt.want)
	}
}
