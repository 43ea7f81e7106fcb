package detect

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPairPlacesEdgesAsWellAsAlone(t *testing.T) {
	none := [2]float64{}
	for _, c := range []struct {
		second, down, db float64
		couple           [2]float64 // 0.06 is what the recommended cables do
	}{
		{1600, 1, 40, none}, {1600, 1, 20, none}, {1600, 1, 10, none}, {3200, 0.316, 10, none}, {2010, 0.1, 30, none},
		{1600, 1, 40, [2]float64{0.06, 0.07}}, {3200, 0.316, 20, [2]float64{0.08, -0.08}},
	} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			var got [2]pairTally
			for seed := range uint64(2) {
				s := pairTake(seed, 60, [2]float64{1000, c.second}, [2]float64{0.25, 0.25 * c.down}, c.db)
				s.couple = c.couple
				require.NoError(t, s.take(&got))
			}
			for i, set := range got {
				assert.Zero(t, set.with.missed, "set %d", i+1)
				assert.Zero(t, set.with.wrong, "set %d", i+1)
				assert.Zero(t, set.undone, "set %d", i+1)
				assert.Zero(t, set.unexpected, "set %d", i+1)
				// A fifth more than alone is what is promised; of 120 edges one or two that lie a frame off make 0.1 frames by chance.
				assert.LessOrEqual(t, set.with.rms(), 1.2*set.alone.rms()+0.1, "set %d", i+1)
			}
		})
	}
}

func TestPairGivesTheSameEventsHoweverTheSoundIsCut(t *testing.T) {
	s := pairTake(5, 12, [2]float64{1000, 1600}, [2]float64{0.25, 0.1}, 20)
	sameHoweverCut(t, s)
	s.couple = [2]float64{0.25, -0.1}
	sameHoweverCut(t, s)
}

func sameHoweverCut(t *testing.T, s pairSynth) {
	x := s.render()
	x[50000] = float32(math.NaN())
	clear(x[60000:60400])
	want, p, err := s.run(x, len(x))
	require.NoError(t, err)
	require.NotEmpty(t, edges(want))
	for _, block := range []int{1, 7, 480, 4096} {
		got, _, err := s.run(x, block)
		require.NoError(t, err)
		assert.Equal(t, want, got, "blocks of %d frames", block)
	}
	p.Reset()
	assert.Equal(t, want, hearPair(p, x, 1000), "after Reset")
	ev := make([]Event, 0, 2*len(want))
	assert.Zero(t, testing.AllocsPerRun(2, func() {
		p.Reset()
		ev = p.Process(ev[:0], x)
	}))
	ids := map[int64]Event{}
	for _, e := range want {
		if was, ok := ids[e.ID]; ok {
			assert.Equal(t, was.Set, e.Set, "one ID, one set")
			assert.Equal(t, was.DecidedFrame, e.DecidedFrame)
		}
		ids[e.ID] = e
	}
}

// However late a frame is passed on, an opening is decided soon after it: within 2 ms at 20 dB, and never before what shows it was heard.
func TestPairDecidesSoon(t *testing.T) {
	s := pairTake(6, 40, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 20)
	x := s.render()
	a, b := s.configs()
	p, err := NewPair(a, b)
	require.NoError(t, err)
	var ev []Event
	decided := 0
	for i := range x {
		ev = p.Process(ev[:0], x[i:i+1])
		for _, e := range ev {
			if e.Stage == Decided {
				decided++
				assert.EqualValues(t, i, e.DecidedFrame)
				assert.Less(t, e.DecidedFrame-e.Frame, int64(96))
			}
		}
	}
	assert.Equal(t, 80, decided)
}

// Lost samples: neither set's edge is timed across them, and both are found again.
func TestPairAfterAGap(t *testing.T) {
	s := pairTake(7, 10, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 30)
	x := s.render()
	a, b := s.configs()
	p, err := NewPair(a, b)
	require.NoError(t, err)
	mid := (s.a.turns[5] + max(s.b.turns[4], s.a.turns[4])) / 2
	ev := p.Process(nil, x[:mid])
	ev = p.Skip(ev, 333)
	for i := range 2 {
		st, since := p.State(i)
		assert.Equal(t, Unknown, st)
		assert.EqualValues(t, mid+333, since)
	}
	ev = p.Flush(p.Process(ev, x[mid+333:]))
	for i, one := range []synth{s.a, s.b} {
		var got pairErrors
		got.add(edges(ofSet(ev, i+1)), one.turns)
		assert.Equal(t, pairErrors{sq: got.sq, n: 10}, got)
		assert.Less(t, got.rms(), 1.0) // frames; at 30 dB
	}
	assert.Zero(t, len(ofSet(ev, 0)))
	assert.Equal(t, ev, p.Skip(ev, 0), "nothing lost")
}

func TestNewPairRefuses(t *testing.T) {
	a, b := pairTake(1, 1, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 30).configs()
	for _, c := range []struct {
		name string
		with func(a, b *Config)
		want string
	}{
		{"a bad configuration", func(a, b *Config) { b.Profile.Noise = -1 }, "noise"},
		{"another rate", func(a, b *Config) { b.SampleRate = 44100 }, "format and channel"},
		{"another channel", func(a, b *Config) { a.Channels, b.Channels, b.Channel = 2, 2, 1 }, "format and channel"},
		{"tones too near", func(a, b *Config) { b.Profile.Tone = 1100 }, "tones"},
		{"one set twice", func(a, b *Config) { b.Set = 1 }, "set"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, b := a, b
			c.with(&a, &b)
			_, err := NewPair(a, b)
			assert.ErrorContains(t, err, c.want)
		})
	}
	p, err := NewPair(a, b)
	require.NoError(t, err)
	assert.Equal(t, DefaultHold, p.Config(1).Hold)
	assert.Equal(t, 2, p.Config(1).Set)
	assert.Panics(t, func() {
		q := *p
		q.cfg[0].Channels = 2
		q.Process(nil, make([]float32, 3))
	})
}

// While an edge of one set is on its way the other set's Detector waits, for it would hear that edge; its own does not: it has to decide.
func TestOnlyTheOtherSetWaitsForAnEdge(t *testing.T) {
	s := pairTake(6, 40, [2]float64{1000, 1600}, [2]float64{0.25, 0.25}, 20)
	x := s.render()
	a, b := s.configs()
	p, err := NewPair(a, b)
	require.NoError(t, err)
	turns := [2][]int{s.a.turns, s.b.turns}
	var ahead, behind int // frames at which the set that changes was given more than the other, or less
	var ev []Event
	for n := range x {
		ev = p.Process(ev[:0], x[n:n+1])
		for i := range turns {
			if len(turns[i]) == 0 || n < turns[i][0] {
				continue
			}
			if n > turns[i][0]+96 {
				turns[i] = turns[i][1:]
				continue
			}
			if k := 1 - i; len(turns[k]) > 0 && n > turns[k][0]-96 {
				continue // both change
			}
			switch own, other := p.set[i].sent, p.set[1-i].sent; {
			case own > other:
				ahead++
			case own < other:
				behind++
			}
		}
	}
	// At 20 dB an edge is taken for one of the other set for a few frames, and both wait.
	assert.Greater(t, ahead, 200, "some frames at each edge")
	assert.Less(t, behind, ahead*2/3)
}
