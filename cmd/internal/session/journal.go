package session

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"breakcue/cmd/internal/pump"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// FromJournal works the report out from a journal, amendments applied. It is an error when the journal does not say what
// engine and dial it is about; anything less is a caveat.
func FromJournal(j logbook.Journal) (Report, error) {
	b, err := build(j)
	if err != nil {
		return Report{}, err
	}
	return b.finish()
}

// build gathers what the entries of a journal say.
func build(j logbook.Journal) (*builder, error) {
	entries, problems := j.Current()
	sheets, begin, err := sheetsOf(entries)
	if err != nil {
		return nil, err
	}
	b := &builder{
		sheets: sheets, report: newReport(begin, sheets),
		of: map[openingKey]int{}, read: map[int]bool{}, used: map[int]bool{}, apart: map[int]bool{}, other: map[int]bool{}, place: map[int]logbook.Place{}, zero: map[openingKey]int{}, workedAt: map[openingKey]int{},
	}
	if b.steps, err = Steps(sheets); err != nil {
		b.steps = nil // the dial cannot follow the piston: no guide led through them, or one of another version
	}
	b.report.Begun = entries[0].Time.Format(time.RFC3339)
	b.approach(entries)
	b.guided(entries)
	b.gaps(entries, j.Entries)
	for _, i := range b.inOrder(entries) {
		was, _ := j.Entries[i].Data.(logbook.Reading)
		b.reading(entries[i].Seq, entries[i].Data.(logbook.Reading), was)
	}
	for _, e := range entries {
		if d, ok := e.Data.(logbook.Caveat); ok {
			b.caveat(d.Code, "%s", d.Message)
		}
	}
	if half, waits := waiting(entries); waits {
		b.caveat("last_closed_alone", "%q, %s, %s, was typed as the last reading with the points closed, and no first open one came after it: kept, not used",
			half.Text, half.Cylinder, half.Phase.Words())
	}
	for _, p := range problems {
		b.caveat("amendment", "%s; it is left out", strings.TrimPrefix(p.Error(), "logbook: "))
	}
	if later := j.Later(); later > 0 {
		b.caveat("later_version", "%s of the journal, written by a later version of the program, cannot be read by this one: what is said here may not be all", pump.Count(later, "entry", "entries"))
	}
	for _, d := range j.Damaged {
		b.caveat("damaged_line", "%s of the journal; what it said is missing here", d)
	}
	return b, nil
}

// inOrder returns the places of the readings among entries, in the order in which the passes were made: that of their
// openings, because a reading may be typed later. Those without an opening come after the reading typed before them.
func (b *builder) inOrder(entries []logbook.Entry) []int {
	type pass struct{ entry, approach int }
	var all []pass
	last := -1
	for i, e := range entries {
		d, ok := e.Data.(logbook.Reading)
		if !ok {
			continue
		}
		at := last
		if own, heard := b.of[openingKey{d.Take, d.Opening}]; heard {
			at, last = own, max(own, last)
		}
		all = append(all, pass{i, at})
	}
	slices.SortStableFunc(all, func(x, y pass) int { return cmp.Compare(x.approach, y.approach) })
	places := make([]int, len(all))
	for i, p := range all {
		places[i] = p.entry
	}
	return places
}

// waiting returns the last reading with the points closed that no reading came after.
func waiting(entries []logbook.Entry) (half logbook.LastClosed, waits bool) {
	for _, e := range entries {
		switch d := e.Data.(type) {
		case logbook.LastClosed:
			half, waits = d, true
		case logbook.Reading:
			waits = waits && d.Unusable != "" && d.Text != timing.NoReading
		case logbook.Amend:
			waits = waits && !completes(d, half)
		}
	}
	return half, waits
}

// SheetsOf returns the sheets that a session was begun with, amendments applied. It is an error when the journal does not have
// them.
func SheetsOf(j logbook.Journal) (Sheets, error) {
	entries, _ := j.Current()
	s, _, err := sheetsOf(entries)
	return s, err
}

