package session

import (
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// SinceSchema is the schema field of a Since.
const SinceSchema = "breakcue.log-compare/1"

// Since says how an engine has changed from one session to a later one: as found now against as left then.
type Since struct {
	Schema string `json:"schema"`
	Engine string `json:"engine"`
	Then   string `json:"then"` // session
	Now    string `json:"now"`
	// Days from the beginning of the one to that of the other.
	Days float64 `json:"days"`
	// SameDial tells that both have the same dial sheet: then what the dial does wrong in both alike falls out.
	SameDial  bool            `json:"same_dial"`
	Cylinders []Drift         `json:"cylinders"`
	Gaps      []GapDrift      `json:"gaps"`
	Causes    []string        `json:"possible_causes"`
	Caveats   []timing.Caveat `json:"caveats"`
}

// The words of Drift.Moved.
const (
	MovedEarlier = "earlier"
	MovedLater   = "later"
	MovedUnknown = "cannot_tell" // the interval holds no change, or something was not measured
)

// Drift is the change of one cylinder.
type Drift struct {
	Cylinder string `json:"cylinder"`
	// Then is what was last known of it in the earlier session, Now what it was found like in the later; null when not measured.
	Then *Standing `json:"then"`
	Now  *Standing `json:"now"`
	// Change is how much earlier it opens now; null when one of them is.
	Change *Difference `json:"change"`
	Moved  string      `json:"moved"` // proven by the interval, or cannot_tell
}

// Standing is the result of one phase in short.
type Standing struct {
	Phase      logbook.Phase `json:"phase"`
	ErrorMM    float64       `json:"error_mm"`
	IntervalMM [2]float64    `json:"interval_mm"`
	Verdict    string        `json:"verdict"`
}

// SinceLast compares two journals of one engine, the earlier first. It is an error when they are not of the same engine with the
// same specification, or when nothing can be worked out.
func SinceLast(then, now logbook.Journal) (Since, error) {
	var sides [2]*builder
	for i, j := range []logbook.Journal{then, now} {
		b, err := build(j)
		if err != nil {
			return Since{}, err
		}
		if b.report, err = b.finish(); err != nil {
			return Since{}, err
		}
		sides[i] = b
	}
	was, is := sides[0], sides[1]
	if err := alike(was.sheets, is.sheets); err != nil {
		return Since{}, err
	}
	out := Since{
		Schema: SinceSchema, Engine: is.sheets.Engine.Name, Then: was.report.Session, Now: is.report.Session,
		SameDial: was.sheets.dialText == is.sheets.dialText, Cylinders: []Drift{}, Gaps: []GapDrift{}, Causes: []string{}, Caveats: []timing.Caveat{},
	}
	if a, err := time.Parse(time.RFC3339, was.report.Begun); err == nil {
		if b, err := time.Parse(time.RFC3339, is.report.Begun); err == nil {
			out.Days = math.Round(b.Sub(a).Hours()/24*100) / 100
		}
	}
	for _, name := range is.sheets.Engine.Cylinders {
		out.add(name, was, is)
	}
	out.addGaps(was, is)
	out.explain(len(out.Gaps) == is.sheets.Engine.Breaker.Sets)
	return out, nil
}

// alike tells what keeps two sessions from being compared.
func alike(was, is Sheets) error {
	a, b := was.Engine, is.Engine
	spec := func(s timing.Spec) string {
		return fmt.Sprintf("%s before TDC, tolerance ±%s, automatic advance %s", s.Value, s.Tolerance, s.Advance)
	}
	switch {
	case a.Name != b.Name:
		return fmt.Errorf("different engines: %q then, %q now", a.Name, b.Name)
	case !slices.Equal(a.Cylinders, b.Cylinders):
		return fmt.Errorf("different cylinders: %q then, %q now", a.Cylinders, b.Cylinders)
	case a.Timing != b.Timing:
		return fmt.Errorf("different specifications: %s then; %s now", spec(a.Timing), spec(b.Timing))
	case a.Crank != b.Crank:
		return fmt.Errorf("different cranks: stroke, rod or pin offset of %q are not what they were", a.Name)
	}
	return nil
}

// add compares a cylinder.
func (s *Since) add(name string, was, is *builder) {
	d := Drift{Cylinder: name, Moved: MovedUnknown}
	then, phase, known := was.last(name)
	known = known && !(phase == logbook.AsFound && was.touched) // then it is history
	now, found := is.result(logbook.Place{Cylinder: name, Phase: logbook.AsFound})
	if known {
		d.Then = newStanding(phase, then)
	} else {
		s.Caveats = append(s.Caveats, timing.Caveat{Code: "not_measured_then", Message: fmt.Sprintf("cylinder %s has no result in %s that later work on the points or the plates has not undone, so it is not known what it was like when the work ended", name, s.Then)})
	}
	if found {
		d.Now = newStanding(logbook.AsFound, now)
	} else {
		s.Caveats = append(s.Caveats, timing.Caveat{Code: "not_measured_now", Message: fmt.Sprintf("cylinder %s has no result as found in %s; measure before anything is moved", name, s.Now)})
	}
	if known && found {
		if phase == logbook.AsFound {
			s.Caveats = append(s.Caveats, timing.Caveat{Code: "left_as_found", Message: fmt.Sprintf("cylinder %s has no result as left in %s and no plate was moved after it was found: taken as left like that", name, s.Then)})
		}
		change := newDifference(is.sheets.Setup.Since(now, then, s.SameDial))
		d.Change = &change
		switch {
		case change.IntervalMM[0] > 0:
			d.Moved = MovedEarlier
		case change.IntervalMM[1] < 0:
			d.Moved = MovedLater
		}
	}
	s.Cylinders = append(s.Cylinders, d)
}

func newStanding(phase logbook.Phase, r timing.Result) *Standing {
	return &Standing{
		Phase: phase, ErrorMM: float64(r.Error.Value), Verdict: r.Verdict.String(),
		IntervalMM: [2]float64{float64(r.Error.Interval[0]), float64(r.Error.Interval[1])},
	}
}

// explain adds what may be behind a change that is proven, and what the comparison rests on. The causes are common practice. With
// gaps all gaps are known already.
func (s *Since) explain(gaps bool) {
	first := "; measure the gap first"
	if gaps {
		first = ""
	}
	moved := func(way string) bool {
		return slices.ContainsFunc(s.Cylinders, func(d Drift) bool { return d.Moved == way })
	}
	if moved(MovedLater) {
		s.Causes = append(s.Causes, "later: the heel may have worn, which makes the gap smaller, so that the points open later; "+
			"or a plate has slipped"+first)
	}
	if moved(MovedEarlier) {
		s.Causes = append(s.Causes, "earlier: the contacts may have burnt away, which makes the gap wider, so that the points open earlier; "+
			"or a plate has slipped, or the cam has turned on its shaft"+first)
	}
	s.Causes = append(s.Causes, s.gapCauses()...)
	if !slices.ContainsFunc(s.Cylinders, func(d Drift) bool { return d.Change != nil }) {
		return
	}
	rests := "the dial was set to zero anew in between, so its zero counts twice; of its error only what it may be between two near places counts, because both sessions have the same dial sheet"
	if !s.SameDial {
		rests = "the two sessions have different dial sheets, so what either dial may do wrong counts whole"
	}
	s.Caveats = append(s.Caveats, timing.Caveat{Code: "two_sessions", Message: rests})
}

// Print writes the comparison for people.
func (s Since) Print(w io.Writer) error {
	p := &printer{w: w}
	p.sentence("", "%s: as found in %s against as left in %s, %s", s.Engine, s.Now, s.Then, s.after())
	for _, d := range s.Cylinders {
		p.line("")
		p.line("%s", d.Cylinder)
		p.standing("then", d.Then)
		p.standing("now", d.Now)
		if d.Change == nil {
			p.line("  change: not known")
			continue
		}
		p.sentence("  ", "change: opens %s", d.Change.words("it was left"))
		if d.Moved == MovedUnknown {
			p.line("  verdict: cannot tell that it has moved")
		} else {
			p.line("  verdict: has moved, opens %s", d.Moved)
		}
	}
	if len(s.Gaps) > 0 {
		p.line("")
		p.gapsSince(s.Gaps)
	}
	if len(s.Causes) > 0 {
		p.line("")
		p.line("what it may be, none of it certain")
		for _, c := range s.Causes {
			p.sentence("  ", "%s", c)
		}
	}
	if len(s.Caveats) > 0 {
		p.line("")
		p.notes("", s.Caveats)
	}
	return p.err
}

// after says how much time lies between the sessions.
func (s Since) after() string {
	if s.Days < 1 {
		return "less than a day later"
	}
	return count(int(math.Round(s.Days)), "day") + " later"
}

func (p *printer) standing(word string, st *Standing) {
	if st == nil {
		p.line("  %s: not measured", word)
		return
	}
	coverage := timing.Coverage
	brief := Phase{ErrorMM: &st.ErrorMM, IntervalMM: &st.IntervalMM, Coverage: &coverage, Verdict: st.Verdict}.Brief("")
	p.sentence("  ", "%s, %s: %s", word, st.Phase.Words(), brief)
}
