package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/live"
)

// benchCard is a sound card whose cable leads to the bench.
type benchCard struct {
	audio.Source
	sounded, hushed int
	closed          bool
	mute            error  // of the alert
	late            int64  // frames by which the tone begins later than it could
	beeped, nudged  func() // nil: nobody wants to know
}

func (c *benchCard) Sound()                          { c.sounded++; call(c.beeped) }
func (c *benchCard) Hush()                           { c.hushed++ }
func (c *benchCard) AlertErr() error                 { return c.mute }
func (c *benchCard) Nudge()                          { call(c.nudged) }
func (c *benchCard) ToneFrom() int64                 { return 480 + c.late }
func (c *benchCard) Entered(int64) (time.Time, bool) { return time.Time{}, false }
func (c *benchCard) Close() error                    { c.closed = true; return c.Source.Close() }

func call(f func()) {
	if f != nil {
		f()
	}
}

// shop is a workshop with one sound card.
type shop struct {
	env       Env
	out, errs bytes.Buffer
	card      benchCard
	asked     live.Options
	sound     bench.Config
	second    *bench.Second // the other set of points, where a second tone is played
	wrap      func(audio.Source) audio.Source
}

func newShop(t *testing.T, changes ...bench.Change) *shop {
	s := &shop{sound: bench.Config{SampleRate: 48000, Channels: 2, Frames: 48000 * 4, Level: -12, Closed: 1, Seed: 1,
		Noise: bench.NoiseFor(bench.Amplitude(-12), 40), Changes: changes}}
	s.env = Env{In: strings.NewReader(""), Out: &s.out, Err: &s.errs, Getenv: settings(t), Now: time.Now, Cards: Cards{
		List: func() ([]live.Device, error) {
			return []live.Device{{Name: "line box", HostAPI: "bench", MaxInputs: 2, MaxOutputs: 2, DefaultRate: 48000, DefaultInput: true, DefaultOutput: true}}, nil
		},
		Open: func(o live.Options) (Card, error) {
			s.asked = o
			s.sound.Tone = o.Tone.Hz
			if o.Second != nil {
				if s.second == nil {
					s.second = &bench.Second{Level: -12, Closed: 0.4}
				}
				s.second.Tone, s.sound.Second = o.Second.Hz, s.second
			}
			src, err := bench.New(s.sound)
			require.NoError(t, err)
			s.card = benchCard{Source: src}
			if s.wrap != nil {
				s.card.Source = s.wrap(src)
			}
			return &s.card, nil
		},
	}}
	return s
}

func (s *shop) run(t *testing.T, args ...string) int { return Main(t.Context(), args, s.env) }

// twice is two openings.
var twice = []bench.Change{{At: 1}, {At: 1.5, Closed: true}, {At: 2}, {At: 2.5, Closed: true}}

// lines reads what `listen --json` printed.
func (s *shop) lines(t *testing.T) (out []eventLine) {
	dec := json.NewDecoder(&s.out)
	for {
		var l eventLine
		err := dec.Decode(&l)
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		out = append(out, l)
	}
}

func TestListenPrintsEachSettledEventOnce(t *testing.T) {
	s := newShop(t, twice...)
	require.Equal(t, ExitOK, s.run(t, "listen", "--json"), s.errs.String())
	got := s.lines(t)
	require.Len(t, got, 4)
	for i, want := range twice {
		kind := "open"
		if want.Closed {
			kind = "close"
		}
		assert.Equal(t, kind, got[i].Event)
		assert.InDelta(t, want.At*48000, got[i].Frame, 1) // one frame: noise at 40 dB
		assert.InDelta(t, got[i].Frame/48000, got[i].Time, 1e-9)
		assert.GreaterOrEqual(t, float64(got[i].DecidedFrame), got[i].Frame)
		require.NotNil(t, got[i].Uncertainty)
		assert.Positive(t, *got[i].Uncertainty)
		require.NotNil(t, got[i].Reclosures)
		assert.Zero(t, *got[i].Reclosures)
		assert.Equal(t, !want.Closed, got[i].Provisional, "a lead that falls off leaves nothing either")
		if want.Closed {
			require.NotNil(t, got[i].SameLevel)
			assert.True(t, *got[i].SameLevel)
		}
	}
	assert.Contains(t, s.errs.String(), "2 openings, 2 closings in 4s")
	assert.True(t, s.card.closed)
	assert.Equal(t, -12.0, s.asked.Tone.Level)
	assert.Equal(t, slowRamp, s.asked.Tone.Ramp, "nobody has said yet that no headphones are on a head")
}

