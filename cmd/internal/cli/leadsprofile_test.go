package cli

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/audio/live"
	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/profiles"
	"breakcue/timing/logbook"
)

// bare is a sound card with a cable, whose clips go from the points closed to open and back at instants [s]; level is that of the input's
// gain after its instant.
type bare struct {
	*cableCard
	moves  []bench.Change
	gainAt float64 // [s]
	gain   float64 // 0: as it was
	hum    float64 // amplitude after that instant
	frame  int64
	left   int64 // frames until the sound ends; negative: it never does
}

func (b *bare) Read(dst []float32) (int, error) {
	if b.left == 0 {
		return 0, io.EOF
	}
	rate := int64(b.Format().SampleRate)
	n := min(int64(len(dst)), rate/100)
	if b.left > 0 {
		n = min(n, b.left)
		b.left -= n
	}
	for len(b.moves) > 0 && b.frame >= int64(b.moves[0].At*float64(rate)) {
		b.Clip(map[bool]bench.Clips{true: bench.PointsClosed, false: bench.PointsOpen}[b.moves[0].Closed])
		b.moves = b.moves[1:]
	}
	got, err := b.cableCard.Read(dst[:n])
	if b.gain > 0 && float64(b.frame) >= b.gainAt*float64(rate) {
		for i := range dst[:got] {
			dst[i] *= float32(b.gain)
		}
	}
	for i := range dst[:got] {
		if at := float64(b.frame+int64(i)) / float64(rate); b.hum > 0 && at >= b.gainAt {
			dst[i] += float32(b.hum * math.Sin(2*math.Pi*50*at))
		}
	}
	b.frame += int64(got)
	return got, err
}

// cabled is a shop whose sound card has a cable on an engine with a condenser.
func cabled(t *testing.T, change func(*bare)) *shop {
	s := newShop(t)
	now := monday
	s.env.Now = func() time.Time { return now }
	s.env.Cards.List = func() ([]live.Device, error) {
		return []live.Device{{Name: "line box", HostAPI: "bench", MaxInputs: 1, MaxOutputs: 2, DefaultRate: 48000, DefaultInput: true, DefaultOutput: true}}, nil
	}
	s.env.Cards.Open = func(o live.Options) (Card, error) {
		s.asked = o
		cable, err := bench.NewCable(bench.CableConfig{SampleRate: 48000, Channels: 1, Frames: bench.Endless, Delay: 700, Noise: 1e-4, Seed: 3,
			Circuit: circuit.Circuit{Source: 100, Series: 100, Load: 47, Input: 10e3, Lead: 0.2, LeadC: 0.3e-9, Condenser: 0.22e-6, Contact: 0.2},
			Clips:   bench.PointsClosed})
		require.NoError(t, err)
		b := &bare{cableCard: &cableCard{Cable: cable, held: map[leads.Step]bench.Clips{}}, left: -1}
		if change != nil {
			change(b)
		}
		return b, b.Play(audio.Chord{Hz: []float64{o.Tone.Hz}, Level: o.Tone.Level})
	}
	return s
}

// works lets the points open four times in five seconds.
func works(b *bare) { b.moves, b.left = fourTimes, 5*48000 }

// checks makes a check of the cable, as somebody does by hand.
func (s *shop) checks(t *testing.T, args ...string) {
	s.env.In = strings.NewReader(strings.Repeat("\n", leads.Steps))
	require.Equal(t, ExitOK, s.run(t, append([]string{"leads"}, args...)...), s.errs.String())
	assert.Contains(t, s.out.String(), "  kept: 'breakcue listen' and 'breakcue session' go by it on this sound card\n  go on with: breakcue listen")
	s.out.Reset()
	s.errs.Reset()
	s.env.In = strings.NewReader("")
}

// store is where the profiles of the shop are.
func (s *shop) store(t *testing.T) profiles.Store {
	st, err := profiles.Open(s.env.Getenv)
	require.NoError(t, err)
	return st
}

