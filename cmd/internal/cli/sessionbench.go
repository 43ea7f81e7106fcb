package cli

import (
	"fmt"

	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing"
	"breakcue/timing/logbook"
	"breakcue/timing/sheet"
)

// practisesDemo tells that somebody practises with the engine of the demonstration: no sheet is named.
func (f *sessionFlags) practisesDemo() bool { return f.bench && f.engine == "" && f.dial == "" }

// loadSheets reads the sheets that the flags name; to practise, those of the demonstration will do.
func (f *sessionFlags) loadSheets() (session.Sheets, error) {
	if f.practisesDemo() {
		return session.ParseSheets("demo/engine.toml", demoEngine, "demo/dial.toml", demoDial)
	}
	sheets, err := session.LoadSheets(f.engine, f.dial)
	if err != nil {
		err = sheetError(f.engine, f.dial, err)
	}
	return sheets, err
}

// wired is how the cable is wired: as given, or where --wiring is not, across the points if a source coil stays on them.
func (f *sessionFlags) wired(s session.Sheets, given detect.Wiring) detect.Wiring {
	if f.rec.wiring == "" && s.Engine.SourceCoil == sheet.StaysOn {
		return detect.Shunt
	}
	return given
}

// practise puts the built-in bench in the place of the sound cards, and a hand before it.
func (s *liveSession) practise(env Env) (Env, error) {
	hand, err := newBenchHand(s.sheets, demoSeed)
	if err != nil {
		return env, &Failure{Code: ExitFailed, Err: err, Hint: noFollowing}
	}
	s.hand = hand
	env.Cards = builtInCards(env, s.flags.live.wired, hand, demoSeed)
	return env, nil
}

// turn tells the hand at the bench what the step at hand wants.
func (s *liveSession) turn() {
	if s.hand == nil {
		return
	}
	st, _, _ := s.guide.Step()
	_, read := s.guide.Item()
	want := string(st.Work) + st.ID
	if st.Work == session.ByRead && !read || st.Work == session.ByList || st.Work == session.ByTick {
		want = ""
	}
	if st.FindsTDC() && s.measured {
		s.hand.WrongTurn(false) // the crank was turned once more
	}
	if want == s.turning {
		return
	}
	s.turning = want
	switch {
	case want == "":
		s.hand.Rest()
	case st.Work == session.ByRead:
		s.hand.Measure(st.Place)
		s.measured = true
	case st.ID == session.SetStep:
		s.hand.Set(logbook.Place{Cylinder: s.sheets.Engine.Cylinders[0], Phase: logbook.AsLeft})
	default:
		s.hand.Watch()
	}
}

// showDial shows what the dial of the bench does to somebody who is to type it: there is none to look at.
func (s *liveSession) showDial() {
	if s.hand == nil || !s.asking() {
		return
	}
	h := s.run.hear
	v := &h.view
	if v.Task = ""; s.hand.Dial() != "" && h.number(s.newest()) > h.number(s.typedOff) { // not of one that was thrown away since
		v.Task = s.hand.Dial() + " is on the dial of the bench." // what is to be typed is not cut off where a line is short
	}
	s.run.hear.refresh()
}

// sayTruth tells somebody who has practised how far from the mark the points of the bench really opened.
func (s *liveSession) sayTruth(env Env) {
	if s.hand == nil {
		return
	}
	for _, c := range s.sheets.Engine.Cylinders {
		for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
			at := logbook.Place{Cylinder: c, Phase: phase}
			if off, n := s.hand.Truth(at); n > 0 {
				fmt.Fprintf(env.Err, "breakcue: the truth of the bench: %s, %s: %s\n", session.Printable(c), phaseWords(phase), timing.Words(off))
			}
		}
	}
}
