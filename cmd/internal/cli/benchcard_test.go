package cli

import (
	"bytes"
	"context"
	"io"
	"math/cmplx"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/live"
	"breakcue/detect"
)

// planned are contacts whose changes are known beforehand.
type planned []bench.Change

func (p *planned) upTo(at float64) (out []bench.Change) {
	for len(*p) > 0 && (*p)[0].At <= at {
		out, *p = append(out, (*p)[0]), (*p)[1:]
	}
	return out
}

// slept is a clock that only sleeping moves, and what was slept.
type slept struct {
	at     time.Time
	naps   []time.Duration
	nap    func() // besides
	frozen bool
}

func (s *slept) env() Env {
	return Env{Now: func() time.Time { return s.at }, Sleep: func(d time.Duration) {
		s.naps = append(s.naps, d)
		if !s.frozen {
			s.at = s.at.Add(d)
		}
		call(s.nap)
	}}
}

func builtIn(t testing.TB, env Env, wired detect.Wiring, changes ...bench.Change) *builtInCard {
	p := planned(slices.Clone(changes))
	cards := builtInCards(env, wired, &p, 1)
	card, err := cards.Open(live.Options{Tone: live.Voice{Hz: liveTone(wired, demoRate), Level: usualLevel, Channel: 1}})
	require.NoError(t, err)
	return card.(*builtInCard)
}

func TestBuiltInCardKeepsTheContractOfASource(t *testing.T) {
	audiotest.Check(t, func() audio.Source { return builtIn(t, (&slept{}).env(), detect.Series, twice...) }, 0)
}

// What is asked of the points piece by piece sounds as the bench does that knows it from the beginning.
func TestBuiltInCardSoundsAsTheBench(t *testing.T) {
	o := live.Options{Rate: 44100, Tone: live.Voice{Hz: 1000, Level: -20}}
	cfg, err := builtInSound(o, detect.Shunt, 1)
	require.NoError(t, err)
	cfg.Changes = twice
	whole, err := bench.New(cfg)
	require.NoError(t, err)
	p := planned(slices.Clone(twice))
	card, err := builtInCards((&slept{}).env(), detect.Shunt, &p, 1).Open(o)
	require.NoError(t, err)
	assert.Equal(t, audio.Format{SampleRate: 44100, Channels: 1, Frames: -1, Encoding: "bench"}, card.Format())
	got, want := make([]float32, 4096), make([]float32, 4096)
	for range 200 {
		n, err := card.Read(got)
		require.NoError(t, err)
		_, err = whole.Read(want[:n])
		require.NoError(t, err)
		require.Equal(t, want[:n], got[:n])
	}
	assert.Empty(t, p, "all were played")
}

// However it is read, as many frames come as the clock allows, in pieces.
func TestBuiltInCardComesAtThePaceOfTheClock(t *testing.T) {
	for _, block := range []int{1, 100, 960, 4096} {
		clock := &slept{at: time.Unix(1e9, 0)}
		from := clock.at
		card := builtIn(t, clock.env(), detect.Series)
		frames := 0
		for range 300 {
			n, err := card.Read(make([]float32, block))
			require.NoError(t, err)
			require.Equal(t, min(block, 960), n)
			frames += n
			// A Duration is a whole number of nanoseconds.
			require.InDelta(t, float64(frames)/48000, clock.at.Sub(from).Seconds(), 1e-8)
		}
		for _, d := range clock.naps {
			require.LessOrEqual(t, d, doze)
		}
	}
}

func TestANudgeEndsTheWaitingOfTheBuiltInCard(t *testing.T) {
	clock := &slept{at: time.Unix(1e9, 0)}
	card := builtIn(t, clock.env(), detect.Series)
	clock.nap = func() {
		if len(clock.naps) == 2 {
			card.Nudge()
		}
	}
	for _, want := range []int{384, 960, 960} { // two naps of 4 ms, then whole pieces again
		n, err := card.Read(make([]float32, 4096))
		require.NoError(t, err)
		assert.Equal(t, want, n)
	}
	card.Nudge() // before a wait: a nap brings the first frames
	n, err := card.Read(make([]float32, 4096))
	require.NoError(t, err)
	assert.Equal(t, 192, n)
}

// A clock that stands still holds up nothing.
func TestBuiltInCardNeedsNoClockThatMoves(t *testing.T) {
	clock := &slept{at: time.Unix(1e9, 0), frozen: true}
	card := builtIn(t, clock.env(), detect.Series)
	for range 100 {
		n, err := card.Read(make([]float32, 4096))
		require.NoError(t, err)
		require.Equal(t, 960, n)
	}
	assert.LessOrEqual(t, len(clock.naps), 100*dozes)
}

