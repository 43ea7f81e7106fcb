package detect

import (
	"math"
	"math/cmplx"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestEdgesAreFoundToTheSample(t *testing.T) {
	// At 40 dB the maximum-likelihood change point is exact in more than 99 of 100 trials; one frame either way is allowed for
	// edges where the tone passes through zero.
	for name, change := range map[string]func(*synth){
		"series":                   func(*synth) {},
		"leak -6 dB, turned":       func(s *synth) { s.open = cmplx.Rect(0.125, 2) },
		"only the phase differs":   func(s *synth) { s.open = cmplx.Rect(0.2, 0.9) },
		"8 kHz":                    func(s *synth) { s.fs, s.tone, s.turns, s.n = 8000, 1000, []int{4000, 5500, 8001, 12003}, 16000 },
		"44.1 kHz, 2870 Hz":        func(s *synth) { s.fs, s.tone = 44100, 2870 },
		"96 kHz, 300 Hz":           func(s *synth) { s.fs, s.tone = 96000, 300 },
		"192 kHz, 8 kHz":           func(s *synth) { s.fs, s.tone = 192000, 8000 },
		"48 kHz, 1020 Hz":          func(s *synth) { s.tone = 1020 },
		"starts open":              func(s *synth) { s.startsOpen = true },
		"quiet":                    func(s *synth) { s.closed, s.sigma = 0.002, snr(0.002, 40) },
		"loud, polarity turned":    func(s *synth) { s.closed, s.sigma = -0.95, snr(0.95, 40) },
		"contacts open most times": func(s *synth) { s.turns, s.n = []int{24000, 100000, 103000, 190000}, 200000 },
		"contacts closed mostly":   func(s *synth) { s.turns, s.n = []int{150000, 153000}, 200000 },
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			change(&s)
			_, ev, d, err := run(s.render(), s.fs, 1000, SurveyOptions{})
			require.NoError(t, err)
			require.NoError(t, d.Judge())
			require.Len(t, frames(ev), len(s.turns), "%v", ev)
			first := KindOpen
			if s.startsOpen {
				first = KindClose
			}
			for i, e := range edges(ev) {
				assert.InDelta(t, s.turns[i], e.Frame, 1)
				assert.Positive(t, e.Uncertainty)
				want := first
				if i%2 == 1 {
					want = KindOpen + KindClose - first
				}
				assert.Equal(t, want, e.Kind)
				assert.GreaterOrEqual(t, e.DecidedFrame, e.Frame-1)
				assert.Zero(t, e.Reclosures)
			}
			assert.Equal(t, Gate, d.EdgeModel())
		})
	}
}

func TestShuntTurnsTheMeaning(t *testing.T) {
	s := basicSynth()
	_, ev, _, err := run(s.render(), s.fs, 4096, SurveyOptions{Wiring: Shunt})
	require.NoError(t, err)
	assert.Equal(t, []Kind{KindClose, KindOpen, KindClose, KindOpen, KindClose, KindOpen}, kinds(ev))
}

func TestLevelsAreMeasured(t *testing.T) {
	s := basicSynth()
	s.open = cmplx.Rect(0.1, 1)
	_, _, d, err := run(s.render(), s.fs, 4096, SurveyOptions{})
	require.NoError(t, err)
	l := d.Levels()
	assert.InDelta(t, 0.25, l.Closed, 0.0005) // 0.2 %: the mean over a second at 40 dB
	assert.InDelta(t, 0.1, l.Open, 0.001)
	assert.InDelta(t, cmplx.Abs(s.closed-s.open), l.Distance, 0.002)
	assert.InDelta(t, s.sigma, l.Noise, 0.1*s.sigma) // a variance from some thousand samples, with the survey's first guess in it
}

