package cue

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// bothScenes have two sets of points, at the time noon.
func bothScenes() []scene {
	base := View{
		Heading: "cable in line, tones 1010 and 2730 Hz, device cable",
		Health:  "left: points closed -14 dBFS, points open -61 dBFS  right: points closed -15 dBFS, points open -60 dBFS",
		Record:  "recording take-01.wav 0:12",
		Keys:    "x: throw the newest opening away   q: end",
		Sets:    [2]Points{{Name: "left", State: Closed}, {Name: "right", State: Closed}},
	}
	with := func(name string, change func(*View)) scene {
		v := base
		change(&v)
		return scene{"both-" + name, v}
	}
	open := func(s *Points, number int, ago time.Duration) {
		s.State, s.Number, s.OpenedAt = Open, number, noon.Add(-ago)
	}
	return []scene{
		with("closed", func(v *View) { v.Sets[1].Number = 4 }),
		with("open", func(v *View) {
			v.Sets[0].Number = 2
			open(&v.Sets[1], 3, 4*time.Second)
			v.Sets[1].Provisional = true
		}),
		with("unknown-lost", func(v *View) {
			v.Sets[0].Name, v.Sets[1].Name = "set 1", "set 2"
			v.Sets[0].State, v.Sets[1].State = Unknown, Lost
			v.Warning = "set 2: what comes back fits neither state: check the clips"
		}),
		with("task", func(v *View) {
			open(&v.Sets[0], 12, 300*time.Millisecond)
			v.Sets[1].Thrown = 1
			v.Task = "[ ] check the first set again: back, and forward; it must still open at 2.30 (step 14 of 20: set the timing)"
			v.Keys = "Enter: tick, go on  +: whole step done  -: back  *: what else"
		}),
		with("reading", func(v *View) {
			open(&v.Sets[0], 7, 12*time.Second)
			v.Sets[0].Provisional = true
			v.Hand, v.Prompt, v.Typed = 1, "Dial reading, left, as found", "2.03/1.9"
			v.Keys = "Enter: take the reading  *: what else  x: throw opening away"
		}),
		with("result", func(v *View) {
			*v = measured(*v)
			v.Sets[0].Number, v.Hand = 7, 1
			open(&v.Sets[1], 8, 75*time.Second)
		}),
		with("page", func(v *View) {
			open(&v.Sets[1], 8, 75*time.Second)
			v.Page, v.Keys = safePage(), pageKeys
			v.Page.Current = 2
		}),
	}
}

// TestBothScreens holds two sets of points on screens of many sizes against golden files.
func TestBothScreens(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {120, 40}, {60, 20}, {40, 15}, {80, 12}, {20, 6}} {
		for _, sc := range bothScenes() {
			name := fmt.Sprintf("%s-%dx%d", sc.name, size[0], size[1])
			t.Run(name, func(t *testing.T) {
				sim, s, shown := simulated(t, size[0], size[1])
				s.Show(sc.view)
				<-shown
				golden(t, name+".txt", contents(sim))
				require.NoError(t, s.Close())
			})
		}
	}
}

// Each set of points has its own background, and what is around them keeps one: a state is seen from afar by what is on its side.
func TestEachSetHasItsBackground(t *testing.T) {
	colours := paletteFor(256)
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		sim, s, shown := simulated(t, size[0], size[1])
		s.Show(bothScenes()[1].view)
		<-shown
		cells, w, h := sim.GetContents()
		first, second := 3*w+2, 3*w+w-3
		if w < sideBySide {
			second = (h-6)*w + w - 3
		}
		paper := func(i int) int32 {
			_, paper, _ := cells[i].Style.Decompose()
			return paper.Hex()
		}
		assert.Equal(t, colours[Closed].paper.Hex(), paper(first), "%v", size)
		assert.Equal(t, colours[Open].paper.Hex(), paper(second), "%v", size)
		assert.Equal(t, colours[Closed].paper.Hex(), paper(w*h-1), "%v", size)
		require.NoError(t, s.Close())
	}
}