// What a check has found is what is heard afterwards: the state is known from the first moment, and the first opening decided at once.
func TestListenBeginsWithTheLevelsOfTheCheck(t *testing.T) {
	moves := false
	s := cabled(t, func(b *bare) {
		if moves {
			works(b)
		}
	})
	s.checks(t)
	list, err := s.store(t).All()
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, "line box", list[0].Device)
	assert.Equal(t, monday, list[0].Profile.Made)
	moves = true
	late := func(args ...string) (first, second int64) {
		s.out.Reset()
		s.errs.Reset()
		require.Equal(t, ExitOK, s.run(t, append([]string{"listen", "--json"}, args...)...), s.errs.String())
		got := s.lines(t)
		require.Len(t, got, 8, s.errs.String())
		for i, l := range got {
			// One frame: the noise. The clips move what comes back, so the round trip of 700 frames does not delay it.
			assert.InDelta(t, fourTimes[i].At*48000, l.Frame, 1)
		}
		return got[0].DecidedFrame - int64(got[0].Frame), got[2].DecidedFrame - int64(got[2].Frame)
	}
	first, second := late()
	assert.Less(t, first, int64(240), "5 ms")
	assert.Less(t, second, int64(240), "5 ms")
	assert.Equal(t, list[0].Profile.Tone, s.asked.Tone.Hz)
	assert.Contains(t, s.errs.String(), "breakcue: note: Levels from the check of the cable a minute ago.\n")
	first, _ = late("--no-profile")
	assert.Greater(t, first, int64(960), "the levels were learnt from the opening")
	assert.NotContains(t, s.errs.String(), "check of the cable")
	assert.Equal(t, liveTone(0, 48000), s.asked.Tone.Hz)
}

// A profile of another gain is noticed, and the levels are learnt.
func TestListenLearnsAnewWhereTheCheckDoesNotHold(t *testing.T) {
	moves := false
	s := cabled(t, func(b *bare) {
		if moves {
			works(b)
			b.gain = 3
		}
	})
	s.checks(t)
	moves = true
	require.Equal(t, ExitOK, s.run(t, "listen", "--json"), s.errs.String())
	assert.Contains(t, s.errs.String(), "the levels of the check do not hold, and are learnt anew: ")
	assert.GreaterOrEqual(t, len(s.lines(t)), 6, "the first opening may be missed")
	s.errs.Reset()
	require.Equal(t, ExitOK, s.run(t, "listen"), s.errs.String())
	assert.Contains(t, s.out.String(), "Levels from the check of the cable a minute ago. Ignition off, plugs out?")
	assert.Contains(t, s.out.String(), "the levels of the check do not hold, and are learnt anew: ")
}

// Whatever the gain has become since the check, no more is missed than by somebody who has made none: its levels are on trial until an edge
// has shown that they hold.
func TestACheckOfAnotherGainHidesNoOpening(t *testing.T) {
	for _, tone := range []string{"825", "1275"} {
		for _, gain := range []float64{0.1, 0.3, 0.5, 0.7, 3} {
			moves := false
			s := cabled(t, func(b *bare) {
				if moves {
					works(b)
					b.gain = gain
				}
			})
			s.checks(t, "--tone", tone)
			moves = true
			require.Equal(t, ExitOK, s.run(t, "listen", "--json"), s.errs.String())
			kinds := ""
			for _, l := range s.lines(t) {
				kinds += l.Event + " "
			}
			// Levels that lie near those of the check are followed to where they are: the first opening may go for that.
			assert.Contains(t, []string{strings.Repeat("open close ", 4), "close " + strings.Repeat("open close ", 3)}, kinds, "tone %s, gain %g", tone, gain)
		}
	}
}

// keptProfile is one that a check could have left.
func keptProfile(w leads.Wiring, tone float64, ago time.Duration) profiles.Kept {
	p := leads.Profile{Schema: leads.ProfileSchema, Made: monday.Add(-ago), SampleRate: 48000, Tone: tone, Output: -12, Wiring: w,
		Closed: leads.Complex{0.25, 0}, Open: leads.Complex{0, 0}, Noise: 1e-3, Findings: []string{}}
	if w == leads.Across {
		p.Closed, p.Open = p.Open, p.Closed
	}
	return profiles.Kept{Device: "line box", Channel: 1, Profile: p}
}

