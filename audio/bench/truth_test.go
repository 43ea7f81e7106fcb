package bench

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const hold = 20 * time.Millisecond

func truth(t require.TestingT, c Config) Truth {
	b, err := New(c)
	require.NoError(t, err)
	return b.Truth(hold)
}

func TestTruth(t *testing.T) {
	for _, tt := range []struct {
		name    string
		changes []Change
		edges   []Edge
		events  []Event
	}{
		{"nothing", nil, nil, nil},
		{
			"one opening, one closing", []Change{{0.25, false}, {0.5, true}},
			[]Edge{{12000, false}, {24000, true}},
			[]Event{{false, 12000, 12000, 0}, {true, 24000, 24000, 0}},
		},
		{
			"bounce on opening", []Change{{0.25, false}, {0.251, true}, {0.252, false}, {0.253, true}, {0.254, false}},
			[]Edge{{12000, false}, {12048, true}, {12096, false}, {12144, true}, {12192, false}},
			[]Event{{false, 12000, 12192, 2}},
		},
		{
			"a short opening, then closed for long", []Change{{0.25, false}, {0.26, true}},
			[]Edge{{12000, false}, {12480, true}},
			[]Event{{false, 12000, 12000, 0}, {true, 12480, 12480, 0}},
		},
		{
			"closed for just less than hold before it was steady", []Change{{0.25, false}, {0.26, true}, {0.2799, false}},
			[]Edge{{12000, false}, {12480, true}, {13436, false}},
			[]Event{{false, 12000, 13436, 1}},
		},
		{
			"closed for hold before it was steady", []Change{{0.25, false}, {0.26, true}, {0.28, false}},
			[]Edge{{12000, false}, {12480, true}, {13440, false}},
			[]Event{{false, 12000, 12000, 0}, {true, 12480, 12480, 0}, {false, 13440, 13440, 0}},
		},
		{
			"a closing that bounces", []Change{{0.25, false}, {0.27, true}, {0.275, false}, {0.28, true}},
			[]Edge{{12000, false}, {12960, true}, {13200, false}, {13440, true}},
			[]Event{{false, 12000, 12000, 0}, {true, 12960, 13440, 1}},
		},
		{
			"never open for hold", []Change{{0.25, false}, {0.26, true}, {0.265, false}, {0.28, true}},
			[]Edge{{12000, false}, {12480, true}, {12720, false}, {13440, true}},
			[]Event{{false, 12000, 12720, 1}, {true, 13440, 13440, 0}},
		},
		{
			"a bouncing closing undone before the opening was over",
			[]Change{{0.25, false}, {0.3, true}, {0.305, false}, {0.31, true}, {0.315, false}, {0.4, true}},
			[]Edge{{12000, false}, {14400, true}, {14640, false}, {14880, true}, {15120, false}, {19200, true}},
			[]Event{{false, 12000, 15120, 2}, {true, 19200, 19200, 0}},
		},
		{
			"a closing undone after the opening was over", []Change{{0.25, false}, {0.5, true}, {0.505, false}, {0.8, true}},
			[]Edge{{12000, false}, {24000, true}, {24240, false}, {38400, true}},
			[]Event{{false, 12000, 12000, 0}, {true, 38400, 38400, 0}},
		},
		{
			"the end after a break", []Change{{0.99, false}},
			[]Edge{{47520, false}}, []Event{{false, 47520, 47520, 0}},
		},
		{
			"the end after a make", []Change{{0.25, false}, {0.99, true}},
			[]Edge{{12000, false}, {47520, true}}, []Event{{false, 12000, 12000, 0}, {true, 47520, 47520, 0}},
		},
		{
			"the end in a closing's bounce", []Change{{0.25, false}, {0.99, true}, {0.992, false}},
			[]Edge{{12000, false}, {47520, true}, {47616, false}}, []Event{{false, 12000, 12000, 0}},
		},
		{
			"after the end", []Change{{0.25, false}, {1, true}},
			[]Edge{{12000, false}}, []Event{{false, 12000, 12000, 0}},
		},
		{
			"there and back within one frame", []Change{{12000.1 / 48000, false}, {12000.9 / 48000, true}, {0.5, false}},
			[]Edge{{24000, false}}, []Event{{false, 24000, 24000, 0}},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := plain()
			c.Changes = tt.changes
			assert.Equal(t, Truth{tt.edges, tt.events}, truth(t, c))
		})
	}
}

func TestTruthOfBandLimitedEdgesIsExact(t *testing.T) {
	c := plain()
	c.BandLimited = true
	c.Changes = []Change{{12000.25 / 48000, false}}
	assert.InDelta(t, 12000.25, truth(t, c).Events[0].First, 1e-9) // rounding
}

func TestTruthOfPointsThatAreOpenInTheBeginning(t *testing.T) {
	c := plain()
	c.StartOpen = true
	c.Changes = []Change{{0.1, true}, {0.105, false}, {0.2, true}, {0.205, false}, {0.21, true}}
	assert.Equal(t, []Event{{true, 9600, 10080, 1}}, truth(t, c).Events)
}

// With a hold that is longer, an opening is over when the points have been open for that long.
func TestTruthWithALongHold(t *testing.T) {
	c := plain()
	c.Changes = []Change{{0.1, false}, {0.45, true}, {0.5, false}, {0.95, true}, {0.96, false}}
	b, err := New(c)
	require.NoError(t, err)
	assert.Equal(t, []Event{{false, 4800, 24000, 1}}, b.Truth(400*time.Millisecond).Events)
}

