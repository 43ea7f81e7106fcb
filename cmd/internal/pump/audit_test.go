package pump_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowly is so many openings of half a second, one every two.
func slowly(openings int) func(uint64) []bench.Change {
	return func(uint64) (out []bench.Change) {
		for i := range openings {
			at := 2 + 2*float64(i)
			out = append(out, bench.Change{At: at}, bench.Change{At: at + 0.5, Closed: true})
		}
		return out
	}
}

// afterwards counts how many of the changes are found, each within a millisecond, and how many the wrong way round.
func afterwards(events []detect.Event, offset float64, changes []bench.Change) (right, inverted int) {
	for _, e := range settled(events) {
		for _, c := range changes {
			if math.Abs(e.At()-(c.At+offset)*48000) > 48 {
				continue
			}
			if (e.Kind == detect.KindClose) == c.Closed {
				right++
			} else {
				inverted++
			}
		}
	}
	return right, inverted
}

// requireOrderly fails unless each event ends once, and no other has its ID.
func requireOrderly(t *testing.T, events []detect.Event) {
	kind, ended := map[int64]detect.Kind{}, map[int64]bool{}
	for _, e := range events {
		if k, ok := kind[e.ID]; ok {
			require.Equal(t, k, e.Kind, "event %d", e.ID)
		}
		require.False(t, ended[e.ID], "event %d goes on after its end", e.ID)
		kind[e.ID] = e.Kind
		ended[e.ID] = e.Stage == detect.Settled || e.Stage == detect.Withdrawn
	}
	for id := range kind {
		require.True(t, ended[id], "event %d never ends", id)
	}
}

// A gain knob turned before the points have moved looks like points. What is learnt from it is given up as soon as the points show
// other levels; open is never taken for closed.
func TestAStepOfTheLevelIsNotTakenForThePointsForLong(t *testing.T) {
	for _, across := range []bool{false, true} {
		for _, gain := range []float64{0.9, 0.87, 0.85, 0.8, 0.5, 1.2} {
			t.Run(fmt.Sprintf("across %v, gain %g", across, gain), func(t *testing.T) {
				before, after := stepped(t, across, gain, 12)
				l, events := follow(t, spliced(t, before, after), wired(across))
				right, inverted := afterwards(events, 3, after.Changes)
				assert.Zero(t, inverted)
				// The audit looks once a second and takes six to be sure: three openings or four.
				assert.GreaterOrEqual(t, right, 2*12-8)
				requireOrderly(t, events)
				now := l.Health().Levels
				assert.Equal(t, across, now.Open > now.Closed)
			})
		}
	}
}

// stepped is 3 s of a tone whose level then changes, with openings after it; across it begins open, so that there is a tone.
func stepped(t *testing.T, shunt bool, gain float64, openings int) (before, after bench.Config) {
	r := typical()
	r.seconds = 3
	r.changes = func(uint64) []bench.Change { return nil }
	if shunt {
		r.cable = across
	}
	before = r.config(t, 1)
	before.StartOpen = shunt
	r.changes = slowly(openings)
	r.seconds = 2 + 2*float64(openings)
	after = r.config(t, 2)
	after.StartOpen = shunt
	for i := range after.Changes {
		after.Changes[i].Closed = after.Changes[i].Closed != shunt
	}
	after.Closed *= complex(gain, 0)
	after.Open *= complex(gain, 0)
	return before, after
}

func wired(shunt bool) pump.FollowOptions {
	r := typical()
	if shunt {
		r.cable = across
	}
	return r.followOptions()
}

// A tone that has become so weak that its loud level looks like the quiet one is followed or learnt anew, and what was missed meanwhile is found in
// the sound that is still held.
func TestAToneThatBecomesWeakIsLearntAnew(t *testing.T) {
	for _, shunt := range []bool{false, true} {
		for _, gain := range []float64{0.1, 0.2, 0.3} {
			t.Run(fmt.Sprintf("across %v, gain %g", shunt, gain), func(t *testing.T) {
				r := typical()
				if shunt {
					r.cable = across
				}
				r.seconds = 2
				r.changes = func(uint64) []bench.Change { return []bench.Change{{At: 0.5}, {At: 0.9, Closed: true}} }
				before := r.config(t, 1)
				r.seconds, r.changes = 26, slowly(12)
				after := r.config(t, 2)
				after.Closed *= complex(gain, 0)
				after.Open *= complex(gain, 0)
				l, events := follow(t, spliced(t, before, after), wired(shunt))
				right, inverted := afterwards(events, 2, after.Changes)
				now := l.Health().Levels
				loud := bench.Amplitude(after.Level) * max(cmplx.Abs(after.Closed), cmplx.Abs(after.Open))
				assert.InEpsilon(t, loud, max(now.Closed, now.Open), 0.05) // noise of 40 dB under the tone as it was
				assert.Zero(t, inverted)
				assert.GreaterOrEqual(t, right, 2*12-2)
				requireOrderly(t, events)
			})
		}
	}
}

// What makes changes all the time is no contact: the levels are given up, and said to be lost.
func TestALeadThatFluttersIsLost(t *testing.T) {
	r := typical()
	r.changes = func(uint64) []bench.Change {
		out := []bench.Change{{At: 0.5}, {At: 0.9, Closed: true}}
		for at := 2.0; at < 7; at += 0.016 { // 8 ms open, 8 ms closed: shorter than the hold time, so it is one opening
			out = append(out, bench.Change{At: at}, bench.Change{At: at + 0.008, Closed: true})
		}
		return out
	}
	c := r.config(t, 1)
	c.Frames = 48000 * 6
	c.Changes = c.Changes[:2+2*240]
	l, events := follow(t, source(t, c), r.followOptions())
	lost := 0
	for _, e := range events {
		if e.Kind == detect.KindLost {
			lost++
		}
	}
	assert.Positive(t, lost)
	assert.NotEqual(t, detect.Open, l.State())
	requireOrderly(t, events)
}
