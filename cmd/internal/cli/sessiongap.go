package cli

import (
	"fmt"
	"strings"

	"breakcue/cmd/internal/session"
)

// keysGap is what the keys do where the gap of the points is asked for.
const keysGap = "digits: the gap  Enter: tick, go on  +: step done  -: back  *: what else"

// asks are the questions of the step at hand, while it is shown.
func (s *liveSession) asks() []session.Ask {
	if s.guide == nil || s.guide.face != faceStep {
		return nil
	}
	st, _, _ := s.guide.Step()
	return st.Asks
}

// beginsGap tells that a key begins the gap that is asked for: no digit means anything else there.
func (s *liveSession) beginsGap(key string) bool {
	return len(s.asks()) > 0 && strings.ContainsAny(key[:min(len(key), 1)], "0123456789.,")
}

// knowGaps finds out which gaps were typed.
func (s *liveSession) knowGaps() error {
	r, err := s.report()
	s.guide.gaps = r.Gaps
	return err
}

// dueGap returns the index of the question that what is typed next answers: the first that has no answer, or else the one that was
// answered last.
func (s *liveSession) dueGap(asks []session.Ask) (at int, typed *session.GapReading) {
	for i, a := range asks {
		got := s.guide.gaps.Of(a.Set, a.Phase)
		if got == nil {
			return i, nil
		}
		if typed == nil || got.Entry > typed.Entry {
			at, typed = i, got
		}
	}
	return at, typed
}

// askGap shows the question for a gap, or what the last one that was typed is beside the specified one: that first, for a narrow screen
// cuts the rest off.
func (s *liveSession) askGap(asks []session.Ask) {
	v := &s.run.hear.view
	at, typed := s.dueGap(asks)
	v.Keys = keysGap
	switch {
	case typed == nil && s.hand != nil:
		v.Task = s.sheets.SpecifiedGap() + " is the feeler that drags at the bench."
		fallthrough
	case typed == nil:
		v.Prompt = asks[at].Question
	case len(asks) == 1:
		v.Prompt = fmt.Sprintf("%s, %s; type it again to correct it", typed.Words, asks[at].Phase.Words())
	default:
		first := s.guide.gaps.Of(asks[0].Set, asks[0].Phase)
		v.Prompt = fmt.Sprintf("set %d, %s; %d*%s corrects set %d", asks[at].Set, typed.Words, asks[0].Set, session.Printable(first.Text), asks[0].Set)
	}
}

// takeGap takes a line as the gap that is asked for; ok is false where none is, and for a line that begins as those do that name a
// cylinder.
func (s *liveSession) takeGap(text string) (ok bool, err error) {
	asks := s.asks()
	if len(asks) == 0 || strings.HasPrefix(strings.TrimSpace(text), "#") {
		return false, nil
	}
	at, _ := s.dueGap(asks)
	d := s.sheets.Gap(asks, at, text)
	if _, err := s.queue.Append(d); err != nil {
		return true, fmt.Errorf("gap %q is not in the log: %w", d.Text, err)
	}
	if err := s.knowGaps(); err != nil {
		return true, err
	}
	v := &s.run.hear.view
	s.show()
	got := s.guide.gaps.Of(d.Set, d.Phase)
	switch _, all := s.dueGap(asks); {
	case d.Unusable != "" || got == nil:
		v.Note = "kept, but not used: " + d.Unusable
	case all != nil:
		v.Note = d.Text + " is taken" // the rest is asked with
	default:
		v.Note = fmt.Sprintf("set %d, %s", d.Set, got.Words)
	}
	s.run.hear.refresh()
	return true, nil
}