// The gated truth is what the samples show.
func TestTruthMatchesTheSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := plain()
		// A quarter of the sample rate, with a start phase that rapid cannot hit zero crossings of, has no zero samples.
		c.Frames, c.Tone, c.Open, c.Seed = 9600, 12000, 0, 3
		c.Changes = nil
		at := 0.0
		for i := range rapid.IntRange(0, 12).Draw(t, "changes") {
			at += rapid.Float64Range(1.0/48000, 0.05).Draw(t, "after")
			c.Changes = append(c.Changes, Change{at, i%2 == 1})
		}
		x := render(t, c, 1000)
		var got []Edge
		closed := true
		for n, v := range x {
			if now := v != 0; now != closed {
				closed = now
				got = append(got, Edge{float64(n), closed})
			}
		}
		assert.Equal(t, got, truth(t, c).Edges)
	})
}

func TestAddBounce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := plain()
		before := append([]Change(nil), c.Changes...)
		seed := rapid.Uint64().Draw(t, "seed")
		bounced := AddBounce(c.Changes, seed)
		assert.Equal(t, bounced, AddBounce(c.Changes, seed))
		assert.Equal(t, before, c.Changes)
		c.Changes = bounced
		events := truth(t, c).Events
		require.Len(t, events, 2)
		for i, e := range events {
			assert.Equal(t, before[i].At*48000, e.First)
			assert.LessOrEqual(t, e.Last-e.First, 96.0, "2 ms")
			assert.True(t, e.Reclosures >= 1 && e.Reclosures <= 5)
		}
		for i := 1; i < len(bounced); i++ {
			if d := bounced[i].At - bounced[i-1].At; d < 0.1 {
				assert.True(t, d >= 19.9e-6 && d <= 500.1e-6, "%v s", d) // a tenth of a us for rounding
			}
		}
	})
}

func TestAddBounceKeepsOrderInDenseChanges(t *testing.T) {
	c := plain()
	c.Changes = nil
	for i := range 200 {
		c.Changes = append(c.Changes, Change{0.1 + 0.0004*float64(i), i%2 == 1})
	}
	for seed := range uint64(20) {
		d := c
		d.Changes = AddBounce(c.Changes, seed)
		require.NoError(t, d.Validate())
	}
}

// Contact noise lasts 30..75 ms at 2 degrees/s and 300..750 ms at 0.2: computed from a cam that opens 0.02..0.05 mm a
// cam degree, and at crank speed here.
func TestChatterDuration(t *testing.T) {
	assert.InDelta(t, 0.030, Chatter{Speed: 2, Lift: 0.05}.Duration(), 1e-12)
	assert.InDelta(t, 0.075, Chatter{Speed: 2, Lift: 0.02}.Duration(), 1e-12)
	assert.InDelta(t, 0.300, Chatter{Speed: 0.2, Lift: 0.05}.Duration(), 1e-12)
	assert.InDelta(t, 0.750, Chatter{Speed: 0.2, Lift: 0.02}.Duration(), 1e-12)
}

func TestAddChatter(t *testing.T) {
	in := []Change{{10, false}, {20, true}, {30, false}}
	c := Chatter{Speed: 0.2, Lift: 0.02, Length: 0.002}
	var thirds [3]float64 // time closed in each third of the chatter
	const runs = 200
	for seed := range uint64(runs) {
		out, err := AddChatter(in, c, seed)
		require.NoError(t, err)
		require.NoError(t, Config{SampleRate: 48000, Channels: 1, Frames: 1, Tone: 1000, Changes: out}.Validate())
		again, _ := AddChatter(in, c, seed)
		assert.Equal(t, out, again)
		closed, last := true, 10.0
		for _, ch := range out {
			if ch.At > 15 {
				break
			}
			require.LessOrEqual(t, ch.At, 10.75+1e-9)
			if closed {
				for k := range thirds {
					lo, hi := 10+0.25*float64(k), 10.25+0.25*float64(k)
					thirds[k] += max(0, min(hi, ch.At)-max(lo, last)) / 0.25 / runs
				}
			}
			closed, last = ch.Closed, ch.At
		}
		require.False(t, closed, "open in the end")
	}
	// The share falls from 1 to 0 on a straight line: 5/6, 1/2, 1/6. Each third holds 125 draws, 200 times: 0.01.
	assert.InDelta(t, 5.0/6, thirds[0], 0.02)
	assert.InDelta(t, 0.5, thirds[1], 0.02)
	assert.InDelta(t, 1.0/6, thirds[2], 0.02)
}

func TestAddChatterEndsBeforeTheNextClosing(t *testing.T) {
	out, err := AddChatter([]Change{{10, false}, {10.1, true}}, Chatter{Speed: 0.01, Lift: 0.001, Length: 0.001}, 1)
	require.NoError(t, err)
	require.NoError(t, Config{SampleRate: 48000, Channels: 1, Frames: 1, Tone: 1000, Changes: out}.Validate())
	assert.Equal(t, Change{10.1, true}, out[len(out)-1])
}

func TestAddChatterRefuses(t *testing.T) {
	for want, c := range map[string]Chatter{
		"speed [degrees/s], got 0":  {Lift: 0.02, Length: 0.002},
		"lift [mm/degree], got -1":  {Speed: 1, Lift: -1, Length: 0.002},
		"length [s], got 0, want 0": {Speed: 1, Lift: 0.02},
	} {
		_, err := AddChatter(nil, c, 1)
		assert.ErrorContains(t, err, "bench: chatter's "+want)
	}
}
