package session

import (
	"fmt"
	"strconv"
	"strings"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// numberSign parts the number of an opening from its reading: it is on the number pad, and in no reading.
const numberSign = '*'

// numberedTyped takes the number of an opening off a line: "3*2.03/1.98". A number that no opening can have, and one that nothing
// follows, stays in the text.
func numberedTyped(t Typed) Typed {
	number, reading, ok := strings.Cut(t.Text, string(numberSign))
	number = strings.TrimSpace(number)
	if !ok || number == "" || strings.Trim(number, "0123456789") != "" {
		return t
	}
	t.named = true
	if n, err := strconv.Atoi(number); err == nil && n > 0 {
		t.Number = n
	}
	if reading = strings.TrimSpace(reading); t.Number > 0 && reading != "" {
		t.Text = reading
	}
	return t
}

// numbered tells that an opening was named, be there one of that number or not.
func (t Typed) numbered() bool { return t.named || t.Number != 0 }

// Whole returns how many approaches take the readings, each once: a last one with the points closed is completed by the next,
// and one for an opening by its number may replace another.
func Whole(typed []Typed) int {
	read, next := map[int]bool{}, 1
	var half Typed // that names an opening
	for _, t := range typed {
		n := t.Number
		if !t.numbered() && half.Place == t.Place {
			n = half.Number
		}
		if n == half.Number || n == 0 {
			half = Typed{}
		}
		switch {
		case IsLastClosed(t.Text):
			if n > 0 {
				half = Typed{Number: n, Place: t.Place}
			}
			continue
		case n == 0 && t.numbered():
			continue
		case n == 0:
			for read[next] {
				next++
			}
			n = next
		}
		read[n] = true
	}
	return len(read)
}

// ReadingOf writes the reading of the approach that an opening of the take belongs to, in any order. One that it has already is
// corrected as replaced, and stays in the journal; "-" takes it away the same way. The string says why the reading cannot be
// used, or is empty: then an older one goes on being used. An opening that was not heard (0, say) makes it unusable too.
//
// The place is that of the reading before, if there was one, for that is where the pass was made; else it is t.Place.
//
// A last reading with the points closed, "2.03/", waits for the next reading that has no number or the same.
func (r *Recorder) ReadingOf(opening int64, t Typed) (unusable string, err error) {
	at := r.approachOf(opening)
	if at == nowhere || r.pairs[at].thrown {
		return r.besides(t, at)
	}
	return r.of(t, at)
}

// PlaceOf returns the place of the newest reading of the approach that an opening belongs to; ok is false when it has none.
func (r *Recorder) PlaceOf(opening int64) (place logbook.Place, ok bool) {
	at := r.approachOf(opening)
	if at == nowhere || r.pairs[at].place == (logbook.Place{}) {
		return logbook.Place{}, false
	}
	return r.pairs[at].place, true
}

// Why a reading is not used any more, and who wanted it.
const (
	whyReplaced  = "replaced by a later reading"
	whyTakenAway = "it was taken away"
	mechanic     = "the mechanic"
)

// of takes a reading that names the approach with an index.
func (r *Recorder) of(t Typed, at int) (unusable string, err error) {
	if r.pairs[at].thrown || r.pairs[at].place == (logbook.Place{}) && r.notServed(at, t.Place) != "" {
		return r.besides(t, at)
	}
	if IsLastClosed(t.Text) {
		return r.lastClosed(t, r.heard.approaches[at].ID)
	}
	if err := r.goTo(t.Place); err != nil {
		return "", err
	}
	own := r.half.Text != "" && r.due() == at
	if own {
		t = r.completed(t)
	}
	t.Text = strings.TrimSpace(t.Text)
	old := r.pairs[at]
	if old.place != (logbook.Place{}) {
		t.Place = old.place
	}
	unusable, err = r.write(t, at, unusableBecause(r.setup, t.Text))
	why := whyReplaced
	switch {
	case err != nil:
		return unusable, err
	case unusable == noReading:
		why, r.pairs[at].used = whyTakenAway, 0
	case unusable != "":
		return unusable, nil
	}
	if old.used > 0 {
		if err := r.notUsed(old.used, why, why, mechanic); err != nil {
			return unusable, err
		}
	}
	if own {
		r.wait(Typed{}, 0)
	}
	return unusable, r.stillWaits()
}

// besides writes a reading whose opening is not there, or does not count.
func (r *Recorder) besides(t Typed, at int) (unusable string, err error) {
	t.Text = strings.TrimSpace(t.Text)
	id := int64(t.Number)
	switch {
	case at != nowhere && !r.pairs[at].thrown:
		unusable, id, at = r.notServed(at, t.Place), r.heard.approaches[at].ID, nowhere
	case at != nowhere:
		unusable, id = thrownAway, r.heard.approaches[at].ID
	case t.Number > 0:
		unusable = fmt.Sprintf("there is no opening %d", t.Number)
	default:
		unusable = "there is no opening of this number"
	}
	if IsLastClosed(t.Text) {
		_, err = r.journal.Append(halfEntry(t, id, unusable))
		return unusable, err
	}
	if err := r.goTo(t.Place); err != nil {
		return "", err
	}
	if unusable, err = r.write(t, at, unusable); err == nil && t.Text == timing.NoReading {
		err = r.stillWaits()
	}
	return unusable, err
}

// stillWaits writes the first half that waits, if any, once more: a reading came, but for another opening.
func (r *Recorder) stillWaits() error {
	if r.half.Text == "" {
		return nil
	}
	_, err := r.journal.Append(halfEntry(r.half, r.halfOf, ""))
	return err
}
