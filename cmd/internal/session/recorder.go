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
	journal    Journal
	setup      timing.Setup
	take       logbook.Take
	heard      []Change
	approaches []Approach
	next       int // approach that the next reading belongs to
	place      logbook.Place
}

// NewRecorder writes the recording, what is to be said of it and its openings and closings, and returns a Recorder for the
// readings, one for each approach of take.ApproachS.
func NewRecorder(j Journal, setup timing.Setup, take logbook.Take, heard []Change, caveats []timing.Caveat) (*Recorder, error) {
	r := &Recorder{journal: j, setup: setup, take: take, heard: slices.Clone(heard)}
	if _, err := j.Append(take); err != nil {
		return nil, err
	}
	for _, c := range caveats {
		if err := r.Caveat(c); err != nil {
			return nil, err
		}
	}
	for i := range r.heard {
		if err := r.write(&r.heard[i]); err != nil {
			return nil, err
		}
	}
	r.approaches = Approaches(r.heard, take.ApproachS)
	return r, nil
}

// Hear writes one more opening or closing of the take, the newest, while the sound still comes in.
func (r *Recorder) Hear(c Change) error {
	if err := r.write(&c); err != nil {
		return err
	}
	r.heard = append(r.heard, c)
	r.approaches = Approaches(r.heard, r.take.ApproachS)
	return nil
}

func (r *Recorder) write(c *Change) error {
	c.Take = r.take.Take
	_, err := r.journal.Append(c.entry())
	return err
}

// Next returns the approach that the next reading belongs to, with its number from 1 and how many there are; ok is false
// when all have theirs.
func (r *Recorder) Next() (a Approach, n, of int, ok bool) {
	if r.next >= len(r.approaches) {
		return Approach{}, 0, len(r.approaches), false
	}
	return r.approaches[r.next], r.next + 1, len(r.approaches), true
}

// Chatter says what to know before readings are typed when some openings seem to belong to one approach; it is empty
// otherwise.
func (r *Recorder) Chatter() string { return chatterNote(r.approaches) }

// Reading writes one reading, usable or not, before anything is made of it. The string says why it cannot be used, or is
// empty.
func (r *Recorder) Reading(t Typed) (unusable string, err error) {
	if t.Place != r.place {
		if _, err := r.journal.Append(t.Place); err != nil {
			return "", err
		}
		r.place = t.Place
	}
	d := logbook.Reading{Text: t.Text, Cylinder: t.Place.Cylinder, Phase: t.Place.Phase}
	d.Unusable = unusableBecause(r.setup, t.Text)
	if r.next < len(r.approaches) {
		d.Take, d.Opening = r.approaches[r.next].Take, r.approaches[r.next].ID
		r.next++
	}
	_, err = r.journal.Append(d)
	return d.Unusable, err
}

// Again steps back, so that the next reading belongs to the same approach as the last: what was typed stays in the journal.
func (r *Recorder) Again() {
	if r.next > 0 {
		r.next--
	}
}

// noReading is why "-" is not used.
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
