package pump_test

import (
	"math/cmplx"
	"slices"
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// follow lets a Follower hear a source to its end.
func follow(t testing.TB, src audio.Source, opt pump.FollowOptions) (*pump.Follower, []detect.Event) {
	l, err := pump.NewFollower(src.Format(), opt)
	require.NoError(t, err)
	var events []detect.Event
	_, err = pump.Run(t.Context(), src, []pump.Hearer{l}, pump.Span{}, pump.Taps{Event: func(e detect.Event) { events = append(events, e) }})
	require.NoError(t, err)
	return l, events
}

// settled returns the openings and closings.
func settled(events []detect.Event) (out []detect.Event) {
	for _, e := range events {
		if e.Stage == detect.Settled && (e.Kind == detect.KindOpen || e.Kind == detect.KindClose) {
			out = append(out, e)
		}
	}
	return out
}

func source(t testing.TB, c bench.Config) audio.Source {
	b, err := bench.New(c)
	require.NoError(t, err)
	return b
}

func (r rig) followOptions() pump.FollowOptions {
	o := pump.FollowOptions{Tone: r.tone}
	if r.cable.Wiring == circuit.Shunt {
		o.Wiring = detect.Shunt
	}
	return o
}

// The tolerances are those of the recordings: the levels come from less sound, the edges are the same.
func TestFollowingLosesNoOpeningNotEvenTheFirst(t *testing.T) {
	for _, tt := range []struct {
		name string
		us   float64
		set  func(*rig)
	}{
		{"in line", 12, func(r *rig) {}},
		{"in line, 1 kilohm", 20, func(r *rig) { r.cable = highLoad }},
		{"across", 12, func(r *rig) { r.cable = across }},
		{"in line, open in the beginning", 12, func(r *rig) {
			r.more = func(c *bench.Config) { c.StartOpen, c.Changes = true, c.Changes[1:] }
		}},
		{"across, open in the beginning", 12, func(r *rig) {
			r.cable = across
			r.more = func(c *bench.Config) { c.StartOpen, c.Changes = true, c.Changes[1:] }
		}},
		{"44.1 kHz", 12, func(r *rig) { r.rate = 44100 }},
		{"96 kHz", 12, func(r *rig) { r.rate = 96000 }},
		{"3 kHz across", 12, func(r *rig) { r.tone, r.cable = 3260, across }},
		{"20 dB", 65, func(r *rig) { r.snr = 20 }},
		{"10 dB", 220, func(r *rig) { r.snr = 10 }},
		{"leak -6 dB, 20 dB", 120, func(r *rig) { r.leak, r.phase, r.snr = 0.5, 0.1, 20 }},
		{"ticks", 12, func(r *rig) { r.more = ticks }},
		{"hum -20 dB", 100, func(r *rig) { r.more = hum }},
		{"two channels", 12, func(r *rig) { r.more = func(c *bench.Config) { c.Channels, c.Channel = 2, 1 } }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for seed := range uint64(4) {
				r := typical()
				tt.set(&r)
				c := r.config(t, seed)
				want, _ := truth(t, c)
				l, events := follow(t, source(t, c), r.followOptions())
				got := settled(events)
				require.Len(t, got, len(want), "seed %d", seed)
				for i, e := range got {
					e = e.Instant(l.EdgeModel())
					require.Equal(t, want[i].Closed, e.Kind == detect.KindClose, "seed %d, edge %d", seed, i)
					assert.InDelta(t, want[i].First, e.At(), tt.us*1e-6*float64(r.rate)+1, "seed %d, edge %d", seed, i)
					assert.GreaterOrEqual(t, e.DecidedFrame, e.Frame-1)
				}
				ids := map[int64]bool{}
				for _, e := range events {
					if e.Stage == detect.Settled {
						assert.False(t, ids[e.ID], "an event settles once")
						ids[e.ID] = true
					}
				}
				h := l.Health()
				assert.True(t, h.Known)
				assert.NoError(t, h.Reason)
				assert.Equal(t, c.Channel, h.Channel)
			}
		})
	}
}

func TestFollowingDoesNotDependOnBlocks(t *testing.T) {
	r := typical()
	r.snr = 20
	r.changes = bounced
	c := r.config(t, 3)
	_, want := follow(t, source(t, c), r.followOptions())
	require.NotEmpty(t, want)
	rapid.Check(t, func(rt *rapid.T) {
		src := audiotest.ShortReads(source(t, c), rapid.Uint64().Draw(rt, "seed"))
		_, got := follow(t, src, r.followOptions())
		require.Equal(rt, want, got)
	})
}