func sheetsOf(entries []logbook.Entry) (Sheets, logbook.Begin, error) {
	begin, ok := logbook.Journal{Entries: entries}.Begin()
	if !ok {
		return Sheets{}, begin, errors.New("session: journal, got no beginning, want its first entry: without engine and dial nothing can be worked out")
	}
	s, err := ParseSheets("engine sheet in the journal", begin.EngineSheet, "dial sheet in the journal", begin.DialSheet)
	if err != nil {
		return Sheets{}, begin, fmt.Errorf("session: %w", err)
	}
	for _, e := range entries {
		if d, ok := e.Data.(logbook.Take); ok {
			s.AtOnce = d.Sets == 2 && s.Engine.Breaker.Sets == 2
		}
	}
	return s, begin, nil
}

func newReport(begin logbook.Begin, s Sheets) Report {
	t := s.Setup.Target
	return Report{
		Schema: Schema, Session: begin.Session, Name: begin.Name, Engine: s.Engine.Name, Input: begin.Input,
		Specified: Specified{
			Value: s.Engine.Timing.Value.String(), Tolerance: s.Engine.Timing.Tolerance.String(), Advance: s.Engine.Timing.Advance.String(),
			TravelMM: float64(t.Travel), AngleDeg: float64(t.Angle), ToleranceMM: [2]float64{float64(t.Low), float64(t.High)},
		},
		Cylinders: []Cylinder{}, Shifts: []Shift{}, Spreads: []Spread{}, Unread: []Edge{}, Caveats: []timing.Caveat{},
	}
}

// openingKey names an opening: IDs are unique in a take.
type openingKey struct {
	take int
	id   int64
}

// builder gathers what the entries say.
type builder struct {
	sheets     Sheets
	steps      []Step // of the job for these sheets; none where there cannot be any
	report     Report
	approaches []Approach
	of         map[openingKey]int    // index of the approach that an opening belongs to
	read       map[int]bool          // approaches that a reading names, whatever it says
	used       map[int]bool          // approaches that a result rests on
	apart      map[int]bool          // approaches that began in a step that measures nothing, and those of other: they await no reading
	other      map[int]bool          // approaches of the set of points that was not at hand
	place      map[int]logbook.Place // approaches that began in a step that measures: where
	series     []series
	results    []timing.Result    // of the series, once they are evaluated
	visits     []logbook.Place    // of the readings, in the order of the passes
	alone      int                // readings without an opening
	works      int                // how often entries say that the points were worked on
	workedAt   map[openingKey]int // how often up to an opening
	zero       map[openingKey]int // which zero of the dial an opening was heard with: see dialCount
	touched    bool               // the points were worked on
}

// series is one cylinder in one phase.
type series struct {
	place  logbook.Place
	passes []Pass
	used   []timing.Reading
	zeros  []int // of the dial, of those used
}

