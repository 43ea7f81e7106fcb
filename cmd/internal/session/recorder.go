package session

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Journal is where a Recorder writes; *logbook.Writer is one. An entry is safe when Append returns.
type Journal interface {
	Append(logbook.Data) (logbook.Entry, error)
}

// Recorder writes a session into its journal: first what was heard, then each reading as it is typed, paired in order.
type Recorder struct {
	journal Journal
	setup   timing.Setup
	take    int
	heard   grouping
	pairs   []pair // of the approaches heard, as far as there are any
	done    int    // of pairs are, from the first on: at least so many
	last    int    // of pairs awaited the reading before; nowhere: none did
	place   logbook.Place
	half    Typed // the last reading with the points closed that waits for its first open one, as "2.03/"; empty for none
	halfOf  int64 // ID of the approach that was named with it; 0: the next in order
	apart   bool  // what is heard is no pass

	setOf func(cylinder string) int // which set of points serves a cylinder; nil: there is one
	hand  int                       // set of points at hand, from 1; 0: each, or the one there is
	at    logbook.Place             // where the next reading belongs
}

// pair is what an approach has.
type pair struct {
	done   bool          // no reading is awaited
	used   int64         // entry of the reading that is used; 0: none
	thrown bool          // away
	place  logbook.Place // of its newest reading, used or not; empty without one
}

// nowhere is the index of no approach.
const nowhere = -1

