package cli

import (
	"fmt"
	"unicode/utf8"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// guideFace is which page of the guide is shown.
type guideFace uint8

const (
	faceStep  guideFace = iota // the step at hand
	faceMore                   // what else can be done
	faceSteps                  // all steps, to choose one by its number
)

// guided is a live session that is led through its steps. All of it can be done by the keys of a number pad.
type guided struct {
	*session.Guide
	face guideFace
	step string // ID of the step that was arrived at; empty: it is to be arrived at anew

	round logbook.Place // of which TDC is looked for anew at the other turn; empty: of none

	gaps session.Gaps // typed so far
}

// number returns the number of the step at hand, or of the one that is gone on with.
func (g *guided) number() int {
	_, n, _ := g.Step()
	if n == 0 {
		_, n, _ = g.Following()
	}
	return n
}

// guides tells that the session is to be led through its steps: somebody is there who can tick them.
func (f *sessionFlags) guides(env Env) bool {
	return !f.noGuide && !f.asJSON && f.readings == "" && env.InTTY
}

// plan returns the steps of the job, or nothing for a session without a guide.
func (s *liveSession) plan(env Env) ([]session.Step, error) {
	if !s.flags.guides(env) {
		return nil, nil
	}
	steps, err := session.Steps(s.sheets)
	if err != nil {
		return nil, &Failure{Code: ExitFailed, Err: err, Hint: noFollowing + "; --no-guide works without the steps"}
	}
	return steps, nil
}

// noFollowing is what to do about a dial that cannot follow the piston.
const noFollowing = "press the dial in further and say so in its sheet (preload), or use one of greater range"

// lead begins to lead through the steps, or goes on where they were left.
func (s *liveSession) lead(steps []session.Step) error {
	if steps == nil {
		return nil
	}
	g := &guided{Guide: session.NewGuide(s.queue, steps)}
	if s.before.dir != "" && !g.Resume(s.before.entries) && s.before.read() {
		return nil // it was begun without a guide; one that was ended before its first step was not
	}
	g.Prepare = func(st *session.Step) {
		if st.ID == session.SetStep {
			if r, err := s.report(); err == nil {
				st.Do = append(session.SetItems(r), st.Do...)
			}
		}
		switch {
		case st.Work == session.ByRead:
			g.round = logbook.Place{}
		case st.Place == g.round && st.FindsTDC():
			st.Do = append([]string{"take the dial out, then turn the crank once round by hand"}, st.Do...)
		}
	}
	s.guide = g
	s.run.hear.view.Note = ""
	if s.hand != nil && s.before.dir == "" {
		s.hand.WrongTurn(true) // where there is one: what to do then is to be found out, too
	}
	if g.Over() {
		g.face = faceSteps // it was finished: more can be done all the same
		return s.arrive()
	}
	if err := g.Start(); err != nil {
		return err
	}
	return s.arrive()
}

// Keys of the guide, besides Enter and those of a session.
const (
	keyMore  = '*' // what else can be done; it begins no reading
	keyWhole = '+' // the whole step is done
	keyBack  = '-' // one item back
)

// isLine tells that something typed is more than a key.
func isLine(typed string) bool { return utf8.RuneCountInString(typed) > 1 }

// command takes a key of the guide, "" for Enter; ok is false when it is none of its own.
func (s *liveSession) command(key string) (ok bool, err error) {
	g := s.guide
	if g == nil {
		return false, nil
	}
	v := &s.run.hear.view
	v.Note = ""
	if g.face == faceMore && isLine(key) { // none of the choices: it is kept
		g.face = faceStep
		if err := s.arrive(); err != nil {
			return false, err
		}
	}
	switch g.face {
	case faceMore:
		ok, err = true, s.choose(key)
	case faceSteps:
		ok, err = s.goTo(key)
	default:
		ok, err = s.atStep(key)
	}
	if err == nil && ok {
		err = s.arrive()
	}
	return ok, err
}

// atStep takes a key while the step at hand is shown.
func (s *liveSession) atStep(key string) (ok bool, err error) {
	g := s.guide
	v := &s.run.hear.view
	st, _, _ := g.Step()
	_, read := g.Item()
	read = read && st.Work == session.ByRead
	switch {
	case key == string(keyMore):
		g.face = faceMore
		return true, nil
	case key == string(keyQuit), key == string(keyThrow):
		return false, nil
	case read && key == "":
		v.Note = "type the reading of the dial; * shows what else can be done, the next step too"
		return true, nil
	case read:
		return false, nil // of a reading
	case key == "":
		return true, g.Next()
	case key == string(keyBack):
		return true, g.Undo()
	case key == string(keyWhole) && st.Work == session.ByRead:
		g.Read()
		return true, nil
	case key == string(keyWhole):
		return true, s.finishStep()
	case s.beginsGap(key), isLine(key):
		return false, nil // a line that means something else: it is kept
	}
	v.Note = "Enter ticks and goes on; * shows what else can be done"
	return true, nil
}

// finishStep ends the step at hand, or says why it cannot be ended.
func (s *liveSession) finishStep() error {
	ok, err := s.guide.Finish()
	if err == nil && !ok {
		s.run.hear.view.Note = fmt.Sprintf("tick each by itself: %d left", len(s.guide.Open()))
	}
	return err
}

// arrive shows where the guide stands. At a step that is new it sees to it that only openings of a measurement count as passes.
func (s *liveSession) arrive() error {
	g := s.guide
	if g.Over() && g.face != faceSteps {
		return errQuit
	}
	st, _, _ := g.Step()
	h := s.run.hear
	if st.ID != g.step {
		if err := s.release(false); err != nil {
			return err
		}
		g.step = st.ID
		h.standing, h.view.Result = "", ""
		if st.ID == session.CableStep {
			h.view.Note = s.run.flags.levels.advice()
		}
		if len(st.Asks) > 0 {
			if err := s.knowGaps(); err != nil {
				return err
			}
		}
		s.rec.Measuring(s.measuring())
		if st.Work == session.ByRead {
			s.typist.Place, s.typist.Named = st.Place, true
			if err := s.stand(st.Place, ""); err != nil {
				return err
			}
		}
	}
	if err := s.takeInHand(); err != nil {
		return err
	}
	s.turn()
	h.apart, h.unplugged = !s.measuring(), !s.plugged()
	s.show()
	h.health()
	h.refresh()
	return nil
}

// plugged tells that by the steps the cable is on the points.
func (s *liveSession) plugged() bool {
	n := s.guide.number()
	return n >= s.guide.Number(session.CableStep) && n < s.guide.Number(session.TogetherStep)
}

// measuring tells that an opening counts as a pass: in a step that measures, and after it where a reading still waits for one. Who
// goes on at once has not taken it back.
func (s *liveSession) measuring() bool {
	if s.guide == nil {
		return true
	}
	st, _, _ := s.guide.Step()
	return st.Work == session.ByRead || s.held != nil
}

// asking tells that a reading is asked for.
func (s *liveSession) asking() bool {
	if s.guide == nil {
		return true
	}
	st, _, _ := s.guide.Step()
	_, read := s.guide.Item()
	return s.guide.face == faceStep && st.Work == session.ByRead && read
}

// choosing tells that keys are for the guide, whatever was typed.
func (s *liveSession) choosing() bool { return s.guide != nil && s.guide.face != faceStep }

// sayLeft tells somebody who leaves what is not put back yet, and how to go on.
func (s *liveSession) sayLeft(env Env) {
	if open := s.guide.Off(); len(open) > 0 {
		fmt.Fprintln(env.Err, "breakcue: not ticked as put back yet:")
		for _, one := range open {
			fmt.Fprintf(env.Err, "  [ ] %s\n", one)
		}
	}
	steps, _ := s.guide.Steps()
	n, of := s.guide.number(), len(steps)
	st := steps[n-1]
	fmt.Fprintf(env.Err, "breakcue: left at step %d of %d, %s; go on with: %s\n", n, of, session.Printable(st.Title), s.flags.resumeCommand())
}

// resumeCommand is the command that goes on with the newest session that was not finished.
func (f *sessionFlags) resumeCommand() string {
	out := "breakcue session --resume"
	if f.bench {
		out += " --bench"
	}
	if f.logDir != "" {
		out += " --dir " + shellWord(f.logDir)
	}
	return out
}
