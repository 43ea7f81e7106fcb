package cli

import (
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/handturn"
	"breakcue/timing/logbook"
)

// sampleEngines and sampleDials are the sample sheets.
var (
	sampleEngines = []string{"four", "magneto", "punt", "retard", "single", "twin-half", "twin"}
	sampleDials   = []string{"dial", "dial-inch", "dial-inclined", "dial-mark"}
)

func sampleSheets(t require.TestingT, engine, dial string) session.Sheets {
	const dir = "../../../testdata/sheets/"
	s, err := session.LoadSheets(dir+engine+".toml", dir+dial+".toml")
	require.NoError(t, err)
	return s
}

func newHand(t require.TestingT, engine, dial string, seed uint64) *benchHand {
	h, err := newBenchHand(sampleSheets(t, engine, dial), seed)
	require.NoError(t, err)
	return h
}

func placeOf(cylinder string, phase logbook.Phase) logbook.Place {
	return logbook.Place{Cylinder: cylinder, Phase: phase}
}

// passTime lets time pass in steps of a fiftieth of a second, until the guide has enough or so many seconds are over; it returns the
// changes.
func passTime(h *benchHand, seconds float64, guide func() (enough bool)) (out []bench.Change) {
	for end := h.now + seconds; h.now < end; {
		out = append(out, h.upTo(h.now+0.02)...)
		if guide != nil && guide() {
			break
		}
	}
	return out
}

// measured lets so many passes be made, takes their readings, and evaluates them.
func measured(t *testing.T, h *benchHand, at logbook.Place, passes int) timing.Result {
	_, before := h.Truth(at)
	h.Measure(at)
	var readings []timing.Reading
	passTime(h, 60*float64(passes), func() bool {
		text := h.Dial()
		if text == "" {
			return false
		}
		h.Next() // nothing where the dial still shows the pass before
		if _, n := h.Truth(at); n > before+len(readings) {
			r, err := h.sheets.Setup.ParseReading(text)
			require.NoError(t, err)
			readings = append(readings, r)
		}
		return len(readings) == passes
	})
	require.Len(t, readings, passes)
	_, n := h.Truth(at)
	require.Equal(t, before+passes, n)
	results, err := h.sheets.Setup.Evaluate([][]timing.Reading{readings})
	require.NoError(t, err)
	return results[0]
}

// Every engine with every dial: the error worked out from the readings is the one that the hand has made, as found it is plain to
// see, as left it is nearly nothing.
func TestHandIsMeasuredWithinTheUncertainty(t *testing.T) {
	held, all := 0, 0
	for _, engine := range sampleEngines {
		for _, dial := range sampleDials {
			h := newHand(t, engine, dial, uint64(all))
			for _, cylinder := range h.sheets.Engine.Cylinders {
				for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
					at := placeOf(cylinder, phase)
					r := measured(t, h, at, 3)
					truth, _ := h.Truth(at)
					all++
					if r.Error.Interval[0] <= truth && truth <= r.Error.Interval[1] {
						held++
					}
					off := math.Abs(float64(r.Error.Value - truth))
					assert.LessOrEqual(t, off, 2*float64(r.Error.Interval[1]-r.Error.Value), "%s %s %v: twice the interval", engine, dial, at)
					target := h.sheets.Engine.Target
					if phase == logbook.AsFound {
						assert.True(t, truth > target.High || truth < target.Low, "%s %s %v: out of tolerance", engine, dial, at)
						assert.Equal(t, timing.OutOfTolerance, r.Verdict, "%s %s %v", engine, dial, at)
					} else {
						// Five hundredths of a degree, three standard errors of three passes that scatter by 0.1 degrees, and the noisy gap,
						// 0.15 degrees at half speed.
						slope, err := h.sheets.Engine.Crank.Slope(target.Angle)
						require.NoError(t, err)
						assert.InDelta(t, 0, float64(truth)/slope, 0.05+0.17+0.15, "%s %s %v", engine, dial, at)
						assert.True(t, truth < target.High && truth > target.Low, "%s %s %v: in tolerance", engine, dial, at)
					}
				}
			}
		}
	}
	// The interval holds the truth in 95 of 100 settings; three standard errors for 80 settings are 7.
	assert.GreaterOrEqual(t, float64(held), 0.88*float64(all))
	assert.GreaterOrEqual(t, all, 80)
}

// Cylinders are out both ways.
func TestHandFindsSomeEarlyAndSomeLate(t *testing.T) {
	h := newHand(t, "twin", "dial", 1)
	assert.Positive(t, h.off[placeOf("left", logbook.AsFound)])
	assert.Negative(t, h.off[placeOf("right", logbook.AsFound)])
}

func TestHandThatNoDialCanFollow(t *testing.T) {
	s := sampleSheets(t, "single", "dial")
	s.Dial.Range = 1
	_, err := newBenchHand(s, 1)
	assert.ErrorContains(t, err, "handturn: stage 1: timing: travel, got")
}

