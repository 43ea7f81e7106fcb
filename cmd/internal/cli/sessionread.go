package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// heldReading is a reading whose opening is on the screen, but may still be taken back: it waits until it is known.
type heldReading struct {
	typed session.Typed
	event int64 // ID of the opening
	until int64 // frame up to which it waits
}

// settling is how long a reading waits for its opening to settle. Hammering may put that off again and again.
const settling = 10 * time.Second

// read takes a reading that was typed by hand.
func (s *liveSession) read(typed session.Typed) error {
	if err := s.release(true); err != nil {
		return err
	}
	if typed.Number == 0 && session.IsLastClosed(typed.Text) {
		return s.lastClosed(typed)
	}
	if id := s.unsettled(typed.Number); id != 0 {
		r := s.run
		s.held = &heldReading{typed: typed, event: id, until: r.follower.Frame() + int64(settling.Seconds()*float64(r.rate))}
		r.hear.view.Note = fmt.Sprintf("%s is taken as soon as the opening has settled", typed.Text)
		return nil
	}
	return s.takeAny(typed)
}

// takeAny takes a reading of the newest opening, or of the one that it names.
func (s *liveSession) takeAny(typed session.Typed) error {
	if typed.Number > 0 {
		return s.readNumbered(typed)
	}
	return s.take(typed)
}

// newest returns the ID of the newest opening that counts, of the points at hand; 0 for none.
func (s *liveSession) newest() int64 { return s.run.hear.last() }

// unsettled returns the ID of the opening with a number on the screen when it is not in the journal yet, 0 otherwise; number 0 is the
// newest that counts.
func (s *liveSession) unsettled(number int) int64 {
	id := s.newest()
	if order := s.run.hear.order; number > len(order) {
		return 0
	} else if number > 0 {
		id = order[number-1]
	}
	if id == takenBack || slices.Contains(s.ids, id) {
		return 0
	}
	return id
}

// release takes the reading that waits, once its opening is in the journal, or was taken back, or has not settled for long; now: in any
// case. One that was thrown away meanwhile is still its opening.
func (s *liveSession) release(now bool) error {
	h := s.held
	if h == nil {
		return nil
	}
	pending := !slices.Contains(s.ids, h.event) && slices.Contains(s.run.hear.order, h.event)
	if pending && !now && s.run.follower.Frame() < h.until {
		return nil
	}
	if pending { // then it is of none: never of the opening before
		h.typed.Number = s.run.hear.number(h.event)
	}
	if h.typed.Number == 0 && s.elsewhere(h.typed.Place) {
		h.typed.Number = s.run.hear.number(h.event) // the next reading is of other points
	}
	err := s.takeAny(h.typed)
	s.held = nil
	s.rec.Measuring(s.measuring())
	return err
}

// take writes a reading of the newest opening, and shows what it says.
func (s *liveSession) take(typed session.Typed) error {
	v := &s.run.hear.view
	s.rec.At(typed.Place)
	if s.measuring() {
		if err := s.passOver(typed.Place); err != nil {
			return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
		}
	}
	_, _, _, pending := s.rec.Next()
	said := session.Completed(s.rec.Half(), typed.Text)
	unusable, err := s.rec.Reading(typed)
	switch {
	case err != nil:
		return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
	case unusable != "" && unusable != session.NoReading:
		v.Note = "kept, but not used: " + unusable
		if pending {
			s.rec.Again()
		}
		return nil
	case !pending:
		v.Note = fmt.Sprintf("%s is kept, but there is no new opening that it could belong to", typed.Text)
		s.ask() // for no first half any more
		return nil
	}
	v.Note = ""
	if err := s.stand(typed.Place, said); err != nil {
		return err
	}
	s.askAgain(typed.Place)
	if s.hand != nil {
		s.hand.Next()
		s.typedOff = s.newest()
	}
	return nil
}

