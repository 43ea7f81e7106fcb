package cli

import (
	"fmt"
	"strconv"
	"strings"

	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// goTo takes what is typed where a step is chosen by its number.
func (s *liveSession) goTo(key string) (ok bool, err error) {
	g := s.guide
	v := &s.run.hear.view
	typed := v.Typed
	switch {
	case key == string(keyMore):
		g.face, v.Typed = faceStep, ""
		return true, nil
	case key == string(keyQuit):
		return false, nil
	case key != "":
		typed = key // a line
	}
	v.Typed = ""
	if typed == "" {
		g.face = faceStep
		return true, nil
	}
	n, err := strconv.Atoi(strings.TrimSpace(typed))
	if err == nil {
		g.round = logbook.Place{}
		ok, err = g.GoTo(n)
	}
	if !ok {
		_, _, of := g.Step()
		v.Note = fmt.Sprintf("there is no step %q: 1 to %d", typed, of)
		return true, nil
	}
	if _, at, _ := g.Step(); err == nil && at != n {
		v.Note = fmt.Sprintf("step %d comes after this one: %d left to tick", n, len(g.Open()))
	}
	g.face, g.step = faceStep, ""
	return true, err
}

// numberKey takes a key while the number of a step is typed.
func (s *liveSession) numberKey(k cue.Key) (ok bool) {
	v := &s.run.hear.view
	switch {
	case s.guide == nil || s.guide.face != faceSteps:
		return false
	case k.Name == cue.Backspace, k.Name == cue.Delete:
		v.Typed = v.Typed[:max(len(v.Typed)-1, 0)]
	case k.Rune >= '0' && k.Rune <= '9' && len(v.Typed) < 4:
		v.Typed += string(k.Rune)
	default:
		return false
	}
	return true
}

// deed is one thing that can be done besides going on item by item.
type deed struct {
	key  rune
	text string
	do   func() error
}

// choices are what can be done now. Each has the same key always.
func (s *liveSession) choices() []deed {
	g := s.guide
	st, n, _ := g.Step()
	steps, _ := g.Steps()
	quiet := func(_ bool, err error) error { return err }
	last := "this step is done: end the job"
	if next, at, ok := g.Following(); ok {
		last = fmt.Sprintf("this step is done: go on to %d, %s", at, next.Title)
	}
	out := []deed{
		{'1', last, s.finishStep},
		{'2', "this step again, from its beginning", g.Again},
	}
	if n > 1 {
		out = append(out, deed{'3', fmt.Sprintf("back to %d, %s", n-1, steps[n-2].Title), g.Back})
	}
	if st.Work != session.ByTick {
		out = append(out, deed{'4', "skip this step", func() error { return quiet(g.Skip()) }})
	}
	out = append(out,
		deed{'5', "another step, by its number", func() error { g.face = faceSteps; return nil }},
		deed{'6', "throw the newest opening away", s.throwAway})
	if s.sheets.SilentTDC() && st.Place != (logbook.Place{}) {
		out = append(out, deed{'7', "no opening came: dial out, crank once round, find TDC again", func() error {
			g.round = st.Place
			return quiet(g.TurnOnce())
		}})
	}
	if set := g.Number(session.SetStep); st.Work == session.ByRead && st.Place.Phase == logbook.AsLeft && set > 0 {
		out = append(out, deed{'8', fmt.Sprintf("not right yet: back to %d, %s", set, steps[set-1].Title), func() error { return quiet(g.GoTo(set)) }})
	}
	return append(out, deed{'9', "leave it for now, and go on here another time", func() error { return errQuit }})
}

// choose does what a key stands for; Enter goes on.
func (s *liveSession) choose(key string) error {
	g := s.guide
	if key == "" {
		key = "1"
	}
	if key == string(keyMore) || key == string(keyQuit) {
		g.face = faceStep
		return nil
	}
	for _, c := range s.choices() {
		if key == string(c.key) {
			g.face, g.step = faceStep, ""
			return c.do()
		}
	}
	s.run.hear.view.Note = "there is no " + strconv.Quote(key) + " here"
	return nil
}