// A dial that reaches just beyond the tolerance gets points that are less early.
func TestHandStaysWithinTheDial(t *testing.T) {
	s := sampleSheets(t, "retard", "dial")
	most, err := s.Engine.Crank.Travel(s.Engine.Target.Angle + 3.6)
	require.NoError(t, err)
	s.Dial.Range = most
	h, err := newBenchHand(s, 1)
	require.NoError(t, err)
	off := h.off[placeOf("only", logbook.AsFound)]
	assert.Less(t, off, newHand(t, "retard", "dial", 1).off[placeOf("only", logbook.AsFound)])
	assert.Positive(t, off)
}

// Passes of one place are those of one run: the dial is zeroed once for them, whatever is done in between.
func TestHandZeroesTheDialOnceForAPlace(t *testing.T) {
	h := newHand(t, "twin", "dial", 9)
	s := handturn.Scenario{
		Crank: h.sheets.Engine.Crank, Dial: h.sheets.Dial.Dial, Breaker: handturn.TypicalBreaker(1), Hand: handturn.CarefulHand(), Seed: 9,
		Stages: []handturn.Stage{h.stage(placeOf("left", logbook.AsFound))},
	}
	s.Stages[0].Passes = 4
	run, err := s.Run()
	require.NoError(t, err)
	at := placeOf("left", logbook.AsFound)
	measured(t, h, at, 2)
	h.Watch()
	passTime(h, 10, nil)
	measured(t, h, at, 2)
	require.Len(t, h.taken[at], 4)
	for i, p := range h.taken[at] {
		assert.Equal(t, run.Stages[0].Passes[i].Reading, p.Reading)
	}
}

// Close to top dead centre the pointer of a dial that is zeroed there may stand past its zero, which nobody can type.
func TestHandShowsOnlyWhatCanBeTyped(t *testing.T) {
	engine, err := os.ReadFile("../../../testdata/sheets/magneto.toml")
	require.NoError(t, err)
	dial, err := os.ReadFile("../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	late := strings.NewReplacer(`"1.70 mm"`, `"0.4 deg"`, `"0.10 mm"`, `"0.3 deg"`).Replace(string(engine))
	s, err := session.ParseSheets("late.toml", late, "dial.toml", string(dial))
	require.NoError(t, err)
	seen := map[string]bool{}
	all, dashes := 0, 0
	for seed := range uint64(20) {
		h, err := newBenchHand(s, seed)
		require.NoError(t, err)
		h.Measure(placeOf("only", logbook.AsLeft))
		taken := 0
		passTime(h, 100, func() bool {
			if text := h.Dial(); text != "" {
				_, err := s.Setup.ParseReading(text)
				require.NoError(t, err)
				seen[text] = true
				h.Next()
				if _, n := h.Truth(h.at); n > taken {
					taken = n
					all++
					if text == timing.NoReading {
						dashes++
					}
				}
			}
			return false
		})
	}
	assert.Greater(t, len(seen), 2)
	// Where the dial was zeroed badly enough no pass can be read; most can, and those that cannot are made again.
	assert.Less(t, dashes, all/6)
}

// do tells the hand one of all things that it can be told.
func do(h *benchHand, what, cylinder int) {
	at := placeOf(h.sheets.Engine.Cylinders[cylinder%len(h.sheets.Engine.Cylinders)], logbook.AsFound)
	switch what {
	case 0:
		h.Measure(at)
	case 1:
		at.Phase = logbook.AsLeft
		h.Measure(at)
	case 2:
		h.Watch()
	case 3:
		h.Set(at)
	case 4:
		h.Rest()
	case 5, 6, 7:
		h.Next()
	case 8:
		h.WrongTurn(true)
	case 9:
		h.WrongTurn(false)
	}
}

// Whatever the hand is told and when, its changes can be played as they come; and told the same again, the steps in which time
// passes make no difference.
func TestHandNeverSaysTooLateWhatHappens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		engine, dial := rapid.SampledFrom(sampleEngines).Draw(t, "engine"), rapid.SampledFrom(sampleDials).Draw(t, "dial")
		h, again := newHand(t, engine, dial, 5), newHand(t, engine, dial, 5)
		closed, last := true, 0.0
		var all, same []bench.Change
		now := 0.0
		for range rapid.IntRange(1, 8).Draw(t, "orders") {
			what, cylinder := rapid.IntRange(0, 9).Draw(t, "what"), rapid.IntRange(0, 3).Draw(t, "cylinder")
			do(h, what, cylinder)
			do(again, what, cylinder)
			end := now + rapid.Float64Range(0.01, 30).Draw(t, "for")
			for now < end {
				before := now
				now = min(end, now+rapid.Float64Range(0.001, 2).Draw(t, "step"))
				for _, c := range h.upTo(now) {
					require.Greater(t, c.At, before)
					require.LessOrEqual(t, c.At, now)
					require.Greater(t, c.At, last)
					require.NotEqual(t, closed, c.Closed)
					closed, last = c.Closed, c.At
					all = append(all, c)
				}
			}
			same = append(same, again.upTo(end)...)
			require.Equal(t, all, same)
			require.Equal(t, h.Dial(), again.Dial())
		}
	})
}