func TestListenInWords(t *testing.T) {
	s := newShop(t, twice...)
	require.Equal(t, ExitOK, s.run(t, "listen"), s.errs.String())
	assert.Contains(t, s.out.String(), "points open")
	assert.Contains(t, s.out.String(), "points closed")
	assert.NotContains(t, s.out.String(), "\x1b")
}

func TestListenReportsLostFrames(t *testing.T) {
	s := newShop(t, twice...)
	s.wrap = func(src audio.Source) audio.Source {
		return audiotest.WithGaps(src, audio.GapError{At: 48000 * 17 / 10, Lost: 4800})
	}
	file := filepath.Join(t.TempDir(), "take.wav")
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--record", file), s.errs.String())
	var gaps []eventLine
	for _, l := range s.lines(t) {
		if l.Event == "gap" {
			gaps = append(gaps, l)
		}
	}
	require.Len(t, gaps, 1)
	assert.Contains(t, s.errs.String(), "2 openings, 2 closings in 4s, sound lost 1 time\n")
	assert.Equal(t, 48000*17/10-4800.0, gaps[0].Frame)
	require.NotNil(t, gaps[0].Lost)
	assert.Equal(t, int64(4800), *gaps[0].Lost)
	st, err := os.Stat(file)
	require.NoError(t, err)
	assert.Greater(t, st.Size(), int64(48000*4*2*3), "what was lost is silence in the recording: its frames are those of the events")
}

// A sound card that puts zeros in the place of what it lost is found out too.
func TestListenReportsZerosAsALoss(t *testing.T) {
	s := newShop(t, twice...)
	s.wrap = func(src audio.Source) audio.Source {
		return &zeroed{Source: src, from: 48000 * 17 / 10, to: 48000*17/10 + 480}
	}
	require.Equal(t, ExitOK, s.run(t, "listen", "--json"), s.errs.String())
	var kinds []string
	for _, l := range s.lines(t) {
		kinds = append(kinds, l.Event)
		if l.Event == "gap" {
			require.NotNil(t, l.Lost)
			assert.InDelta(t, 480, *l.Lost, 1)
			assert.Equal(t, 48000*17/10.0, l.Frame)
		}
	}
	assert.Equal(t, []string{"open", "close", "gap", "open", "close"}, kinds)
	assert.Contains(t, s.errs.String(), "sound lost 1 time")
}

// zeroed is a sound with exact zeros in the place of some frames.
type zeroed struct {
	audio.Source
	from, to, pos int
}

func (s *zeroed) Read(dst []float32) (int, error) {
	n, err := s.Source.Read(dst)
	ch := s.Format().Channels
	for i := range n * ch {
		if at := s.pos + i/ch; at >= s.from && at < s.to {
			dst[i] = 0
		}
	}
	s.pos += n
	return n, err
}

// What was heard live is found again, to the frame, in what was recorded.
func TestReviewOfTheRecordingGivesTheSameEdges(t *testing.T) {
	for name, set := range map[string]func(*bench.Config){
		"plain":        func(*bench.Config) {},
		"20 dB":        func(c *bench.Config) { c.Noise = bench.NoiseFor(bench.Amplitude(-12), 20) },
		"band-limited": func(c *bench.Config) { c.BandLimited = true },
		"leak":         func(c *bench.Config) { c.Open = 0.4 },
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t, twice...)
			set(&s.sound)
			file := filepath.Join(t.TempDir(), "take.wav")
			require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--record", file), s.errs.String())
			heard := s.lines(t)
			s.out.Reset()
			require.Equal(t, ExitOK, s.run(t, "review", "--json", file), s.errs.String())
			var again reviewResult
			require.NoError(t, json.Unmarshal(s.out.Bytes(), &again))
			require.Len(t, again.Edges, len(heard))
			for i, e := range again.Edges {
				assert.Equal(t, heard[i].Event, e.Kind)
				assert.InDelta(t, heard[i].Frame, e.Sample, 4*(e.Uncertainty*48000)) // the levels come from more sound
			}
			assert.Contains(t, s.errs.String(), "breakcue review "+file)
		})
	}
}

func TestListenEndsByTime(t *testing.T) {
	s := newShop(t, twice...)
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--for", "1800ms"), s.errs.String())
	assert.Len(t, s.lines(t), 2)
	assert.Contains(t, s.errs.String(), "1 opening, 1 closing in 1.8s")
}

func TestListenThatHasLearntNothingSaysSo(t *testing.T) {
	s := newShop(t)
	require.Equal(t, ExitInconclusive, s.run(t, "listen", "--for", "2s"))
	assert.Contains(t, s.errs.String(), "breakcue: error: line box: the tone never changes")
	assert.Contains(t, s.errs.String(), "breakcue: hint: open and close the points while it listens")

	s = newShop(t)
	s.wrap = func(src audio.Source) audio.Source {
		s.card.late = 48000
		return src
	}
	require.Equal(t, ExitInconclusive, s.run(t, "listen", "--for", "1s"))
	assert.Contains(t, s.errs.String(), "breakcue: error: line box: the sound is too short")
	assert.NotContains(t, s.errs.String(), "record")
}