func TestAnySplitIntoBlocksGivesTheSameEvents(t *testing.T) {
	s := basicSynth()
	s.turns = append([]int{12000, 12100, 12110, 15000}, s.turns...) // with a bounce
	x := s.render()
	cfg := s.config()
	want, _, err := detectAll(cfg, x, len(x))
	require.NoError(t, err)
	require.NotEmpty(t, want)
	rapid.Check(t, func(t *rapid.T) {
		d, err := New(cfg)
		require.NoError(t, err)
		var got []Event
		for rest := x; len(rest) > 0; {
			n := rapid.IntRange(1, 30000).Draw(t, "block")
			if rapid.Bool().Draw(t, "small") {
				n = n%64 + 1
			}
			n = min(n, len(rest))
			got = d.Process(got, rest[:n])
			rest = rest[n:]
		}
		require.Equal(t, want, d.Flush(got))
	})
}

func TestOneFrameAtATimeGivesTheSameEvents(t *testing.T) {
	s := basicSynth()
	x := s.render()
	want, _, err := detectAll(s.config(), x, len(x))
	require.NoError(t, err)
	got, _, err := detectAll(s.config(), x, 1)
	require.NoError(t, err)
	assert.Equal(t, want, got)
}

func TestResetRestoresEverything(t *testing.T) {
	s := basicSynth()
	x := s.render()
	want, d, err := detectAll(s.config(), x, 999)
	require.NoError(t, err)
	d.Reset()
	state, since := d.State()
	assert.Equal(t, Unknown, state)
	assert.Zero(t, since)
	assert.Equal(t, want, d.Flush(d.Process(nil, x)))
}

// What does not change the contacts leaves the edges where they were.
func TestEdgesStayWhereTheyAre(t *testing.T) {
	base := basicSynth()
	x := base.render()
	_, ev, _, err := run(x, base.fs, 4096, SurveyOptions{})
	require.NoError(t, err)
	want := frames(ev)
	rapid.Check(t, func(t *rapid.T) {
		gain := float32(rapid.Float64Range(0.01, 3.5).Draw(t, "gain"))
		if rapid.Bool().Draw(t, "polarity") {
			gain = -gain
		}
		dc := float32(rapid.Float64Range(-0.02, 0.02).Draw(t, "dc")) * gain
		shift := rapid.IntRange(0, 5000).Draw(t, "shift")
		shift -= shift % 48 // whole periods, so that the tone goes on without a jump
		y := make([]float32, 0, shift+len(x))
		for i := range shift {
			y = append(y, gain*x[4800+i%4800]+dc)
		}
		for _, v := range x {
			y = append(y, gain*v+dc)
		}
		_, ev, _, err := run(y, base.fs, 4096, SurveyOptions{})
		require.NoError(t, err)
		got := frames(ev)
		require.Len(t, got, len(want))
		for i := range want {
			require.InDelta(t, want[i]+shift, got[i], 1) // an edge near a zero of the tone may fall either way
		}
	})
}

func TestNothingIsAllocatedWhileRunning(t *testing.T) {
	s := basicSynth()
	x := s.render()
	d, err := New(s.config())
	require.NoError(t, err)
	dst := make([]Event, 0, 1000)
	n := testing.AllocsPerRun(3, func() {
		for i := 0; i+480 <= len(x); i += 480 {
			dst = d.Process(dst[:0], x[i:i+480])
		}
	})
	assert.Zero(t, n)
}

func TestStagesComeInOrderAndOncePerID(t *testing.T) {
	s := basicSynth()
	s.turns = append([]int{12000, 12100, 12110, 15000, 15020, 15040}, s.turns...)
	ev, _, err := detectAll(s.config(), s.render(), 100)
	require.NoError(t, err)
	last := map[int64]Stage{}
	for _, e := range ev {
		require.Greater(t, e.Stage, last[e.ID], "%+v", e)
		if e.Stage == Placed {
			require.Equal(t, Decided, last[e.ID])
		}
		if e.Stage == Settled && (e.Kind == KindOpen || e.Kind == KindClose) {
			require.Equal(t, Placed, last[e.ID])
		}
		last[e.ID] = e.Stage
	}
	for id, st := range last {
		assert.GreaterOrEqual(t, st, Settled, "event %d was left on its way", id)
	}
}