func TestHandMakesAPassAgainWhenNobodyTakesTheReading(t *testing.T) {
	h := newHand(t, "twin", "dial", 1)
	at := placeOf("left", logbook.AsFound)
	h.Measure(at)
	assert.Empty(t, h.Dial())
	passTime(h, 2, nil)
	h.Next() // nothing has opened yet
	passTime(h, 60, func() bool { return h.Dial() != "" })
	first, read := h.Dial(), h.now
	_, n := h.Truth(at)
	assert.Zero(t, n, "nobody has taken one")

	passTime(h, 18, nil)
	assert.Equal(t, first, h.Dial(), "it waits")
	passTime(h, 60, func() bool { return h.Dial() != first })
	assert.Empty(t, h.Dial(), "the points have opened, the dial is not read yet")
	assert.Greater(t, h.now-read, handWaits)
	h.Next() // typed without having looked at the dial
	h.Next()
	_, n = h.Truth(at)
	assert.Equal(t, 1, n)

	passTime(h, 3, nil)
	opened := h.now
	passTime(h, 60, func() bool { return h.Dial() == "" })
	assert.Less(t, h.now-opened, handWaits, "the next pass begins soon")
}

// Measuring what is measured already goes on, another place begins at once.
func TestHandGoesToAnotherPlace(t *testing.T) {
	h := newHand(t, "twin", "dial", 1)
	h.Measure(placeOf("left", logbook.AsFound))
	passTime(h, 60, func() bool { return h.Dial() != "" })
	read := h.Dial()
	h.Measure(placeOf("left", logbook.AsFound))
	assert.Equal(t, read, h.Dial())
	h.Measure(placeOf("right", logbook.AsFound))
	assert.Empty(t, h.Dial(), "that was another cylinder's")
	changes := passTime(h, 60, func() bool { return h.Dial() != "" })
	assert.Equal(t, 1, partings(changes[1:]))
	assert.True(t, changes[0].Closed, "the points of the pass that was broken off close")
}

func TestHandRests(t *testing.T) {
	h := newHand(t, "twin", "dial", 1)
	assert.Empty(t, passTime(h, 100, nil), "until it is told something")
	h.Measure(placeOf("left", logbook.AsFound))
	passTime(h, 60, func() bool { return h.Dial() != "" })
	require.False(t, h.closed[0])
	read := h.Dial()
	h.Rest()
	changes := passTime(h, 100, nil)
	require.Len(t, changes, 1)
	assert.True(t, changes[0].Closed)
	assert.Equal(t, read, h.Dial(), "the dial is left as it was")
}

func TestHandOpensAndClosesThePoints(t *testing.T) {
	h := newHand(t, "twin", "dial", 1)
	h.Watch()
	assert.Empty(t, passTime(h, 0.9, nil), "closed first")
	// Three take at most 7.5 s and a pause of 2 s.
	assert.Equal(t, 3, partings(passTime(h, 7.2, nil)))
	assert.GreaterOrEqual(t, partings(passTime(h, 40, nil)), 12, "again and again")
	assert.Empty(t, h.Dial())
}

// partings counts openings of points that were closed for half a second.
func partings(changes []bench.Change) (n int) {
	closedAt := 0.0
	for _, c := range changes {
		if c.Closed {
			closedAt = c.At
		} else if c.At > closedAt+0.5 {
			n++
		}
	}
	return n
}

func TestHandMovesThePlate(t *testing.T) {
	for _, tt := range []struct {
		cylinder string
		early    bool
	}{{"left", true}, {"right", false}} {
		h := newHand(t, "twin", "dial", 1)
		at := placeOf(tt.cylinder, logbook.AsLeft)
		before := h.off[at]
		h.Set(at)
		changes := passTime(h, 12, nil)
		require.NotEmpty(t, changes)
		assert.False(t, h.closed[0], "just open, and so they stay")
		assert.Greater(t, len(changes), 4, "they flutter")
		assert.Greater(t, h.now-changes[len(changes)-1].At, 2.0)
		open := 0.0 // the longest time before the end
		for i := 1; i < len(changes); i++ {
			if changes[i].Closed {
				open = max(open, changes[i].At-changes[i-1].At)
			}
		}
		assert.Equal(t, tt.early, open > 1, "points that open early are open at the mark")
		assert.NotEqual(t, before, h.off[at], "a new setting")
		assert.Less(t, math.Abs(float64(h.off[at])), 0.06)
	}
}

func TestHandAtTheWrongTurn(t *testing.T) {
	for engine, possible := range map[string]bool{"twin": false, "four": false, "single": true, "twin-half": true} {
		h := newHand(t, engine, "dial", 1)
		assert.Equal(t, possible, h.WrongTurn(true), engine)
		at := placeOf(h.sheets.Engine.Cylinders[0], logbook.AsFound)
		h.Measure(at)
		changes := passTime(h, 60, nil)
		if !possible {
			assert.NotEmpty(t, changes, engine)
			continue
		}
		assert.Empty(t, changes, engine)
		assert.Empty(t, h.Dial())
		h.Next()
		assert.True(t, h.WrongTurn(false))
		passTime(h, 25, func() bool { return h.Dial() != "" })
		assert.NotEmpty(t, h.Dial(), "turned once more, the points open")
	}
}
