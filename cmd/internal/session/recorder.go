package session

import (
	"encoding/json"
	"fmt"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Journal is where a Recorder writes; *logbook.Writer is one. An entry is safe when Append returns.
type Journal interface {
	Append(logbook.Data) (logbook.Entry, error)
}

// Recorder writes a session into its journal: first the openings, then each reading as it is typed, paired in order.
type Recorder struct {
	journal  Journal
	setup    timing.Setup
	openings []logbook.Edge
	next     int // opening that the next reading belongs to
	place    logbook.Place
}

// NewRecorder writes the recording, what is to be said of it and its openings, and returns a Recorder for the readings.
// Openings are numbered by their ID within the take.
func NewRecorder(j Journal, setup timing.Setup, take logbook.Take, openings []logbook.Edge, caveats []timing.Caveat) (*Recorder, error) {
	r := &Recorder{journal: j, setup: setup}
	if _, err := j.Append(take); err != nil {
		return nil, err
	}
	for _, c := range caveats {
		if err := r.Caveat(c); err != nil {
			return nil, err
		}
	}
	for _, o := range openings {
		o.Take = take.Take
		if _, err := j.Append(logbook.Opening{Edge: o}); err != nil {
			return nil, err
		}
		r.openings = append(r.openings, o)
	}
	return r, nil
}

// Next returns the opening that the next reading belongs to, with its number from 1 and how many there are; ok is false
// when all have theirs.
func (r *Recorder) Next() (o logbook.Edge, n, of int, ok bool) {
	if r.next >= len(r.openings) {
		return logbook.Edge{}, 0, len(r.openings), false
	}
	return r.openings[r.next], r.next + 1, len(r.openings), true
}

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
	if r.next < len(r.openings) {
		d.Take, d.Opening = r.openings[r.next].Take, r.openings[r.next].ID
		r.next++
	}
	_, err = r.journal.Append(d)
	return d.Unusable, err
}

// Again steps back, so that the next reading belongs to the same opening as the last: what was typed stays in the journal.
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
		return err.Error()
	case reading.None:
		return noReading
	}
	return ""
}

// Caveat writes something that a reader of the figures must know.
func (r *Recorder) Caveat(c timing.Caveat) error {
	_, err := r.journal.Append(logbook.Caveat{Code: c.Code, Message: c.Message})
	return err
}

// Finish writes the report as it was shown, and the end of the session.
func (r *Recorder) Finish(report Report, reason string) error {
	raw, err := json.Marshal(report)
	if err != nil {
		return fmt.Errorf("session: report: %w", err)
	}
	if _, err := r.journal.Append(logbook.Result{Result: raw}); err != nil {
		return err
	}
	_, err = r.journal.Append(logbook.End{Reason: reason})
	return err
}