func TestADeviceThatGoesEndsTheRunAndKeepsTheRecording(t *testing.T) {
	s := newShop(t, twice...)
	gone := &live.DeviceError{Device: "line box", What: "no sound for 2 s"}
	s.wrap = func(src audio.Source) audio.Source { return audiotest.FailAfter(src, 48000*3, gone) }
	file := filepath.Join(t.TempDir(), "take.wav")
	require.Equal(t, ExitAudio, s.run(t, "listen", "--json", "--record", file))
	assert.Contains(t, s.errs.String(), "line box")
	assert.Contains(t, s.errs.String(), "breakcue: hint: ")
	assert.Len(t, s.lines(t), 4)
	s.out.Reset()
	require.Equal(t, ExitOK, s.run(t, "review", file), s.errs.String())
	assert.Contains(t, s.out.String(), "2 openings, 2 closings")
}

func TestListenRefusesWhatCannotBe(t *testing.T) {
	taken := filepath.Join(t.TempDir(), "taken.wav")
	require.NoError(t, os.WriteFile(taken, []byte("a reading"), 0o600))
	for _, tt := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--record", taken}, ExitFailed, "exists already"},
		{[]string{"--record", filepath.Join(taken, "x.wav")}, ExitFailed, "x.wav"},
		{[]string{"--device", "no such box"}, ExitAudio, "no such box"},
		{[]string{"--wiring", "round"}, ExitUsage, "series or shunt"},
		{[]string{"--tone", "30000"}, ExitUsage, "--tone 30000"},
		{[]string{"--tone", "NaN"}, ExitUsage, "--tone NaN"},
		{[]string{"--tone", "4000", "--rate", "8000"}, ExitUsage, "at most 3360"},
		{[]string{"--level", "3"}, ExitUsage, "--level 3"},
		{[]string{"--rate", "1"}, ExitUsage, "--rate 1"},
		{[]string{"--frames", "3"}, ExitUsage, "--frames 3"},
		{[]string{"--channel", "3"}, ExitUsage, "2 input channels"},
		{[]string{"--channel", "-1"}, ExitUsage, "--channel -1"},
		{[]string{"--for", "-1s"}, ExitUsage, "--for -1s"},
		{[]string{"--for", "10us"}, ExitUsage, "want 1s or more"},
		{[]string{"--tone", "0"}, ExitUsage, "--tone 0"},
		{[]string{"--alert-tone", "100"}, ExitUsage, "500 to 2500"},
		{[]string{"--alert", "--alert-tone", "1000"}, ExitUsage, "too near"},
		{[]string{"--alert", "--alert-channel", "1"}, ExitUsage, "through the points"},
		{[]string{"--alert", "--alert-channel", "3"}, ExitUsage, "2 output channels"},
		{[]string{"--alert-device", "horn"}, ExitAudio, "horn"},
		{[]string{"now"}, ExitUsage, "no argument"},
	} {
		s := newShop(t, twice...)
		assert.Equal(t, tt.code, s.run(t, append([]string{"listen"}, tt.args...)...), "%v: %s", tt.args, s.errs.String())
		assert.Contains(t, s.errs.String(), tt.says, "%v", tt.args)
		assert.Contains(t, s.errs.String(), "breakcue: hint: ", "%v", tt.args)
		if s.card.Source != nil {
			assert.True(t, s.card.closed, "%v: the tone must not go on", tt.args)
		}
	}
	b, err := os.ReadFile(taken)
	require.NoError(t, err)
	assert.Equal(t, "a reading", string(b))
}

func TestTheAlertSoundsAtEachOpening(t *testing.T) {
	s := newShop(t, twice...)
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--alert"), s.errs.String())
	assert.Equal(t, 2, s.card.sounded)
	assert.Zero(t, s.card.hushed)
	require.NotNil(t, s.asked.Alert)
	assert.Equal(t, 2, s.asked.Alert.Channel)
	assert.Equal(t, 2*s.asked.Tone.Hz, s.asked.Alert.Hz)
	assert.Equal(t, alertBeep, s.asked.Alert.Length)

	s = newShop(t, twice...)
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--alert-while-open", "--wiring", "shunt"), s.errs.String())
	// With this wiring the tone means open points: the sound begins closed in line, which is open across.
	assert.Positive(t, s.card.hushed)
	assert.Zero(t, s.asked.Alert.Length)
}

