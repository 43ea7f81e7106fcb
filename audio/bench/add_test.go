package bench

import (
	"math"
	"sync"
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// lively is a third of a second of full with many changes, some closer than the reach of an edge's shape.
func lively(t *rapid.T) Config {
	c := full()
	c.Frames, c.BandLimited, c.StartOpen = 16000, rapid.Bool().Draw(t, "band-limited"), rapid.Bool().Draw(t, "open")
	c.Changes = nil
	at, closed := 0.0, !c.StartOpen
	for range rapid.IntRange(0, 30).Draw(t, "changes") {
		at += rapid.Float64Range(1, 1000).Draw(t, "after") / 48000
		closed = !closed
		c.Changes = append(c.Changes, Change{at, closed})
	}
	return c
}

func TestAddedPiecewiseSoundsAsGivenAtOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := lively(t)
		want := render(t, c, 16000)
		all := c.Changes
		given := rapid.IntRange(0, len(all)).Draw(t, "given at once")
		c.Changes = all[:given:len(all)] // room behind, which is the caller's
		if rapid.Bool().Draw(t, "endless") {
			c.Frames = Endless
		}
		b, err := New(c)
		require.NoError(t, err)
		var got []float32
		for len(got) < len(want) {
			frames := min(rapid.IntRange(1, 3000).Draw(t, "block"), (len(want)-len(got))/3)
			// What must be there before these frames, and perhaps more.
			due := given
			for due < len(all) && all[due].At*48000 <= float64(int(b.Frame())+frames+LookAhead) {
				due++
			}
			due = min(len(all), due+rapid.IntRange(0, 2).Draw(t, "early"))
			require.NoError(t, b.Add(all[given:due]...))
			given = due
			buf := make([]float32, 3*frames)
			n, err := b.Read(buf)
			require.NoError(t, err)
			require.Equal(t, frames, n)
			got = append(got, buf...)
		}
		require.Equal(t, want, got)
		assert.Equal(t, int64(16000), b.Frame())
	})
}

func TestAddRefusesWhatComesTooLateOrDoesNotFit(t *testing.T) {
	for _, tt := range []struct {
		name    string
		limited bool
		add     []Change
		want    string // "": it is taken
	}{
		{"nothing", false, nil, ""},
		{"gated, the next frame", false, []Change{{24000.0 / 48000, true}}, ""},
		{"gated, the last frame read", false, []Change{{23999.0 / 48000, true}}, "bench: instant of change 1 [s], got 0.49997916666666664, want one that no frame shows yet: 24000 were read, 0.5 s"},
		{"band-limited, the last frame that can", true, []Change{{(23999.0 + LookAhead) / 48000, true}}, ""},
		{"band-limited, one frame too late", true, []Change{{(23998.0 + LookAhead) / 48000, true}}, "want one that no frame shows yet"},
		{"the same state", false, []Change{{0.6, false}}, "change 1 at 0.6 s, got closed=false again"},
		{"the second has the same state", false, []Change{{0.6, true}, {0.7, true}}, "change 2 at 0.7 s, got closed=true again"},
		{"before the last", false, []Change{{0.2, true}}, "instant of change 1 [s], got 0.2, want more than the one before, 0.25"},
		{"no number", false, []Change{{math.NaN(), true}}, "instant of change 1 [s], got NaN"},
		{"endless", false, []Change{{math.Inf(1), true}}, "instant of change 1 [s], got +Inf"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := plain()
			c.Changes, c.BandLimited = c.Changes[:1], tt.limited
			b, err := New(c)
			require.NoError(t, err)
			_, err = b.Read(make([]float32, 24000))
			require.NoError(t, err)
			err = b.Add(tt.add...)
			if tt.want == "" {
				require.NoError(t, err)
				assert.Len(t, b.Truth(hold).Edges, 1+len(tt.add))
				return
			}
			require.ErrorContains(t, err, tt.want)
			assert.Len(t, b.Truth(hold).Edges, 1, "none is taken")
			require.NoError(t, b.Add(Change{0.9, true}), "and others can still be")
		})
	}
}

func TestFirstAddedChangeOfPointsThatAreOpen(t *testing.T) {
	c := plain()
	c.Changes, c.StartOpen = nil, true
	b, err := New(c)
	require.NoError(t, err)
	require.ErrorContains(t, b.Add(Change{0.1, false}), "change 0 at 0.1 s, got closed=false again")
	require.ErrorContains(t, b.Add(Change{0, true}), "instant of change 0 [s], got 0, want one frame from the start or later")
	require.NoError(t, b.Add(Change{0.1, true}))
	assert.Equal(t, []Event{{true, 4800, 4800, 0}}, b.Truth(hold).Events)
}

func TestAddLeavesTheCallersSliceAlone(t *testing.T) {
	c := plain()
	kept := []Change{{0.25, false}, {0.5, true}, {0.75, false}}
	c.Changes = kept[:2]
	b, err := New(c)
	require.NoError(t, err)
	require.NoError(t, b.Add(Change{0.6, false}))
	assert.Equal(t, Change{0.75, false}, kept[2])
}

func TestEndless(t *testing.T) {
	c := plain()
	c.Frames = Endless
	open := func() audio.Source {
		b, err := New(c)
		require.NoError(t, err)
		return b
	}
	audiotest.Check(t, open, 0)
	b := open().(*Bench)
	assert.Equal(t, int64(-1), b.Format().Frames)
	n, err := b.Read(make([]float32, 100_000))
	require.NoError(t, err)
	assert.Equal(t, 100_000, n)
	require.NoError(t, b.Add(Change{1000, false}))
	assert.Equal(t, []Event{{false, 12000, 12000, 0}, {true, 24000, 24000, 0}, {false, 48_000_000, 48_000_000, 0}}, b.Truth(hold).Events)
	c.Frames = -2
	_, err = New(c)
	assert.ErrorContains(t, err, "bench: frames, got -2, want 1 or more, or -1 for a sound without an end")
}

// Reading and adding at once is for the race detector; each change is far enough ahead never to be late.
func TestAddFromAnotherGoroutine(t *testing.T) {
	c := plain()
	c.Frames, c.Changes = Endless, nil
	b, err := New(c)
	require.NoError(t, err)
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := range 100 {
			assert.NoError(t, b.Add(Change{float64(10 + i), i%2 == 1}))
		}
	})
	buf := make([]float32, 480)
	for range 100 {
		_, err := b.Read(buf)
		assert.NoError(t, err)
		b.Truth(hold)
	}
	wg.Wait()
	assert.Len(t, b.Truth(hold).Edges, 100)
	assert.Equal(t, int64(48000), b.Frame())
}
