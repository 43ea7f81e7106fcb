package cli

import (
	"slices"
	"strings"
	"unicode"

	"breakcue/cmd/internal/cue"
	"breakcue/timing/logbook"
)

// keyPlace goes on to the next cylinder and phase where no guide does: it is on the number pad.
const keyPlace = '*'

// keyWipe wipes out what was typed: there is nothing else for it on the number pad. After digits alone it makes them the number of an
// opening.
const keyWipe = '*'

// longestTyped is how much of a line is taken [bytes].
const longestTyped = 60

// key takes what is typed on the screen.
func (s *liveSession) key(k cue.Key) error {
	v := &s.run.hear.view
	if s.numberKey(k) {
		return nil
	}
	if v.Typed == "" || s.choosing() {
		if text, ok := commandOf(k); ok {
			if taken, err := s.command(text); taken || err != nil {
				return err
			}
		}
	}
	empty := v.Typed == ""
	switch {
	case k.Name == cue.Enter:
		text := v.Typed
		v.Typed = ""
		if strings.TrimSpace(text) == "" {
			return nil
		}
		return s.line(text)
	case k.Name == cue.Backspace, k.Name == cue.Delete:
		if r := []rune(v.Typed); len(r) > 0 {
			v.Typed = string(r[:len(r)-1])
		}
	case k.Name == cue.Escape && !empty:
		v.Typed = ""
	case k.Name == cue.Escape, empty && k.Rune == keyQuit:
		return errQuit
	case empty && k.Rune == keyThrow:
		return s.throwAway()
	case empty && k.Rune == keyPlace:
		s.nextPlace()
		return s.takeInHand()
	case k.Rune == keyWipe && strings.Trim(v.Typed, "0123456789") != "":
		v.Typed, v.Note = "", "wiped out; type it again"
	case unicode.IsPrint(k.Rune) && len(v.Typed) < longestTyped:
		v.Typed += string(k.Rune)
	}
	return nil
}

// commandOf is a key as the guide takes it: Enter is "". Escape is what shows and closes the other things that can be done: whoever
// wants out of a page must not end the work by it.
func commandOf(k cue.Key) (text string, ok bool) {
	switch {
	case k.Name == cue.Enter:
		return "", true
	case k.Name == cue.Escape:
		return string(keyMore), true
	case unicode.IsPrint(k.Rune):
		return string(k.Rune), true
	}
	return "", false
}

// line takes a reading, or a line that names cylinder and phase. Without a screen a line stands for a key, too.
func (s *liveSession) line(text string) error {
	word := strings.TrimSpace(text)
	if s.run.screen == nil {
		if taken, err := s.command(word); taken || err != nil {
			return err
		}
	}
	switch word {
	case "":
		return nil
	case string(keyQuit):
		return errQuit
	case string(keyThrow):
		return s.throwAway()
	case string(keyPlace):
		s.nextPlace()
		return s.takeInHand()
	}
	if taken, err := s.takeGap(text); taken || err != nil {
		return err
	}
	v := &s.run.hear.view
	typed, ok, err := s.typist.Line(text)
	if failed := s.takeInHand(); failed != nil {
		return failed
	}
	s.ask()
	if err != nil {
		v.Note = err.Error()
	}
	if !ok {
		return nil
	}
	if !s.run.env.InTTY {
		s.later = append(s.later, typed)
		return s.pair(false)
	}
	return s.read(typed)
}

// nextPlace goes on: as found, as left, the next cylinder.
func (s *liveSession) nextPlace() {
	p := &s.typist.Place
	if p.Phase == logbook.AsFound {
		p.Phase = logbook.AsLeft
	} else {
		all := s.sheets.Engine.Cylinders
		p.Cylinder, p.Phase = all[(slices.Index(all, p.Cylinder)+1)%len(all)], logbook.AsFound
	}
	s.typist.Named = true
	if s.hand != nil {
		s.hand.Measure(*p)
	}
	s.run.hear.view.Prompt, s.run.hear.view.Result = s.prompt(), ""
}