// approach groups the openings of each take. An opening that stands in the journal twice counts once, as it was last told.
func (b *builder) approach(entries []logbook.Entry) {
	type take struct {
		heard  []Change
		within float64
	}
	takes := map[int]*take{}
	get := func(n int) *take {
		if takes[n] == nil {
			takes[n] = &take{}
		}
		return takes[n]
	}
	type name struct {
		openingKey
		open bool
	}
	at := map[name]int{}
	apart, besides := false, map[openingKey]bool{}
	other, cylinder := map[openingKey]bool{}, "" // that was named last
	step, measured, steps := "", map[openingKey]logbook.Place{}, places(b.steps)
	dial := dialCount{sets: b.sheets.Engine.Breaker.Sets}
	hear := func(c Change) {
		t, key := get(c.Take), name{openingKey{c.Take, c.ID}, c.Open}
		if i, twice := at[key]; twice {
			t.heard[i] = c
			return
		}
		at[key] = len(t.heard)
		besides[key.openingKey] = besides[key.openingKey] || c.Open && apart
		hand := cylinder
		place, ok := steps[step]
		if ok {
			hand = place.Cylinder
		}
		if c.Open && !apart && another(c.Set, b.sheets.SetOf(hand)) {
			other[key.openingKey], ok = true, false
		}
		if ok && c.Open {
			measured[key.openingKey] = place
		}
		if c.Open {
			b.zero[key.openingKey], b.workedAt[key.openingKey] = dial.n, b.works
		}
		t.heard = append(t.heard, c)
	}
	works := worked(entries)
	b.touched = slices.Contains(works, true)
	for i, e := range entries {
		dial.took(e.Data)
		if works[i] {
			b.works++
		}
		switch d := e.Data.(type) {
		case logbook.Take:
			get(d.Take).within = d.ApproachS
		case logbook.Place:
			cylinder = d.Cylinder
		case logbook.Step:
			apart, step = !Measures(d.Step), d.Step
		case logbook.Opening:
			hear(Change{Open: true, Edge: d.Edge})
		case logbook.Closing:
			hear(Change{Edge: d.Edge})
		}
	}
	for _, n := range slices.Sorted(maps.Keys(takes)) {
		for _, a := range Approaches(takes[n].heard, takes[n].within) {
			for _, o := range a.Openings {
				b.of[openingKey{o.Take, o.ID}] = len(b.approaches)
			}
			b.other[len(b.approaches)] = other[openingKey{a.Take, a.ID}]
			b.apart[len(b.approaches)] = besides[openingKey{a.Take, a.ID}] || b.other[len(b.approaches)]
			if place, ok := measured[openingKey{a.Take, a.ID}]; ok {
				b.place[len(b.approaches)] = place
			}
			b.approaches = append(b.approaches, a)
		}
	}
}

// reading adds a pass; was is the entry before any amendment.
func (b *builder) reading(seq int64, d, was logbook.Reading) {
	place := logbook.Place{Cylinder: d.Cylinder, Phase: d.Phase}
	at := slices.IndexFunc(b.series, func(s series) bool { return s.place == place })
	if at < 0 {
		at = len(b.series)
		b.series = append(b.series, series{place: place})
	}
	b.visits = append(b.visits, place)
	s := &b.series[at]
	p := Pass{N: len(s.passes) + 1, Entry: seq, Reading: d.Text}
	key, heard := b.of[openingKey{d.Take, d.Opening}]
	if heard {
		p.Edge = newEdge(b.approaches[key])
		b.read[key] = true
	}
	reading, err := b.sheets.Setup.ParseReading(d.Text)
	if err == nil && !reading.None {
		if travel, err := b.sheets.Setup.Travel(reading); err == nil {
			mm := float64(travel)
			p.TravelMM = &mm
		}
	}
	// The reason in the entry was written for the text of that time: when the text was corrected it no longer holds.
	unusable := d.Unusable
	if d.Text != was.Text && unusable == was.Unusable {
		unusable = ""
	}
	switch {
	case err != nil:
		p.Unused = reason(err)
	case reading.None:
		p.Unused = noReading
	case unusable != "":
		p.Unused = strings.TrimPrefix(unusable, "timing: ") // as older versions wrote it
	case !heard:
		p.Unused = "there was no opening for it"
		b.alone++
	case b.used[key]:
		p.Unused = "another reading belongs to the same opening"
	case b.undone(d.Phase, openingKey{d.Take, d.Opening}):
		b.used[key] = true
		p.Unused = workedAfter
	default:
		b.used[key] = true
		reading.Pass = p.N
		s.used = append(s.used, reading)
		s.zeros = append(s.zeros, b.zero[openingKey{d.Take, d.Opening}])
	}
	s.passes = append(s.passes, p)
}

func (b *builder) caveat(code, format string, args ...any) {
	b.report.Caveats = append(b.report.Caveats, timing.Caveat{Code: code, Message: fmt.Sprintf(format, args...)})
}