func TestDecisionIsQuick(t *testing.T) {
	// The delay is counted in frames of sound, not in time on a clock. Goal at 20 dB: 0.1 ms on average.
	s := basicSynth()
	s.sigma = snr(0.25, 20)
	s.turns, s.n = nil, 48000*20
	for at := 20000; at+7777 < s.n; at += 7777 {
		s.turns = append(s.turns, at+len(s.turns)%48)
	}
	ev, _, err := detectAll(s.config(), s.render(), 480)
	require.NoError(t, err)
	got := edges(ev)
	require.Len(t, got, len(s.turns))
	var delay float64
	for i, e := range got {
		delay += float64(e.DecidedFrame-int64(s.turns[i])) / 48
	}
	// The first closing waits for the window, since the phase of the closed tone is not known before it.
	assert.Less(t, delay/float64(len(got)), 0.1)
	for _, e := range ev {
		assert.NotEqual(t, Withdrawn, e.Stage)
	}
}

func TestUncertaintyIsHonest(t *testing.T) {
	// 95 % of the errors lie within twice the standard uncertainty (JCGM 100: k = 2); 92 % leaves room for 240 edges.
	for _, db := range []float64{30, 20, 10, 6} {
		s := basicSynth()
		s.sigma, s.turns, s.n = snr(0.25, db), nil, 48000*40
		for at := 20000; at+7777 < s.n; at += 7777 {
			s.turns = append(s.turns, at+len(s.turns)%48)
		}
		ev, _, err := detectAll(s.config(), s.render(), 4800)
		require.NoError(t, err)
		got := edges(ev)
		require.Len(t, got, len(s.turns), "%g dB", db)
		within := 0
		for i, e := range got {
			if math.Abs(e.At()-float64(s.turns[i])) <= 2*e.Uncertainty {
				within++
			}
		}
		assert.GreaterOrEqual(t, float64(within)/float64(len(got)), 0.92, "%g dB", db)
	}
}

func TestSkipNeverTimesAnEdgeAcross(t *testing.T) {
	s := basicSynth()
	x := s.render()
	d, err := New(s.config())
	require.NoError(t, err)
	// Frames 20000..28000 are lost, and with them the opening at 24013.
	ev := d.Process(nil, x[:20000])
	ev = d.Skip(ev, 8000)
	state, _ := d.State()
	assert.Equal(t, Unknown, state)
	ev = d.Flush(d.Process(ev, x[28000:]))
	assert.Equal(t, []int{33301, 48007, 60100, 81234, 90001}, near(frames(ev), s.turns[1:]))
	var faults []Event
	for _, e := range ev {
		if e.Kind == KindFault {
			faults = append(faults, e)
		}
	}
	require.Len(t, faults, 1)
	assert.Equal(t, CauseGap, faults[0].Cause)
	assert.Equal(t, int64(20000), faults[0].Frame)
	assert.Equal(t, int64(28000), faults[0].LastFrame)
	assert.Equal(t, ev, d.Skip(ev, 0), "no frames lost: nothing happens")
}

// near rounds frames that are one off to the frame wanted.
func near(got, want []int) []int {
	for i := range got {
		if i < len(want) && abs(got[i]-want[i]) == 1 {
			got[i] = want[i]
		}
	}
	return got
}

func TestASkipJustAfterADecisionKeepsOrWithdrawsIt(t *testing.T) {
	s := basicSynth()
	x := s.render()
	for _, more := range []int{10, 20, 100, 500} {
		d, err := New(s.config())
		require.NoError(t, err)
		ev := d.Skip(d.Process(nil, x[:24013+more]), 100)
		var end Stage
		for _, e := range ev {
			if e.Kind == KindOpen {
				end = e.Stage
			}
		}
		if more < 48 {
			assert.Equal(t, Withdrawn, end, "%d frames after", more)
		} else {
			assert.Equal(t, Settled, end, "%d frames after", more)
		}
	}
}