// The states of both sets are there in words or in big letters at every size, each with its name, and nothing is drawn past the edge.
func TestBothAreNamed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(24, 200).Draw(t, "w"), rapid.IntRange(6, 70).Draw(t, "h")
		v := bothScenes()[rapid.IntRange(0, 6).Draw(t, "scene")].view
		var p painter
		f, _, _ := p.frame(v, noon, w, h)
		text := f.String()
		for _, s := range v.Sets {
			small, big := s.State.words()
			d, _ := spell(strings.ToUpper(s.Name))
			assert.True(t, strings.Contains(text, s.Name) || strings.Contains(text, rowOf(d)) || strings.Contains(text, rowOf(d.grown(2, 1))), "%dx%d: no %s in\n%s", w, h, s.Name, text)
			assert.True(t, strings.Contains(text, small+" "+big) || strings.Contains(text, spaced(small)) || strings.Contains(text, s.Name+": "+small), "%dx%d\n%s", w, h, text)
		}
	})
}

// rowOf is the first row of dots as it stands on the screen.
func rowOf(d dots) string {
	f := newFrame(d.w, d.rows())
	f.stamp(d, 0, 0, false)
	row, _, _ := strings.Cut(f.String(), "\n")
	return strings.TrimSpace(row)
}

// TestFlashesOfBoth: however both sets open and close, their backgrounds change no more often in sum than that of one.
func TestFlashesOfBoth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p painter
		var changes []time.Duration
		var shown grounds
		v := bothScenes()[0].view
		now, due := time.Duration(0), time.Duration(-1)
		draw := func() {
			_, back, again := p.frame(v, noon.Add(now), 80, 24)
			if len(changes) == 0 || back != shown {
				shown, changes = back, append(changes, now)
			}
			p.back.drawn(back, noon.Add(now))
			if due = -1; again > 0 {
				due = now + again
			}
		}
		for range rapid.IntRange(1, 60).Draw(t, "states") {
			next := now + time.Duration(rapid.IntRange(0, 200).Draw(t, "ms"))*time.Millisecond
			for due >= 0 && due <= next {
				now = due
				draw()
			}
			now = next
			v.Sets[rapid.IntRange(0, 1).Draw(t, "set")].State = State(rapid.IntRange(0, 3).Draw(t, "state"))
			draw()
		}
		for range 10 {
			if due >= 0 {
				now = due
				draw()
			}
		}
		assert.Equal(t, v.grounds(), shown, "the newest states are shown in the end")
		for i := 6; i < len(changes); i++ {
			assert.Greater(t, changes[i]-changes[i-6], time.Second, "seven changes are more than three flashes")
		}
	})
}

// TestLinesOfBoth: lines say of which set they tell.
func TestLinesOfBoth(t *testing.T) {
	now := noon
	var out strings.Builder
	l := NewLines(&out, func() time.Time { return now })
	v := View{Sets: [2]Points{{Name: "left"}, {Name: "right"}}}
	show := func(at time.Duration, change func()) {
		now = noon.Add(at)
		change()
		l.Show(v)
	}
	show(0, func() {})
	show(time.Second, func() { v.Sets[1].State = Closed })
	show(2*time.Second, func() {
		v.Sets[1] = Points{Name: "right", State: Open, Number: 1, OpenedAt: now.Add(-5 * time.Millisecond), Provisional: true}
	})
	show(3*time.Second, func() { v.Sets[0].State, v.Sets[1].State, v.Sets[1].Provisional = Closed, Closed, false })
	show(4*time.Second, func() { v.Sets[0] = Points{Name: "left", State: Open, Number: 2, OpenedAt: now} })
	show(5*time.Second, func() { v.Sets[0].Number, v.Sets[0].Thrown, v.Sets[0].State = 0, 1, Lost })
	assert.Equal(t, `0.000 s  left: not known yet whether the points are open or closed
0.000 s  right: not known yet whether the points are open or closed
1.000 s  right: points closed
1.995 s  right: points open, number 1, counts when the points close again
3.000 s  left: points closed
3.000 s  right: points closed
3.000 s  right: number 1 counts
4.000 s  left: points open, number 2
5.000 s  left: signal lost: what is heard fits neither points open nor points closed
5.000 s  left: openings thrown away: 1
`, out.String())
}