func TestWhichCheckIsGoneBy(t *testing.T) {
	const minutes, hours, days = time.Minute, time.Hour, 24 * time.Hour
	for name, c := range map[string]struct {
		args  string
		ago   time.Duration // of one in line at 925 Hz; one across at 3075 Hz is a minute older
		tone  float64       // that is played
		wired string
		says  string
	}{
		"the newest":     {"", 14 * minutes, 925, "in line", "note: Levels from the check of the cable 14 minutes ago.\n"},
		"some hours old": {"", 3 * hours, 925, "in line", "note: Levels from the check of the cable 3 hours ago.\n"},
		"another day":    {"", 30 * hours, 925, "in line", "30 hours ago. Has a gain knob been moved since?"},
		"last week": {"", 8 * days, liveTone(0, 48000), "in line",
			"the check of the cable is 8 days old: levels are learnt anew; 'breakcue leads' checks again."},
		"the clock went back a little": {"", -1 * minutes, 925, "in line", "Levels from the check of the cable a minute ago.\n"},
		"the clock went back":          {"", -2 * hours, 925, "in line", "a clock 2 hours ahead of this one. Has a gain knob been moved since?"},
		"another year":                 {"", -800 * days, liveTone(0, 48000), "in line", "a clock 800 days ahead of this one: levels are learnt anew"},
		"that wiring":                  {"--wiring shunt", 14 * minutes, 3075, "across", "15 minutes ago"},
		"that tone":                    {"--tone 3080", 14 * minutes, 3080, "across", "15 minutes ago"},
		"no such tone":                 {"--tone 2000", 14 * minutes, 2000, "in line", ""},
		"no such level":                {"--level -20", 14 * minutes, liveTone(0, 48000), "in line", ""},
		"no such rate":                 {"--rate 44100", 14 * minutes, liveTone(0, 44100), "in line", ""},
		"another channel":              {"--channel 2", 14 * minutes, liveTone(0, 48000), "in line", ""},
		"none":                         {"--no-profile", 14 * minutes, liveTone(0, 48000), "in line", ""},
		"two sets of points":           {"--sets 2", 14 * minutes, liveTone(0, 48000), "in line", ""},
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t)
			s.env.Now = func() time.Time { return monday }
			s.sound.Frames = 4800
			for _, k := range []profiles.Kept{keptProfile(leads.InLine, 925, c.ago), keptProfile(leads.Across, 3075, c.ago+time.Minute)} {
				_, err := s.store(t).Save(k)
				require.NoError(t, err)
			}
			s.run(t, append([]string{"listen", "--plain"}, strings.Fields(c.args)...)...)
			assert.Equal(t, c.tone, s.asked.Tone.Hz)
			if name == "two sets of points" {
				return
			}
			assert.Contains(t, s.out.String(), "cable "+c.wired)
			if c.says == "" {
				assert.NotContains(t, s.out.String(), "check")
			} else {
				assert.Contains(t, s.out.String(), strings.TrimSuffix(strings.TrimPrefix(c.says, "note: "), "\n"))
			}
		})
	}
}

// A damaged file is moved aside and told, and holds up nothing; one that was named must be one.
func TestDamagedProfiles(t *testing.T) {
	s := newShop(t)
	s.env.Now = func() time.Time { return monday }
	s.sound.Frames = 4800
	path, err := s.store(t).Save(keptProfile(leads.InLine, 925, time.Minute))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte("{"), 0o600))
	require.Equal(t, ExitOK, s.run(t, "listen"), s.errs.String())
	assert.Contains(t, s.errs.String(), path+".damaged, the levels are learnt instead")
	file := filepath.Join(t.TempDir(), "other.json")
	assert.Equal(t, ExitFailed, s.run(t, "listen", "--profile", file))
	assert.Contains(t, s.errs.String(), "breakcue: hint: name a file that 'breakcue leads --profile FILE' has written")
	require.NoError(t, profiles.Write(file, keptProfile(leads.Across, 3075, time.Hour)))
	s.out.Reset()
	require.Equal(t, ExitOK, s.run(t, "listen", "--profile", file), s.errs.String())
	assert.Contains(t, s.out.String(), "Levels from the check of the cable 60 minutes ago.")
	assert.Equal(t, 3075.0, s.asked.Tone.Hz)
	s.out.Reset()
	require.Equal(t, ExitOK, s.run(t, "listen", "--profile", file, "--wiring", "series"), s.errs.String())
	assert.Contains(t, s.out.String(), file+" does not fit: it is of a cable across the points, and this one is in line. The levels are learnt from the sound.")
	for ago, says := range map[time.Duration]string{60 * 24 * time.Hour: "60 days old: levels are learnt anew", -60 * 24 * time.Hour: "60 days ahead of this one: levels are learnt anew"} {
		require.NoError(t, profiles.Write(file, keptProfile(leads.Across, 3075, ago)))
		s.out.Reset()
		require.Equal(t, ExitOK, s.run(t, "listen", "--profile", file), s.errs.String())
		assert.Contains(t, s.out.String(), says, "a file that is named is no exception")
		assert.Equal(t, liveTone(0, 48000), s.asked.Tone.Hz)
	}
}