// NewRecorder writes the recording, what is to be said of it and its openings and closings, and returns a Recorder for the
// readings, one for each approach of take.ApproachS.
func NewRecorder(j Journal, setup timing.Setup, take logbook.Take, heard []Change, caveats []timing.Caveat) (*Recorder, error) {
	r := &Recorder{journal: j, setup: setup, take: take.Take, heard: grouping{within: take.ApproachS}, last: nowhere}
	if _, err := j.Append(take); err != nil {
		return nil, err
	}
	for _, c := range caveats {
		if err := r.Caveat(c); err != nil {
			return nil, err
		}
	}
	for _, c := range heard {
		if err := r.Hear(c); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// Hear writes one more opening or closing of the take, the newest, while the sound still comes in.
func (r *Recorder) Hear(c Change) error {
	c.Take = r.take
	if _, err := r.journal.Append(c.entry()); err != nil {
		return err
	}
	r.heard.hear(c)
	for len(r.pairs) < len(r.heard.approaches) {
		r.pairs = append(r.pairs, pair{done: r.apart || another(c.Set, r.hand)})
	}
	return nil
}

// Measuring tells whether what is heard from now on are passes, as at first. While it is off an approach that begins awaits no
// reading, and a reading belongs to none unless it names one. An approach that has begun stays what it is.
func (r *Recorder) Measuring(on bool) { r.apart = !on }

// Next returns the approach that the next reading belongs to unless it names another, with its number from 1 and how many there
// are; ok is false when it belongs to none.
func (r *Recorder) Next() (a Approach, n, of int, ok bool) {
	of = len(r.pairs)
	at := r.due()
	if at == nowhere {
		return Approach{}, 0, of, false
	}
	return r.heard.approaches[at], at + 1, of, true
}

// Opening returns the approach of a number from 1; ok is false when there is none.
func (r *Recorder) Opening(n int) (a Approach, ok bool) {
	if n < 1 || n > len(r.pairs) {
		return Approach{}, false
	}
	return r.heard.approaches[n-1], true
}

// due returns the index of the approach that a reading without a number belongs to.
func (r *Recorder) due() int {
	if r.halfOf > 0 {
		return r.approachOf(r.halfOf)
	}
	if at := r.next(); at < len(r.pairs) && !r.apart {
		return at
	}
	return nowhere
}

// next returns the index of the first approach that awaits a reading, or how many there are.
func (r *Recorder) next() int {
	for r.done < len(r.pairs) && r.pairs[r.done].done {
		r.done++
	}
	at := r.done
	for at < len(r.pairs) && !r.awaits(at) {
		at++
	}
	return at
}

// Waiting returns how many approaches have no reading yet, and have not been thrown away; of two sets of points those of the set At
// hand.
func (r *Recorder) Waiting() int {
	n := 0
	for at := r.next(); at < len(r.pairs); at++ {
		if r.awaits(at) {
			n++
		}
	}
	return n
}

// Chatter says what to know before readings are typed when some openings seem to belong to one approach; it is empty
// otherwise.
func (r *Recorder) Chatter() string { return chatterNote(r.heard.approaches) }

// Reading writes one reading, usable or not, before anything is made of it. The string says why it cannot be used, or is
// empty. One with a number is that of the approach with this number in the take, see ReadingOf; one without is that of the first
// that awaits one, with two sets of points one of the set that serves its cylinder: see BySet.
//
// A last reading with the points closed, "2.03/", is written too and waits: the next reading at its place completes it. It no
// longer waits when that one is whole by itself, or there is none ("-").
func (r *Recorder) Reading(t Typed) (unusable string, err error) {
	r.At(t.Place)
	switch {
	case t.numbered() && (t.Number < 1 || t.Number > len(r.pairs)):
		return r.besides(t, nowhere)
	case t.numbered():
		return r.of(t, t.Number-1)
	case t.Place != r.half.Place && r.halfOf > 0:
		r.wait(Typed{}, 0)
	case r.halfOf > 0:
		return r.of(t, r.due())
	}
	if IsLastClosed(t.Text) {
		return r.lastClosed(t, 0)
	}
	if unusable, err = r.pair(r.completed(t), r.due()); err == nil && unusable == "" {
		r.wait(Typed{}, 0)
	}
	return unusable, err
}

// completed puts the first half that waits before a reading, where it goes before it. What is whole or none lets none wait.
func (r *Recorder) completed(t Typed) Typed {
	if whole := Completed(r.half.Text, t.Text); t.Place == r.half.Place && whole != strings.TrimSpace(t.Text) {
		t.Text = whole
		return t
	}
	r.wait(Typed{}, 0)
	return t
}

// IsLastClosed tells whether a line is the first half of a reading, the last one with the points closed: "2.03/".
func IsLastClosed(text string) bool {
	text = strings.TrimSpace(text)
	return len(text) > 1 && strings.Index(text, "/") == len(text)-1
}

// lastClosed writes a first half, and lets it wait when it can be used: for an approach, 0 for the next in order.
func (r *Recorder) lastClosed(t Typed, of int64) (unusable string, err error) {
	t.Text = strings.TrimSpace(t.Text)
	unusable = unusableBecause(r.setup, strings.TrimSuffix(t.Text, "/"))
	_, err = r.journal.Append(halfEntry(t, of, unusable))
	if err == nil && unusable == "" {
		r.wait(t, of)
	}
	return unusable, err
}

// halfEntry is a first half in the journal; with it stands the opening that was named.
func halfEntry(t Typed, of int64, unusable string) logbook.LastClosed {
	if of > 0 {
		t.Text = fmt.Sprintf("%d%c%s", of, numberSign, t.Text)
	}
	return logbook.LastClosed{Text: t.Text, Cylinder: t.Place.Cylinder, Phase: t.Place.Phase, Unusable: unusable}
}

// wait lets a first half wait; an empty one lets none.
func (r *Recorder) wait(half Typed, of int64) { r.half, r.halfOf = half, of }

// Half returns the last reading with the points closed that waits for its first open one, "2.03/", or nothing.
func (r *Recorder) Half() string { return r.half.Text }

// Await lets a first half wait that was written before, in a session that is gone on with. One that names an opening does not:
// that was heard in another take.
func (r *Recorder) Await(half Typed) {
	if !strings.ContainsRune(half.Text, numberSign) {
		r.wait(half, 0)
	}
}

// PassOver writes that the next approach has no reading; a first half goes on waiting.
func (r *Recorder) PassOver(place logbook.Place) error {
	r.At(place)
	at := r.next()
	if at == len(r.pairs) {
		at = nowhere
	}
	_, err := r.pair(Typed{Text: timing.NoReading, Place: place}, at)
	return err
}

// pair writes a reading of the approach with an index.
func (r *Recorder) pair(t Typed, at int) (unusable string, err error) {
	if err := r.goTo(t.Place); err != nil {
		return "", err
	}
	return r.write(t, at, unusableBecause(r.setup, t.Text))
}

// goTo writes where the work goes on, when it is not there yet.
func (r *Recorder) goTo(place logbook.Place) error {
	if place == r.place {
		return nil
	}
	_, err := r.journal.Append(place)
	if err == nil {
		r.place = place
	}
	return err
}

// write writes a reading, and notes what its approach has now.
func (r *Recorder) write(t Typed, at int, unusable string) (string, error) {
	d := logbook.Reading{Text: t.Text, Cylinder: t.Place.Cylinder, Phase: t.Place.Phase, Unusable: unusable}
	r.last = nowhere
	if at == nowhere {
		_, err := r.journal.Append(d)
		return unusable, err
	}
	d.Take, d.Opening = r.take, r.heard.approaches[at].ID
	e, err := r.journal.Append(d)
	if err != nil {
		return unusable, err
	}
	p := &r.pairs[at]
	if !p.done {
		r.last = at
	}
	p.done, p.place = true, t.Place
	if unusable == "" {
		p.used = e.Seq
	}
	return unusable, nil
}

// Again steps back, so that the next reading belongs to the same approach as the last: what was typed stays in the journal. One
// that was named had its reading, or has none: nothing is awaited again.
func (r *Recorder) Again() {
	if r.last != nowhere && !r.pairs[r.last].thrown {
		r.pairs[r.last].done, r.done = false, min(r.done, r.last)
	}
}

// ThrownApproach is an approach that was thrown away.
type ThrownApproach struct {
	Approach
	Read bool // it had a reading, which is not used any more
}

// ThrowAway takes the approach that an opening belongs to out of the figures: no reading is awaited for it, and one that it
// has is not used. All that was written stays; the reading is corrected by an entry that says why, and who wanted it. Where
// there is none, "-" is written, at place. Of an opening that was not heard, and of one thrown away before, nothing is written.
func (r *Recorder) ThrowAway(opening int64, place logbook.Place, why, who string) (ThrownApproach, error) {
	at := r.approachOf(opening)
	if at == nowhere {
		return ThrownApproach{}, nil
	}
	r.wait(Typed{}, 0) // of an approach that does not count
	out, p := ThrownApproach{Approach: r.heard.approaches[at]}, &r.pairs[at]
	switch {
	case p.thrown:
	case p.used > 0:
		out.Read = true
		if err := r.notUsed(p.used, thrownAway, why, who); err != nil {
			return out, err
		}
	case !p.done:
		if _, err := r.pair(Typed{Text: timing.NoReading, Place: place}, at); err != nil {
			return out, err
		}
	}
	p.thrown = true
	return out, nil
}

// Thrown tells that the approach of an opening was thrown away.
func (r *Recorder) Thrown(opening int64) bool {
	at := r.approachOf(opening)
	return at != nowhere && r.pairs[at].thrown
}

// thrownAway is why a reading is not used whose opening was thrown away.
const thrownAway = "its opening was thrown away"

// notUsed corrects a reading that was used.
func (r *Recorder) notUsed(seq int64, unusable, why, who string) error {
	to, err := json.Marshal(unusable)
	if err != nil {
		return err
	}
	_, err = r.journal.Append(logbook.Amend{Seq: seq, Field: "unusable", From: json.RawMessage(`""`), To: to, Why: why, Who: who})
	return err
}

// approachOf returns the index of the approach that an opening belongs to, nowhere when it was not heard. New ones are found soonest.
func (r *Recorder) approachOf(opening int64) int {
	for i, a := range slices.Backward(r.heard.approaches) {
		if slices.ContainsFunc(a.Openings, func(o logbook.Edge) bool { return o.ID == opening }) {
			return i
		}
	}
	return nowhere
}

// NoReading is why "-" is not used: so it was wanted.
const NoReading = noReading

const noReading = "no reading was taken"

// unusableBecause says why a reading cannot be used, or nothing.
func unusableBecause(setup timing.Setup, text string) string {
	reading, err := setup.ParseReading(text)
	switch {
	case err != nil:
		return reason(err)
	case reading.None:
		return noReading
	}
	return ""
}

// reason is an error of package timing for people, who know of no packages.
func reason(err error) string { return strings.TrimPrefix(err.Error(), "timing: ") }

// Caveat writes something that a reader of the figures must know.
func (r *Recorder) Caveat(c timing.Caveat) error {
	_, err := r.journal.Append(logbook.Caveat{Code: c.Code, Message: c.Message})
	return err
}

// maxReport is the longest report [bytes] that is kept whole.
const maxReport = 1 << 20

// Finish writes the report as it was shown, and the end of the session. Of a very long report the figures alone are
// kept: passes and openings stand in the journal anyway.
func (r *Recorder) Finish(report Report, reason string) error {
	raw, err := json.Marshal(report)
	if err == nil && len(raw) > maxReport {
		raw, err = json.Marshal(report.figures())
	}
	if err != nil {
		return fmt.Errorf("session: report: %w", err)
	}
	if _, err := r.journal.Append(logbook.Result{Result: raw}); err != nil {
		return err
	}
	_, err = r.journal.Append(logbook.End{Reason: reason})
	return err
}