// What is heard before the points have moved is told, and is no event.
func TestNothingIsKnownBeforeThePointsHaveMoved(t *testing.T) {
	for name, tt := range map[string]struct {
		set    func(*bench.Config)
		reason error
		level  float64 // of the tone that comes back [dBFS], -200 for none
	}{
		"tone":    {func(*bench.Config) {}, detect.ErrNoChange, -10},
		"no tone": {func(c *bench.Config) { c.StartOpen, c.Open = true, 0 }, detect.ErrNoTone, -200},
		"nothing": {func(c *bench.Config) { c.StartOpen, c.Open, c.Noise = true, 0, 0 }, detect.ErrSilence, -200},
	} {
		t.Run(name, func(t *testing.T) {
			r := typical()
			r.changes = func(uint64) []bench.Change { return nil }
			r.seconds = 30
			c := r.config(t, 1)
			tt.set(&c)
			l, events := follow(t, source(t, c), r.followOptions())
			assert.Empty(t, events)
			assert.Equal(t, detect.Unknown, l.State())
			h := l.Health()
			assert.False(t, h.Known)
			require.ErrorIs(t, h.Reason, tt.reason)
			assert.InDelta(t, tt.level, pump.DBFS(h.Levels.Closed), 0.1) // dB: bins are 0.05 dB wide, noise adds a little
		})
	}
}

func TestTheFirstOpeningAfterALongRest(t *testing.T) {
	r := typical()
	r.changes = func(uint64) []bench.Change { return []bench.Change{{At: 71.3}, {At: 71.38, Closed: true}} }
	c := r.config(t, 1)
	_, events := follow(t, source(t, c), r.followOptions())
	got := settled(events)
	require.Len(t, got, 2)
	assert.InDelta(t, 71.3*48000, got[0].At(), 1)
	assert.InDelta(t, 71.38*48000, got[1].At(), 1)
}

// However long nothing came back before, the first opening is decided soon: the survey is asked every 0.05 s, and needs some blocks of
// the new level.
func TestTheFirstOpeningAfterALongSilenceIsDecidedSoon(t *testing.T) {
	r := typical()
	r.cable = across
	r.changes = func(uint64) []bench.Change { return []bench.Change{{At: 19.3}, {At: 20.3, Closed: true}} }
	c := r.config(t, 1)
	_, events := follow(t, source(t, c), r.followOptions())
	got := settled(events)
	require.Len(t, got, 2)
	assert.InDelta(t, 19.3*48000, got[0].At(), 1)
	assert.Less(t, got[0].DecidedFrame-got[0].Frame, int64(0.2*48000))
}

// spliced plays several sounds one after the other, as when a cable is changed.
func spliced(t testing.TB, parts ...bench.Config) audio.Source {
	var all []float32
	for _, c := range parts {
		src := source(t, c)
		buf := make([]float32, c.Frames)
		for at := 0; at < len(buf); {
			n, err := src.Read(buf[at:])
			require.NoError(t, err)
			at += n
		}
		all = append(all, buf...)
	}
	return audiotest.FromSlice(parts[0].SampleRate, 1, all)
}

// Where more of the tone leaks past the points than before, all edges are found all the same.
func TestAnotherOpenLevelIsFollowed(t *testing.T) {
	r := typical()
	before := r.config(t, 1)
	after := r.config(t, 2)
	after.Leak = cmplx.Rect(0.55*bench.Amplitude(-10)/bench.Amplitude(after.Level), 0)
	l, events := follow(t, spliced(t, before, after), r.followOptions())
	want, _ := truth(t, before)
	more, _ := truth(t, after)
	for _, e := range more {
		e.First += float64(before.Frames)
		want = append(want, e)
	}
	missed := 0
	got := settled(events)
	for _, w := range want {
		if !slices.ContainsFunc(got, func(e detect.Event) bool { d := e.At() - w.First; return d >= -1 && d <= 1 }) {
			missed++
		}
	}
	assert.Zero(t, missed)
	assert.Equal(t, detect.Closed, l.State())
	now := l.Health().Levels
	assert.InDelta(t, cmplx.Abs(after.Open+after.Leak)/cmplx.Abs(after.Closed+after.Leak), now.Open/now.Closed, 0.01) // noise at 40 dB
}

func TestAGapLeavesTheLevelsKnown(t *testing.T) {
	c := cycles(t)
	src := audiotest.WithGaps(source(t, c), audio.GapError{At: 48000 * 14 / 10, Lost: 4800}, audio.GapError{At: 48000 * 27 / 10, Lost: 480})
	_, events := follow(t, src, typical().followOptions())
	got := settled(events)
	require.Len(t, got, 6)
	gaps := 0
	for _, e := range events {
		if e.Cause == detect.CauseGap {
			gaps++
		}
	}
	assert.Equal(t, 2, gaps)
	for i, e := range got {
		assert.InDelta(t, allEdges[i]*48000, e.At(), 1)
	}
}

