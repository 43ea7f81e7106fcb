package session

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"breakcue/timing/logbook"
)

// Corrector finds what is to be corrected in a journal and works out the entries that do it. It writes nothing.
type Corrector struct {
	journal logbook.Journal
	entries []logbook.Entry // amendments applied
	b       *builder
}

// NewCorrector takes a journal. Errors are those of FromJournal; one with damaged lines is refused, because a reading that is
// missing shifts the numbers of the passes.
func NewCorrector(j logbook.Journal) (*Corrector, error) {
	if len(j.Damaged) > 0 {
		return nil, fmt.Errorf("session: journal, got a %s, want a sound one: what is missing may shift the numbers of the passes", j.Damaged[0])
	}
	b, err := build(j)
	if err != nil {
		return nil, err
	}
	entries, _ := j.Current()
	return &Corrector{j, entries, b}, nil
}

// Place reads a cylinder and a phase as people type them: "left as_found", "Left, as found".
func (c *Corrector) Place(text string) (logbook.Place, error) {
	cylinders := c.b.sheets.Engine.Cylinders
	t := NewTypist(cylinders)
	if err := t.header(text); err == nil && t.Named {
		return t.Place, nil
	}
	return t.Place, fmt.Errorf("place, got %q, want one of %q and as_found or as_left, as %q", text, cylinders, c.AnyPlace())
}

// Correction is a correction to be written: changes of one entry.
type Correction struct {
	Seq int64 // entry to be changed; 0 for New
	// New, when there is one, is to be written first: a reading that an opening did not have.
	New     *logbook.Reading
	Changes []FieldChange
}

// FieldChange is what one field of an entry is to say.
type FieldChange struct {
	Field    string
	From, To json.RawMessage
}

// Pass returns the entry of a pass by its place and its number in the report.
func (c *Corrector) Pass(at logbook.Place, n int) (int64, error) {
	i := slices.IndexFunc(c.b.series, func(s series) bool { return s.place == at })
	if i < 0 {
		return 0, fmt.Errorf("%s, %s has no pass", at.Cylinder, at.Phase.Words())
	}
	passes := c.b.series[i].passes
	if n < 1 || n > len(passes) {
		return 0, fmt.Errorf("pass, got %d, want 1..%d of %s, %s", n, len(passes), at.Cylinder, at.Phase.Words())
	}
	return passes[n-1].Entry, nil
}

// Opening returns the correction that gives an opening a reading at a place: the newest "-" or other reading of its approach
// that is not used becomes one, or a new one is written. take may be 0 when only one has an opening of that number. It is an
// error when there is no such opening and when a pass rests on it. at is needed for a new reading alone, where no step of a guide
// tells the place: see ErrNoPlace.
func (c *Corrector) Opening(take int, id int64, at *logbook.Place) (Correction, error) {
	take, approach, err := c.opening(take, id)
	if err != nil {
		return Correction{}, err
	}
	last := Correction{}
	for _, s := range c.b.series {
		for _, p := range s.passes {
			if p.Edge == nil || c.b.of[openingKey{p.Edge.Take, p.Edge.ID}] != approach {
				continue
			}
			if p.Unused == "" {
				return last, fmt.Errorf("opening %d has a reading: pass %d of %s, %s", id, p.N, s.place.Cylinder, s.place.Phase.Words())
			}
			last.Seq = max(last.Seq, p.Entry)
		}
	}
	if last.Seq > 0 {
		return last, nil
	}
	return c.fresh(take, approach, at)
}

// fresh returns the correction that writes a new "-" for an approach, at the place that its step tells where at is nil.
func (c *Corrector) fresh(take, approach int, at *logbook.Place) (of Correction, err error) {
	if place, ok := c.b.place[approach]; at == nil && ok {
		at = &place
	}
	if at == nil {
		return of, ErrNoPlace
	}
	if err := c.served(approach, at.Cylinder); err != nil {
		return of, err
	}
	of.New = &logbook.Reading{
		Text: "-", Cylinder: at.Cylinder, Phase: at.Phase, Take: take, Opening: c.b.approaches[approach].ID, Unusable: noReading,
	}
	return of, errors.Join(c.fits(*of.New, "cylinder"), c.fits(*of.New, "phase"))
}

