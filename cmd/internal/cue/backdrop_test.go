package cue

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// change is what somebody in front of the screen sees of its background.
type change struct {
	at time.Duration
	to State
}

// TestFlashes lets states follow each other at random and draws whenever one comes or the painter asks for it, by a clock
// of its own.
func TestFlashes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p painter
		var changes []change
		var shown State
		var v View
		now, due := time.Duration(0), time.Duration(-1)
		draw := func() {
			writing := time.Duration(rapid.IntRange(0, 3000).Draw(t, "write takes, µs")) * time.Microsecond
			f, back, again := p.frame(v, noon.Add(now), 80, 24)
			assert.Contains(t, f.String(), caption(v.State), "the words are never late")
			if len(changes) == 0 || back[0] != shown {
				shown = back[0]
				changes = append(changes, change{now, back[0]})
			}
			p.back.drawn(back, noon.Add(now+writing))
			due = -1
			if again > 0 {
				due = now + writing + again
			}
		}
		for range rapid.IntRange(1, 60).Draw(t, "states") {
			next := now + time.Duration(rapid.OneOf(rapid.IntRange(0, 30), rapid.IntRange(100, 200), rapid.IntRange(0, 2000)).Draw(t, "ms"))*time.Millisecond
			for due >= 0 && due <= next {
				now = due
				draw()
			}
			now = next
			v.State = State(rapid.IntRange(0, 3).Draw(t, "state"))
			rested := len(changes) == 0 || now-changes[len(changes)-1].at >= time.Second
			draw()
			if rested {
				require.Equal(t, v.State, shown, "the first change after a rest is at once")
			}
		}
		for range 10 {
			if due >= 0 {
				now = due
				draw()
			}
		}
		assert.Equal(t, v.State, shown, "the newest state is shown in the end")
		assert.Less(t, now-changes[len(changes)-1].at, time.Minute)
		for i := 6; i < len(changes); i++ {
			assert.Greater(t, changes[i].at-changes[i-6].at, time.Second, "seven changes are more than three flashes")
		}
	})
}

func caption(s State) string {
	small, _ := s.words()
	return spaced(small)
}

func TestBackdropClockSetBack(t *testing.T) {
	var b backdrop
	b.drawn(grounds{Closed}, noon)
	s, wait := b.next(grounds{Open}, noon.Add(-time.Hour))
	assert.Equal(t, grounds{Closed}, s)
	assert.Equal(t, pace, wait, "it never waits longer than that")
}