// Each of the flags that say how to beep asks for the beep.
func TestWhoSaysHowToBeepWantsTheBeep(t *testing.T) {
	for _, args := range [][]string{{"--alert-tone", "2000"}, {"--alert-level", "-6"}, {"--alert-channel", "2"}} {
		s := newShop(t, twice...)
		require.Equal(t, ExitOK, s.run(t, append([]string{"listen", "--json"}, args...)...), s.errs.String())
		assert.Equal(t, 2, s.card.sounded, "%v", args)
	}
}

// The points close while sound is lost: no event tells of it.
func TestTheAlertEndsWithTheOpeningThoughItsEndWasLost(t *testing.T) {
	s := newShop(t, twice...)
	s.wrap = func(src audio.Source) audio.Source {
		return audiotest.WithGaps(src, audio.GapError{At: 48000 * 26 / 10, Lost: 9600})
	}
	require.Equal(t, ExitOK, s.run(t, "listen", "--alert-while-open"), s.errs.String())
	assert.Equal(t, 2, s.card.sounded)
	assert.Equal(t, s.card.sounded, s.card.hushed)
	assert.Contains(t, s.out.String(), "opening 2 counts, but is not confirmed: sound was lost")

	s = newShop(t, twice...)
	s.wrap = func(src audio.Source) audio.Source { // the points stay open throughout
		return audiotest.WithGaps(src, audio.GapError{At: 48000 * 23 / 10, Lost: 4800})
	}
	require.Equal(t, ExitOK, s.run(t, "listen", "--alert-while-open"), s.errs.String())
	assert.Equal(t, 3, s.card.sounded, "it goes on when they are known to be open still")
	assert.Equal(t, 3, s.card.hushed)
}

func TestAnAlertThatCannotBeHeardIsTold(t *testing.T) {
	s := newShop(t, twice...)
	s.wrap = func(src audio.Source) audio.Source {
		s.card.mute = &live.DeviceError{Device: "horn", What: "run", Err: live.ErrSilent}
		return src
	}
	require.Equal(t, ExitOK, s.run(t, "listen", "--alert"), s.errs.String())
	assert.Contains(t, s.out.String(), `warning: NO ALERT: live: run device "horn": no sound for 2 s`)
	assert.Contains(t, s.errs.String(), "2 openings", "listening goes on")
}

func TestKeysOnLinesThrowAwayAndEnd(t *testing.T) {
	s := newShop(t, twice...)
	s.env.InTTY = true
	s.env.In = strings.NewReader("\nx\nq\n") // Enter for the headphones
	s.wrap = func(src audio.Source) audio.Source { return slowSource{tapped{src, func(int) {}}} }
	require.Equal(t, ExitOK, s.run(t, "listen", "--plain"), s.errs.String())
	assert.Contains(t, s.errs.String(), "Take headphones off")
	assert.Contains(t, s.out.String(), "there is no opening to throw away")
	assert.NotContains(t, s.errs.String(), "in 4s", "q ended it before")
}

// halved is a sound that loses half of its level at a frame.
type halved struct {
	audio.Source
	at, pos int
}

func (s *halved) Read(dst []float32) (int, error) {
	n, err := s.Source.Read(dst)
	ch := s.Format().Channels
	for i := range n * ch {
		if s.pos+i/ch >= s.at {
			dst[i] /= 2
		}
	}
	s.pos += n
	return n, err
}

func TestAToneThatComesBackWeakerIsNoOpening(t *testing.T) {
	weaker := func(src audio.Source) audio.Source { return &halved{Source: src, at: 48000 * 125 / 100} } // while open the first time
	s := newShop(t, twice...)
	s.wrap = weaker
	require.Equal(t, ExitOK, s.run(t, "listen", "--json"), s.errs.String())
	var same []bool
	for _, l := range s.lines(t) {
		if l.Event == "close" {
			require.NotNil(t, l.SameLevel)
			same = append(same, *l.SameLevel)
		}
	}
	assert.Equal(t, []bool{false, true}, same)

	s = newShop(t, twice...)
	s.wrap = weaker
	require.Equal(t, ExitOK, s.run(t, "listen"), s.errs.String())
	assert.Contains(t, s.out.String(), "opening 1 does not count: the tone came back 6 dB quieter; check the clips")
	assert.Contains(t, s.out.String(), "number 2 counts\n", "it keeps the number that it has in the log")

	s = newShop(t, twice...)
	s.wrap = weaker
	code, _ := s.session(t, "--readings", "../../../testdata/sheets/readings.txt")
	require.Equal(t, ExitOK, code, s.errs.String())
	assert.Contains(t, unwrapped(s.out.String()), "may have been a lead that fell off")
}