// readNumbered takes a reading for an opening by the number that the screen gave it, "3*2.03/1.98".
func (s *liveSession) readNumbered(typed session.Typed) error {
	v := &s.run.hear.view
	var opening int64
	if order := s.run.hear.order; typed.Number <= len(order) {
		opening = int64(slices.Index(s.ids, order[typed.Number-1]) + 1)
	}
	unusable, err := s.rec.ReadingOf(opening, typed)
	if err != nil {
		return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
	}
	place, ok := s.rec.PlaceOf(opening)
	if !ok {
		place = typed.Place
	}
	if err := s.stand(place, fmt.Sprintf("opening %d, %s", typed.Number, strings.TrimSpace(typed.Text))); err != nil {
		return err
	}
	s.ask()
	if v.Note = ""; unusable != "" && unusable != session.NoReading {
		v.Note = "kept, but not used: " + unusable
	}
	return nil
}

// askAgain asks for the next reading after one at a place, unless its step has been left meanwhile, or something else is to be chosen.
func (s *liveSession) askAgain(at logbook.Place) {
	s.ask()
	if at != s.typist.Place || !s.asking() && !s.choosing() {
		s.run.hear.view.Result = "" // it is not of what is on the screen
	}
}

// ask asks for a reading, where one is asked for.
func (s *liveSession) ask() {
	if s.asking() {
		s.run.hear.view.Prompt = s.prompt()
	}
}

// passOver notes for the openings before the newest that no reading was taken.
func (s *liveSession) passOver(at logbook.Place) error {
	for s.rec.Waiting() > 1 {
		if err := s.rec.PassOver(at); err != nil {
			return err
		}
	}
	return nil
}

// lastClosed takes the last reading with the points closed, which waits for the first open one.
func (s *liveSession) lastClosed(typed session.Typed) error {
	v := &s.run.hear.view
	unusable, err := s.rec.Reading(typed)
	if err != nil {
		return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
	}
	v.Note = ""
	if unusable != "" {
		v.Note = "kept, but not used: " + unusable
	}
	s.ask()
	return nil
}

// stand shows what the readings of a cylinder and phase say, in large figures too; said, if any, comes before it. It fails where
// something that was heard could not be written.
func (s *liveSession) stand(at logbook.Place, said string) error {
	if err := s.queue.Wait(); err != nil {
		return err
	}
	h := s.run.hear
	r, err := s.written()
	brief := ""
	if err != nil {
		brief = err.Error()
	}
	h.view.Result = ""
	if ph, ok := r.Phase(at); ok && ph.N > 0 {
		move := ""
		if r.Advice != nil && ph.Verdict == timing.OutOfTolerance.String() {
			move = r.Advice.Brief(at.Cylinder)
		}
		brief, h.view.Result = ph.Brief(move), ph.Large()
		if passes := pump.Count(ph.N, "pass", "passes"); said != "" { // the result is their mean, not that of the newest
			said = fmt.Sprintf("%s (%s)", said, passes)
		} else {
			said = passes
		}
	}
	switch {
	case said != "" && brief != "":
		brief = said + ": " + brief
	case brief == "":
		brief = said
	}
	h.standing = brief
	h.health()
	return nil
}

// report works out the report when everything is written that was heard and typed.
func (s *liveSession) report() (session.Report, error) {
	if err := s.queue.Wait(); err != nil {
		return session.Report{}, err
	}
	return s.written()
}

// written works out the report from what the journal holds by now.
func (s *liveSession) written() (session.Report, error) {
	j, err := logbook.Read(s.journal.Dir())
	if err != nil {
		return session.Report{}, err
	}
	return session.FromJournal(j)
}

// prompt is what a reading is asked with.
func (s *liveSession) prompt() string {
	at := fmt.Sprintf("%s, %s", s.typist.Place.Cylinder, phaseWords(s.typist.Place.Phase))
	out := "Dial reading, " + at
	if s.rec != nil && s.rec.Half() != "" {
		out = fmt.Sprintf("%s; first open? %s", s.rec.Half(), at)
	}
	return out
}