// What was slept through with the lid closed is not made up for; a short delay is. A clock that is set back is not waited for.
func TestBuiltInCardGoesOnAfterALongSleep(t *testing.T) {
	for _, tt := range []struct {
		missed time.Duration
		again  float64 // [s] that ten pieces take afterwards
	}{{time.Hour, 0.2}, {100 * time.Millisecond, 0.1}, {-time.Hour, 0.2}} {
		clock := &slept{at: time.Unix(1e9, 0)}
		card := builtIn(t, clock.env(), detect.Series)
		read := func() {
			n, err := card.Read(make([]float32, 4096))
			require.NoError(t, err)
			require.Equal(t, 960, n)
		}
		read()
		clock.at = clock.at.Add(tt.missed)
		if tt.missed.Abs() > leeway {
			read() // this one sees it
		}
		from := clock.at
		for range 10 {
			read()
		}
		assert.InDelta(t, tt.again, clock.at.Sub(from).Seconds(), 1e-6, tt.missed) // nanoseconds are rounded
	}
}

func TestBuiltInCardTellsOfPointsThatCannotBe(t *testing.T) {
	card := builtIn(t, (&slept{}).env(), detect.Series, bench.Change{At: 0.001, Closed: true})
	_, err := card.Read(make([]float32, 4096))
	assert.ErrorContains(t, err, "bench: change 0 at 0.001 s, got closed=true again")
}

func TestBuiltInCardHasBothLevelsInEitherWiring(t *testing.T) {
	for _, wired := range []detect.Wiring{detect.Series, detect.Shunt} {
		cfg, err := builtInSound(live.Options{Tone: live.Voice{Hz: liveTone(wired, demoRate), Level: usualLevel}}, wired, 1)
		require.NoError(t, err)
		closed, open := cmplx.Abs(cfg.Closed), cmplx.Abs(cfg.Open)
		assert.Equal(t, wired == detect.Shunt, open > closed)
		assert.Greater(t, cmplx.Abs(cfg.Closed-cfg.Open), 0.1, "enough to tell them apart")
	}
}

// It is opened as a sound card is; but nobody is asked anything, no other card is missed, and nothing is kept in mind.
func TestTheBuiltInCardIsOpenedWithoutAQuestion(t *testing.T) {
	getenv := settings(t)
	before := loadKnown(t, getenv)
	before.Last = "line box"
	require.NoError(t, before.Save())
	var errs bytes.Buffer
	env := (&slept{at: time.Unix(1e9, 0)}).env()
	env.In, env.Err, env.InTTY, env.OutTTY, env.Getenv = strings.NewReader(""), &errs, true, true, getenv
	p := planned(slices.Clone(twice))
	env.Cards = builtInCards(env, detect.Series, &p, 1)
	f := &liveFlags{level: usualLevel, alert: true, alertLevel: alertUsual, given: func(string) bool { return false }}
	require.NoError(t, f.check())
	card, err := f.openCard(context.Background(), env, nil)
	require.NoError(t, err)
	assert.Empty(t, errs.String())
	assert.Equal(t, builtInBench, card.name)
	assert.Equal(t, quickRamp, card.options.Tone.Ramp)
	assert.Equal(t, "line box", loadKnown(t, getenv).Last)
	assert.False(t, loadKnown(t, getenv).Confirmed(builtInBench))
	card.Sound()
	card.Hush()
	require.NoError(t, card.AlertErr())
	require.NoError(t, card.Close())
	_, err = card.Read(make([]float32, 10))
	assert.Error(t, err)
	assert.NotErrorIs(t, err, io.EOF)
}

func TestListenAtTheBuiltInBench(t *testing.T) {
	s := newShop(t)
	clock := (&slept{at: time.Unix(1e9, 0)}).env()
	s.env.Now, s.env.Sleep = clock.Now, clock.Sleep
	p := planned(slices.Clone(twice))
	s.env.Cards = builtInCards(s.env, detect.Series, &p, 1)
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--for", "4s"), s.errs.String())
	got := s.lines(t)
	require.Len(t, got, 4)
	for i, want := range twice {
		assert.InDelta(t, want.At*48000, got[i].Frame, 2) // frames: the tone is 50 dB above the noise
	}
	assert.NotContains(t, s.errs.String(), "headphones")
	assert.Contains(t, s.errs.String(), "2 openings, 2 closings in 4s")
}
