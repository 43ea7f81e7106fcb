package cue

import (
	"errors"
	"io"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// simulated opens a screen in memory. Each view that was drawn comes out of shown.
func simulated(t *testing.T, w, h int) (tcell.SimulationScreen, *Screen, chan View) {
	sim := tcell.NewSimulationScreen("UTF-8")
	shown := make(chan View, 100)
	s, err := OpenScreen(Options{
		Screen: sized{sim, w, h},
		Getenv: func(string) string { return "" },
		Now:    func() time.Time { return noon },
		Shown:  func(v View, _ time.Time) { shown <- v },
	})
	require.NoError(t, err)
	return sim, s, shown
}

// sized has its size from the start.
type sized struct {
	tcell.SimulationScreen
	w, h int
}

func (s sized) Init() error {
	err := s.SimulationScreen.Init()
	s.SetSize(s.w, s.h)
	return err
}

func TestShowAndResize(t *testing.T) {
	sim, s, shown := simulated(t, 80, 24)
	s.Show(View{State: Closed})
	assert.Equal(t, Closed, (<-shown).State)
	s.Show(View{State: Lost})
	for (<-shown).State != Lost {
	}
	assert.Contains(t, contents(sim), "S I G N A L")

	sim.SetSize(20, 6)
	require.NoError(t, sim.PostEvent(tcell.NewEventResize(20, 6)))
	<-shown
	assert.Contains(t, contents(sim), "SIGNAL LOST")
	require.NoError(t, s.Close())
	require.NoError(t, s.Close(), "twice does no harm")
}

func TestKeys(t *testing.T) {
	sim, s, _ := simulated(t, 80, 24)
	for _, k := range []struct {
		key  tcell.Key
		r    rune
		mod  tcell.ModMask
		want Key
	}{
		{tcell.KeyRune, '7', 0, Key{Rune: '7'}},
		{tcell.KeyRune, ',', 0, Key{Rune: ','}},
		{tcell.KeyRune, 'é', 0, Key{Rune: 'é'}},
		{tcell.KeyEnter, 0, 0, Key{Name: Enter}},
		{tcell.KeyCtrlJ, 0, tcell.ModCtrl, Key{Name: Enter}},
		{tcell.KeyBackspace, 0, 0, Key{Name: Backspace}},
		{tcell.KeyBackspace2, 0, 0, Key{Name: Backspace}},
		{tcell.KeyDelete, 0, 0, Key{Name: Delete}},
		{tcell.KeyEscape, 0, 0, Key{Name: Escape}},
		{tcell.KeyCtrlC, 0, tcell.ModCtrl, Key{Name: Interrupt}},
	} {
		sim.InjectKey(tcell.KeyUp, 0, 0) // means nothing
		sim.InjectKey(tcell.KeyRune, 'x', tcell.ModAlt)
		sim.InjectKey(k.key, k.r, k.mod)
		assert.Equal(t, k.want, <-s.Keys())
	}
	require.NoError(t, s.Close())
	_, open := <-s.Keys()
	assert.False(t, open)
}

func TestTerminalLost(t *testing.T) {
	sim, s, _ := simulated(t, 80, 24)
	require.NoError(t, s.Err())
	require.NoError(t, sim.PostEvent(tcell.NewEventError(io.EOF)))
	<-s.Lost()
	assert.ErrorContains(t, s.Err(), "cue: the terminal is lost")
	_, open := <-s.Keys()
	assert.False(t, open)
	s.Show(View{State: Open})
	require.NoError(t, s.Close())
}

func TestNoTerminal(t *testing.T) {
	_, err := OpenScreen(Options{Screen: broken{}})
	assert.ErrorContains(t, err, "cue: taking over the terminal: it is on fire")
}

type broken struct{ tcell.Screen }

func (broken) Init() error { return errors.New("it is on fire") }

func TestAge(t *testing.T) {
	for ago, want := range map[time.Duration]string{
		-time.Second: "just now", 0: "just now", 999 * time.Millisecond: "just now", time.Second: "1 s ago",
		59999 * time.Millisecond: "59 s ago", time.Minute: "1 min ago", 119 * time.Second: "1 min ago", 2 * time.Hour: "120 min ago",
	} {
		v := View{State: Open, Number: 1, OpenedAt: noon}
		now := noon.Add(ago)
		assert.Equal(t, want, v.age(now))
		tick := v.ages(now)
		assert.Positive(t, tick)
		assert.NotEqual(t, want, v.age(now.Add(tick).Add(max(-ago, 0))), "%v: after the tick it says something new", ago)
		assert.Equal(t, want, v.age(now.Add(tick-1)), "%v: before it the same", ago)
	}
	assert.Zero(t, View{State: Closed, Number: 1, OpenedAt: noon}.ages(noon), "nothing ages once the points have closed")
}