// driftsOf are the caveats of a session about its cable.
func driftsOf(t *testing.T, dir string) (out []string) {
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	for _, e := range j.Entries {
		if c, ok := e.Data.(logbook.Caveat); ok && c.Code == "cable_drift" {
			out = append(out, c.Message)
		}
	}
	return out
}

// At the end of a session its levels are compared with those of the check, or with its own first ones, without a key.
func TestWhatHasMovedStandsInTheLog(t *testing.T) {
	var many []bench.Change
	for i := range 10 {
		many = append(many, bench.Change{At: 1 + float64(i)*0.8}, bench.Change{At: 1.3 + float64(i)*0.8, Closed: true})
	}
	for name, c := range map[string]struct {
		checked bool
		gain    float64
		hum     float64
		want    string
	}{
		"checked, nothing moved":     {true, 0, 0, ""},
		"checked, the gain moved":    {true, 0.78, 0, "the level with the points closed has moved: -2.2 dB since the check of the cable"},
		"checked, the gain a little": {true, 0.95, 0, ""},
		"a check that never held":    {true, 2, 0, ""},
		"not checked, nothing moved": {false, 0, 0, ""},
		"not checked, gain moved":    {false, 0.78, 0, "the level with the points closed has moved: -2.2 dB since the first openings"},
		"checked, hum":               {true, 0, 0.02, "the hum has risen by"},
		"not checked, hum":           {false, 0, 0.02, "the hum has risen by"},
		"checked, hardly any hum":    {true, 0, 0.001, ""},
	} {
		t.Run(name, func(t *testing.T) {
			moves := false
			s := cabled(t, func(b *bare) {
				if moves {
					b.moves, b.left = many, 10*48000
					b.gain, b.hum, b.gainAt = c.gain, c.hum, 4.7
					if c.gain > 1 {
						b.gainAt = 0
					}
				}
			})
			if c.checked {
				s.checks(t)
			}
			moves = true
			code, dir := s.session(t, "--readings", "../../../testdata/sheets/readings.txt")
			require.Equal(t, ExitOK, code, s.errs.String())
			got := driftsOf(t, dir)
			if c.want == "" {
				assert.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			assert.Contains(t, got[0], c.want)
			assert.Contains(t, strings.Join(strings.Fields(s.out.String()), " "), c.want, "in the report")
			s.out.Reset()
			require.Equal(t, ExitOK, s.run(t, "log", "show", dir))
			assert.Contains(t, strings.Join(strings.Fields(s.out.String()), " "), c.want)
		})
	}
}

// Where the cable is clipped on it is told what its check has found, or that there is such a thing.
func TestWhatIsToldWhereTheCableIsClippedOn(t *testing.T) {
	told, inLine, across := keptProfile(leads.InLine, 925, 0), keptProfile(leads.InLine, 925, 0), keptProfile(leads.Across, 3075, 0)
	told.Profile.LeadOff = true
	for _, c := range []struct {
		found *profiles.Kept
		want  string
	}{
		{nil, "'breakcue leads' checks the cable beforehand"},
		{&told, "a lead that falls off is known for one"},
		{&inLine, "A lead that falls off looks like an opening here"},
		{&across, "A lead that falls off looks like points open here"},
	} {
		f := profileFlags{found: c.found}
		assert.Contains(t, f.advice(), c.want)
		assert.LessOrEqual(t, len(f.advice()), 78, "a row of the screen")
	}
}