func TestNotFiniteSamplesAreReportedAndDoNoHarm(t *testing.T) {
	s := basicSynth()
	x := s.render()
	x[5000], x[5001] = float32(math.NaN()), float32(math.Inf(1))
	x[40000] = float32(math.Inf(-1))
	ev, _, err := detectAll(s.config(), x, 1000)
	require.NoError(t, err)
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
	faults := 0
	for _, e := range ev {
		if e.Kind == KindFault {
			assert.Equal(t, CauseNotFinite, e.Cause)
			faults++
		}
	}
	assert.Equal(t, 2, faults, "one a stretch")
}

func TestDropoutsAreNoOpenings(t *testing.T) {
	s := basicSynth()
	x := s.render()
	clear(x[10000:10256])
	clear(x[27000:27256]) // in the open state
	ev, _, err := detectAll(s.config(), x, 1000)
	require.NoError(t, err)
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
	var at []int64
	for _, e := range ev {
		if e.Kind == KindFault {
			assert.Equal(t, CauseDropout, e.Cause)
			assert.Equal(t, int64(256), e.LastFrame-e.Frame)
			at = append(at, e.Frame)
		}
	}
	assert.Equal(t, []int64{10000, 27000}, at)
}

func TestDigitalSilenceIsOpen(t *testing.T) {
	s := basicSynth()
	s.sigma = 0
	_, ev, _, err := run(s.render(), s.fs, 1000, SurveyOptions{})
	require.NoError(t, err)
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
}

func TestSpikesAreNoOpenings(t *testing.T) {
	s := basicSynth()
	x := s.render()
	for at := 3000; at < len(x); at += 7000 {
		for k := range 5 { // 100 us, 20 dB above the tone
			x[at+k] += float32(2.5 * math.Sin(math.Pi*(float64(k)+0.5)/5))
		}
	}
	ev, _, err := detectAll(s.config(), x, 1000)
	require.NoError(t, err)
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
}

func TestHoldIsTakenFromTheConfig(t *testing.T) {
	s := basicSynth()
	s.turns = []int{20000, 21000, 21480, 40000} // closed again for 10 ms
	cfg := s.config()
	ev, _, err := detectAll(cfg, s.render(), 1000)
	require.NoError(t, err)
	require.Equal(t, []int{20000, 40000}, near(frames(ev), []int{20000, 40000}))
	assert.Equal(t, 1, edges(ev)[0].Reclosures)
	assert.InDelta(t, 21480, edges(ev)[0].LastFrame, 2)
	cfg.Hold = 5 * time.Millisecond
	ev, _, err = detectAll(cfg, s.render(), 1000)
	require.NoError(t, err)
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
}

func TestConfigIsValidated(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Config)
		want   string
	}{
		"rate":     {func(c *Config) { c.SampleRate = 100 }, "detect: sample rate, got 100, want 4000..768000 frames/s"},
		"channels": {func(c *Config) { c.Channels = 0 }, "detect: channels, got 0, want 1..256"},
		"channel":  {func(c *Config) { c.Channel = 1 }, "detect: channel, got 1, want 0..0"},
		"tone":     {func(c *Config) { c.Profile.Tone = 21000 }, "detect: tone [Hz], got 21000, want 250..20000"},
		"tone NaN": {func(c *Config) { c.Profile.Tone = math.NaN() }, "detect: tone [Hz], got NaN, want 250..20000"},
		"levels":   {func(c *Config) { c.Profile.Open = c.Profile.Closed }, "detect: levels, got (0.25+0i), want two levels that differ"},
		"infinite": {func(c *Config) { c.Profile.Open = cmplx.Inf() }, "want finite numbers"},
		"noise":    {func(c *Config) { c.Profile.Noise = -1 }, "detect: noise, got -1, want 0 or more, finite"},
		"hold":     {func(c *Config) { c.Hold = time.Hour }, "detect: hold, got 1h0m0s, want 0..1s"},
	} {
		t.Run(name, func(t *testing.T) {
			cfg := basicSynth().config()
			c.change(&cfg)
			_, err := New(cfg)
			require.ErrorContains(t, err, c.want)
		})
	}
}