// ErrNoPlace tells that a new reading needs its cylinder and phase.
var ErrNoPlace = errors.New("this opening has no reading yet, so its cylinder and phase are needed")

// opening returns the take and the approach of an opening.
func (c *Corrector) opening(take int, id int64) (in, approach int, err error) {
	var takes []int
	for key, at := range c.b.of {
		if key.id == id && (take == 0 || take == key.take) {
			takes, approach = append(takes, key.take), at
		}
	}
	slices.Sort(takes)
	switch {
	case len(takes) == 1:
		return takes[0], approach, nil
	case len(takes) > 1:
		return 0, 0, fmt.Errorf("opening %d could be that of take %s", id, strings.ReplaceAll(strings.Trim(fmt.Sprint(takes), "[]"), " ", " or "))
	case take > 0:
		return 0, 0, fmt.Errorf("take %d has no opening %d", take, id)
	}
	return 0, 0, fmt.Errorf("the journal has no opening %d", id)
}

// Set adds to a correction that a field of its entry is to hold a value. A value that is the old one adds nothing. It is an
// error when the entry has no such field, when the value does not fit it, and for a reading that cannot be used or placed.
func (c *Corrector) Set(to *Correction, field string, value any) error {
	raw, err := json.Marshal(value)
	if err != nil {
		return err
	}
	before, err := c.data(*to)
	if err != nil {
		return err
	}
	if err := correctable(before, field); err != nil {
		return err
	}
	change := FieldChange{Field: field, From: fieldOf(before, field), To: raw}
	with := *to
	with.Changes = append(slices.Clone(to.Changes), change)
	after, err := c.data(with)
	if err != nil {
		return err
	}
	if r, ok := after.(logbook.Reading); ok {
		if err := c.fits(r, field); err != nil {
			return err
		}
	}
	if d, ok := after.(logbook.Gap); ok {
		if err := c.gapFits(d, field); err != nil {
			return err
		}
	}
	if d, ok := after.(logbook.Step); ok && d.State != logbook.StepBegun && d.State != logbook.StepDone && d.State != logbook.StepSkipped {
		return fmt.Errorf("state of a step, got %q, want %s, %s or %s", d.State, logbook.StepBegun, logbook.StepDone, logbook.StepSkipped)
	}
	if string(change.From) != string(raw) {
		*to = with
	}
	return nil
}

// correctable refuses to correct what no person has written: what was heard and worked out, and the names by which entries and
// folders find each other.
func correctable(d logbook.Data, field string) error {
	const instead = "throw the pass away, or give its reading another opening"
	switch d.(type) {
	case logbook.Opening, logbook.Closing:
		return fmt.Errorf("what was heard is not corrected: %s", instead)
	case logbook.Result:
		return errors.New("a result is not corrected: it is worked out anew from the readings")
	case logbook.Begin:
		if field == "session" {
			return errors.New("the name of the session's folder is not corrected; its short name is the field \"name\"")
		}
	case logbook.Take:
		if field == "take" {
			return errors.New("the number of a take is not corrected: the openings name it")
		}
	}
	return nil
}

// data returns what the entry of a correction says with its changes.
func (c *Corrector) data(of Correction) (logbook.Data, error) {
	one := logbook.Entry{Seq: 1}
	if of.New != nil {
		one.Data = *of.New
	} else {
		at := slices.IndexFunc(c.entries, func(e logbook.Entry) bool { return e.Seq == of.Seq })
		if at < 0 {
			return nil, fmt.Errorf("the journal has no entry %d", of.Seq)
		}
		if slices.ContainsFunc(c.entries[at+1:], func(e logbook.Entry) bool { return e.Seq == of.Seq }) {
			return nil, fmt.Errorf("the journal has more than one entry %d", of.Seq)
		}
		one.Data = c.entries[at].Data
	}
	j := logbook.Journal{Entries: []logbook.Entry{one}}
	for i, change := range of.Changes {
		j.Entries = append(j.Entries, logbook.Entry{Seq: int64(i + 2), Data: logbook.Amend{Seq: 1, Field: change.Field, To: change.To}})
	}
	after, problems := j.Current()
	if len(problems) > 0 { // its numbers are those of this small journal
		p := problems[0]
		if inner := errors.Unwrap(p); inner != nil {
			p = inner
		}
		return nil, p
	}
	return after[0].Data, nil
}