// finish evaluates all series together and puts them in the order of the engine sheet.
func (b *builder) finish() (Report, error) {
	b.sort()
	passes := make([][]timing.Reading, len(b.series))
	for i, s := range b.series {
		passes[i] = s.used
	}
	var err error
	if b.results, err = b.sheets.Setup.Evaluate(passes); err != nil {
		return Report{}, err
	}
	for _, name := range b.sheets.Engine.Cylinders {
		b.report.Cylinders = append(b.report.Cylinders, Cylinder{Name: name, Phases: []Phase{}})
	}
	for i, s := range b.series {
		p := Phase{Phase: s.place.Phase, Passes: s.passes, Caveats: unusedCaveats(s.passes)}
		p.fill(b.sheets.Setup, b.results[i])
		b.add(s.place.Cylinder, p)
	}
	for _, c := range b.report.Cylinders {
		switch {
		case len(c.Phases) > 0:
		case b.report.Steps != nil: // the step names it
			b.caveat("not_measured", "cylinder %s has no reading", c.Name)
		default:
			b.caveat("not_measured", "cylinder %s has no reading; name it with a line \"# %s as_found\" before its readings", c.Name, c.Name)
		}
	}
	b.unpaired()
	err = b.compare()
	return b.report, err
}

// add puts a phase under its cylinder. One that the engine sheet does not have comes last: a correction can name any.
func (b *builder) add(cylinder string, p Phase) {
	at := slices.IndexFunc(b.report.Cylinders, func(c Cylinder) bool { return c.Name == cylinder })
	if at < 0 {
		at = len(b.report.Cylinders)
		b.report.Cylinders = append(b.report.Cylinders, Cylinder{Name: cylinder})
		b.caveat("unknown_cylinder", "the engine sheet has no cylinder %q; correct the reading's cylinder", cylinder)
	}
	b.report.Cylinders[at].Phases = append(b.report.Cylinders[at].Phases, p)
}

// sort puts as found before as left, whatever was typed first.
func (b *builder) sort() {
	slices.SortStableFunc(b.series, func(x, y series) int { return strings.Compare(string(x.place.Phase), string(y.place.Phase)) })
}

// unpaired says which openings and readings have no partner.
func (b *builder) unpaired() {
	var times []string
	var passes []Approach
	for i, a := range b.approaches {
		switch {
		case b.other[i] && !b.read[i]:
			b.report.Other = append(b.report.Other, *newEdge(a))
			continue
		case b.apart[i] && !b.read[i]:
			b.report.Steps.Openings = append(b.report.Steps.Openings, *newEdge(a))
			continue
		case b.apart[i]:
			continue
		}
		passes = append(passes, a)
		if !b.read[i] {
			b.report.Unread = append(b.report.Unread, *newEdge(a))
			which := fmt.Sprintf("number %d", a.ID)
			if a.Take > 1 {
				which += fmt.Sprintf(" of take %d", a.Take)
			}
			times = append(times, fmt.Sprintf("%s at %.3f s", which, a.TimeS))
		}
	}
	const shifted = "readings are paired in order, so check that none before is shifted"
	if n := len(times); n > 0 {
		message := fmt.Sprintf("%s without a reading (%s): kept, not used; %s", count(n, "opening"), list(times), shifted)
		if b.report.Steps != nil {
			message = b.awaited()
		}
		if note := chatterNote(passes); note != "" {
			message += "; " + note
		}
		b.caveat("opening_without_reading", "%s", message)
	}
	if b.alone > 0 {
		b.caveat("reading_without_opening", "%s without an opening: kept, not used; %s", count(b.alone, "reading"), shifted)
	}
}

// unusedCaveats says which passes of a phase no result rests on, and why.
func unusedCaveats(passes []Pass) []timing.Caveat {
	out := []timing.Caveat{}
	for _, p := range passes {
		switch {
		case p.Unused == NoReading:
			out = append(out, timing.Caveat{Code: "pass_not_used", Message: fmt.Sprintf("pass %d has no reading", p.N)})
		case p.Unused != "":
			out = append(out, timing.Caveat{Code: "pass_not_used", Message: fmt.Sprintf("pass %d, reading %q, is kept but not used: %s", p.N, p.Reading, p.Unused)})
		}
	}
	return out
}

func count(n int, what string) string { return pump.Count(n, what, what+"s") }

// list joins the first few of many.
func list(items []string) string {
	const most = 5
	if len(items) > most {
		return strings.Join(items[:most], ", ") + fmt.Sprintf(" and %d more", len(items)-most)
	}
	return strings.Join(items, ", ")
}