func TestAGapBeforeAnythingIsKnown(t *testing.T) {
	c := cycles(t)
	src := audiotest.WithGaps(source(t, c), audio.GapError{At: 9600, Lost: 4800})
	_, events := follow(t, src, typical().followOptions())
	require.NotEmpty(t, events)
	assert.Equal(t, detect.CauseGap, events[0].Cause)
	assert.Equal(t, int64(4800), events[0].Frame)
	assert.Equal(t, int64(9600), events[0].LastFrame)
	assert.Len(t, settled(events), 6)
}

// A card that pauses while the tone rises goes on with the rise afterwards: that is no edge.
func TestALossWhileTheToneRisesIsNoEdge(t *testing.T) {
	for _, cable := range []circuit.Circuit{lowLoad, across} {
		r := typical()
		r.cable, r.seconds = cable, 6
		r.changes = func(uint64) []bench.Change { return nil }
		c := r.config(t, 1)
		c.StartOpen = cable.Wiring == circuit.Shunt // so that the tone comes back
		x := make([]float32, c.Frames)
		_, err := source(t, c).Read(x)
		require.NoError(t, err)
		const rise = 72000 // 1.5 s
		for i := range x[:rise] {
			x[i] *= float32(i) / rise
		}
		opt := r.followOptions()
		opt.Begin = rise + 19200
		l, err := pump.NewFollower(audio.Format{SampleRate: 48000, Channels: 1}, opt)
		require.NoError(t, err)
		events := l.Process(nil, x[:4800])
		events = l.Skip(events, 96000) // the tone does not go on meanwhile
		events = l.Process(events, x[4800:])
		assert.Empty(t, settled(events))
		assert.Equal(t, detect.Unknown, l.State())
		require.ErrorIs(t, l.Health().Reason, detect.ErrNoChange)
	}
}

func TestClippingIsToldWhileItLasts(t *testing.T) {
	r := typical()
	c := r.config(t, 1)
	src := audiotest.FromSlice(c.SampleRate, 1, func() []float32 {
		x := make([]float32, c.Frames)
		_, err := source(t, c).Read(x)
		require.NoError(t, err)
		for i := range x {
			x[i] = max(-0.6, min(0.6, 4*x[i])) // 2 dB too loud for an input that cuts at 0.6
		}
		return x
	}())
	l, _ := follow(t, src, r.followOptions())
	h := l.Health()
	require.NotEmpty(t, h.Caveats)
	assert.Equal(t, "clipped", h.Caveats[0].Code)
}

func TestOptionsThatDoNotFitAreRefused(t *testing.T) {
	f := audio.Format{SampleRate: 8000, Channels: 1}
	for _, o := range []pump.FollowOptions{{Tone: 5000}, {Tone: 1000, Channel: 2}, {Tone: 10}} {
		_, err := pump.NewFollower(f, o)
		assert.Error(t, err)
	}
}

// Once the levels are known, following costs no memory.
func TestFollowingAllocatesNothing(t *testing.T) {
	c := cycles(t)
	c.Frames = 48000 * 4
	src := source(t, c)
	l, err := pump.NewFollower(src.Format(), typical().followOptions())
	require.NoError(t, err)
	block := make([]float32, 128)
	events := make([]detect.Event, 0, 64)
	read := func() {
		if n, err := src.Read(block); err == nil {
			events = l.Process(events[:0], block[:n])
		}
	}
	for l.Frame() < 48000*12/10 {
		read()
	}
	require.True(t, l.Health().Known)
	assert.Zero(t, testing.AllocsPerRun(800, read))
}

// BenchmarkFollow gives how many times faster than real time live sound is followed, before and after the levels are known.
func BenchmarkFollow(b *testing.B) {
	for name, changes := range map[string]func(uint64) []bench.Change{"learning": func(uint64) []bench.Change { return nil }, "known": plainChanges} {
		b.Run(name, func(b *testing.B) {
			r := typical()
			r.changes, r.seconds = changes, 10
			r.more = func(c *bench.Config) { c.Channels = 2 }
			c := r.config(b, 1)
			x := make([]float32, c.Frames*2)
			if _, err := source(b, c).Read(x); err != nil {
				b.Fatal(err)
			}
			l, err := pump.NewFollower(audio.Format{SampleRate: 48000, Channels: 2}, r.followOptions())
			require.NoError(b, err)
			var events []detect.Event
			b.ReportAllocs()
			for b.Loop() {
				for at := 0; at+256 <= len(x); at += 256 {
					events = l.Process(events[:0], x[at:at+256])
				}
			}
			b.ReportMetric(float64(b.N)*10/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}