// fieldOf returns a field as it stands, "" or null where it is left out when empty.
func fieldOf(d logbook.Data, field string) json.RawMessage {
	raw, err := json.Marshal(d)
	var fields map[string]json.RawMessage
	if err == nil {
		err = json.Unmarshal(raw, &fields)
	}
	switch {
	case err == nil && fields[field] != nil:
		return fields[field]
	case field == "take":
		return json.RawMessage("0")
	}
	return json.RawMessage(`""`)
}

// fits refuses what a correction of a field must not make of a reading.
func (c *Corrector) fits(r logbook.Reading, field string) error {
	switch field {
	case "text":
		unusable := unusableBecause(c.b.sheets.Setup, r.Text)
		if unusable == noReading {
			unusable += "; throw the pass away instead"
		}
		if unusable != "" {
			return errors.New(unusable)
		}
	case "cylinder":
		if all := c.b.sheets.Engine.Cylinders; !slices.Contains(all, r.Cylinder) {
			return fmt.Errorf("cylinder, got %q, want one of %q", r.Cylinder, all)
		}
	case "phase":
		if r.Phase != logbook.AsFound && r.Phase != logbook.AsLeft {
			return fmt.Errorf("phase, got %q, want %s or %s", r.Phase, logbook.AsFound, logbook.AsLeft)
		}
	case "opening", "take":
		if _, heard := c.b.of[openingKey{r.Take, r.Opening}]; field == "opening" && r.Opening != 0 && !heard {
			return fmt.Errorf("take %d has no opening %d", r.Take, r.Opening)
		}
	}
	return nil
}

// Read gives the reading of a correction another text. What kept the old text from being used no longer holds; one that was
// thrown away stays so.
func (c *Corrector) Read(to *Correction, text string) error {
	was, err := c.reading(*to)
	if err != nil {
		return err
	}
	if err := c.Set(to, "text", strings.TrimSpace(text)); err != nil {
		return err
	}
	if was.Unusable != "" && unusableBecause(c.b.sheets.Setup, was.Text) != "" {
		return c.Set(to, "unusable", "")
	}
	return nil
}

// Move puts the reading of a correction under another cylinder or phase.
func (c *Corrector) Move(to *Correction, at logbook.Place) error {
	if _, err := c.reading(*to); err != nil {
		return err
	}
	if err := c.Set(to, "cylinder", at.Cylinder); err != nil {
		return err
	}
	return c.Set(to, "phase", at.Phase)
}

// Pair gives the reading of a correction to another opening; take may be 0 as in Opening.
func (c *Corrector) Pair(to *Correction, take int, id int64) error {
	was, err := c.reading(*to)
	if err != nil {
		return err
	}
	take, approach, err := c.opening(take, id)
	if err != nil {
		return err
	}
	if err := c.free(*to, approach, id); err != nil {
		return err
	}
	if err := c.Set(to, "take", take); err != nil {
		return err
	}
	if err := c.Set(to, "opening", id); err != nil {
		return err
	}
	if was.Opening == 0 && was.Unusable != "" && unusableBecause(c.b.sheets.Setup, was.Text) == "" {
		return c.Set(to, "unusable", "") // it named an opening that there is not
	}
	return nil
}

// free refuses a reading for an approach that has another; id names it for people.
func (c *Corrector) free(of Correction, approach int, id int64) error {
	for _, s := range c.b.series {
		for _, p := range s.passes {
			if p.Unused == "" && p.Entry != of.Seq && c.b.of[openingKey{p.Edge.Take, p.Edge.ID}] == approach {
				return fmt.Errorf("opening %d has a reading: pass %d of %s, %s; throw that away first, or give it another opening",
					id, p.N, s.place.Cylinder, s.place.Phase.Words())
			}
		}
	}
	return nil
}

// ThrowAway takes a reading out of the figures.
func (c *Corrector) ThrowAway(to *Correction) error {
	r, err := c.reading(*to)
	if err != nil {
		return err
	}
	if p := c.pass(to.Seq); p.Unused != "" {
		return fmt.Errorf("reading %q is not used as it is: %s", r.Text, p.Unused)
	}
	return c.Set(to, "unusable", thrownByHand)
}

// thrownByHand is why a pass is not used that a correction took out.
const thrownByHand = "it was thrown away"

// workedBy names what says last that the points were worked on, and how it is corrected.
func (c *Corrector) workedBy() string {
	for i, works := range slices.Backward(worked(c.entries)) {
		if !works {
			continue
		}
		how := "--field state --to skipped"
		if _, tick := c.entries[i].Data.(logbook.Tick); tick {
			how = "--field undone --to true"
		}
		return fmt.Sprintf("; if they were not, --entry %d %s corrects what says so", c.entries[i].Seq, how)
	}
	return ""
}

// BringBack takes a reading into the figures again.
func (c *Corrector) BringBack(to *Correction) error {
	r, err := c.reading(*to)
	if err != nil {
		return err
	}
	if unusable := unusableBecause(c.b.sheets.Setup, r.Text); unusable != "" {
		return errors.New(unusable)
	}
	p := c.pass(to.Seq)
	if r.Unusable == "" || p.Unused != r.Unusable {
		why := "it is used"
		if p.Unused != "" {
			why = "it is not used because " + p.Unused
		}
		if p.Unused == workedAfter {
			why += c.workedBy()
		}
		return fmt.Errorf("reading %q was not thrown away: %s", r.Text, why)
	}
	if at, heard := c.b.of[openingKey{r.Take, r.Opening}]; heard {
		if err := c.free(*to, at, r.Opening); err != nil {
			return err
		}
	}
	return c.Set(to, "unusable", "")
}

// reading returns the reading that a correction is about.
func (c *Corrector) reading(of Correction) (logbook.Reading, error) {
	d, err := c.data(of)
	if err != nil {
		return logbook.Reading{}, err
	}
	r, ok := d.(logbook.Reading)
	if !ok {
		return logbook.Reading{}, fmt.Errorf("entry %d is no reading, it is of kind %s", of.Seq, d.Kind())
	}
	return r, nil
}

// pass returns the pass of an entry.
func (c *Corrector) pass(seq int64) Pass {
	for _, s := range c.b.series {
		for _, p := range s.passes {
			if p.Entry == seq {
				return p
			}
		}
	}
	return Pass{}
}

// Entries returns what is to be written for a correction, in this order; the entry that New becomes has the number next.
// Before anything is written it is tried: an error when the results could not be worked out any more, or when the
// journal would not take it.
func (c *Corrector) Entries(of Correction, next int64, why, who string) ([]logbook.Data, Report, error) {
	var out []logbook.Data
	seq := of.Seq
	if of.New != nil {
		out, seq = append(out, *of.New), next
	}
	for _, change := range of.Changes {
		out = append(out, logbook.Amend{Seq: seq, Field: change.Field, From: change.From, To: change.To, Why: why, Who: who})
	}
	with := c.journal
	with.Entries = slices.Clone(c.journal.Entries)
	for i, d := range out {
		with.Entries = append(with.Entries, logbook.Entry{Seq: next + int64(i), Data: d})
	}
	_, before := c.journal.Current()
	if _, problems := with.Current(); len(problems) > len(before) {
		return nil, Report{}, problems[len(problems)-1]
	}
	r, err := FromJournal(with)
	return out, r, err
}

// AnyPlace is a place of this session as it may be typed, for examples.
func (c *Corrector) AnyPlace() string {
	return fmt.Sprintf("%s %s", c.b.sheets.Engine.Cylinders[0], logbook.AsFound)
}
