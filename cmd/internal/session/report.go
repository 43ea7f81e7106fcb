package session

import (
	"slices"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Schema is the schema field of a Report.
const Schema = "breakcue.session/1"

// Report is everything a session says, as `session --json` and `log show --json` print it. Lengths are in millimetres of
// piston travel before top dead centre, angles in degrees of crank; positive errors are early. What cannot be had is
// null, and a caveat says why.
type Report struct {
	Schema    string     `json:"schema"`
	Session   string     `json:"session"` // empty when nothing was recorded
	Begun     string     `json:"begun"`   // RFC 3339; empty when nothing was recorded
	Name      string     `json:"name"`
	Engine    string     `json:"engine"`
	Input     string     `json:"input"`
	Specified Specified  `json:"specified"`
	Cylinders []Cylinder `json:"cylinders"`
	// Shifts are what the work changed, one for each cylinder measured as found and as left; Spreads are one for each phase in
	// which several cylinders were measured.
	Shifts  []Shift  `json:"shifts"`
	Spreads []Spread `json:"spreads"`
	// Advice says what to move, by what is known last of each cylinder; null when nothing was measured.
	Advice *Advice `json:"advice"`
	Unread []Edge  `json:"openings_without_reading"`
	// Other are openings of one set of points heard while the other was measured: they await no reading.
	Other []Edge `json:"openings_of_the_other_set,omitempty"`
	// Gaps are those of the sets of points as far as they were typed.
	Gaps Gaps `json:"gaps,omitempty"`
	// Steps says how far the work went; a session without a guide has none.
	Steps   *Progress       `json:"steps,omitempty"`
	Caveats []timing.Caveat `json:"caveats"`
}

// Advice says what to do next, in figures and in words.
type Advice struct {
	Moves   []timing.Move    `json:"moves"`
	Gap     timing.GapEffect `json:"gap"`
	Lines   []string         `json:"lines"`
	Caveats []timing.Caveat  `json:"caveats"`
}

// Specified is what the engine sheet asks for.
type Specified struct {
	Value       string     `json:"value"` // as in the sheet
	Tolerance   string     `json:"tolerance"`
	Advance     string     `json:"advance"`
	TravelMM    float64    `json:"travel_mm"`
	AngleDeg    float64    `json:"angle_deg"`
	ToleranceMM [2]float64 `json:"tolerance_mm"` // ends of the tolerance as errors
}

// Cylinder is one cylinder's phases, as found before as left.
type Cylinder struct {
	Name   string  `json:"name"`
	Phases []Phase `json:"phases"`
}

// Phase is what was measured on one cylinder before, or after, the work.
type Phase struct {
	Phase         logbook.Phase `json:"phase"`
	Passes        []Pass        `json:"passes"`
	N             int           `json:"n"` // passes that the result rests on
	ErrorMM       *float64      `json:"error_mm"`
	ErrorDeg      *float64      `json:"error_deg"`
	UncertaintyMM *float64      `json:"uncertainty_mm"` // standard uncertainty
	IntervalMM    *[2]float64   `json:"interval_mm"`
	IntervalDeg   *[2]float64   `json:"interval_deg"`
	Coverage      *float64      `json:"coverage"`
	DF            *float64      `json:"degrees_of_freedom"`
	ScatterMM     *float64      `json:"scatter_mm"` // standard deviation of single passes
	Verdict       string        `json:"verdict"`
	EarlyOrLate   *string       `json:"early_or_late"`
	InTolerance   *float64      `json:"probability_in_tolerance"`
	// PassesNeeded is how many more passes would settle the verdict, should their mean stay what it is: 0 when it is settled,
	// null when no number of them would.
	PassesNeeded *int `json:"passes_needed"`
	// Budget lists what makes the error uncertain.
	Budget  []Component     `json:"budget"`
	Caveats []timing.Caveat `json:"caveats"`
}

// Pass is one reading and the opening it belongs to.
type Pass struct {
	N        int      `json:"n"`     // from 1 in its phase, in the order in which the passes were made
	Entry    int64    `json:"entry"` // of the journal: where the reading stands
	Reading  string   `json:"reading"`
	TravelMM *float64 `json:"travel_mm"`
	Edge     *Edge    `json:"edge"`
	// Unused says why no result rests on the pass.
	Unused string `json:"unused,omitempty"`
}

// Edge is an opening in a report, or the openings of one approach taken together: see Approach.
type Edge struct {
	Kind        string  `json:"kind"`
	Take        int     `json:"take"`
	ID          int64   `json:"id"`
	Set         int     `json:"set"`
	Sample      float64 `json:"sample"` // first break, in frames of the recording
	TimeS       float64 `json:"time_s"`
	Uncertainty float64 `json:"uncertainty_s"`
	Reclosures  int     `json:"reclosures"`
	SettleS     float64 `json:"settle_s"`
	Openings    int     `json:"openings"` // how many were heard in the approach
}

// Measured tells whether the session has any result.
func (r Report) Measured() bool {
	for _, c := range r.Cylinders {
		for _, p := range c.Phases {
			if p.N > 0 {
				return true
			}
		}
	}
	return false
}

// Phase returns what was measured at a place; ok is false when nothing was.
func (r Report) Phase(at logbook.Place) (ph Phase, ok bool) {
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			if c.Name == at.Cylinder && ph.Phase == at.Phase {
				return ph, true
			}
		}
	}
	return Phase{}, false
}

// Refused returns the report of a recording that no session was made of; the caveats say why.
func Refused(s Sheets, name, input string, caveats []timing.Caveat) Report {
	r := newReport(logbook.Begin{Name: name, Input: input}, s)
	for _, c := range s.Engine.Cylinders {
		r.Cylinders = append(r.Cylinders, Cylinder{Name: c, Phases: []Phase{}})
	}
	r.Caveats = append(r.Caveats, caveats...)
	return r
}

// figures returns the report without its lists of passes, openings and caveats.
func (r Report) figures() Report {
	r.Unread, r.Other, r.Caveats = []Edge{}, nil, []timing.Caveat{}
	if r.Steps != nil {
		steps := *r.Steps
		steps.Openings = []Edge{}
		r.Steps = &steps
	}
	r.Cylinders = slices.Clone(r.Cylinders)
	for i, c := range r.Cylinders {
		phases := slices.Clone(c.Phases)
		for k := range phases {
			phases[k].Passes, phases[k].Budget, phases[k].Caveats = []Pass{}, []Component{}, []timing.Caveat{}
		}
		r.Cylinders[i].Phases = phases
	}
	return r
}

// newEdge returns an approach as reports show it.
func newEdge(a Approach) *Edge {
	return &Edge{
		Kind: "open", Take: a.Take, ID: a.ID, Set: a.Set, Sample: float64(a.Frame) + a.Frac, TimeS: a.TimeS,
		Uncertainty: a.Uncertainty, Reclosures: a.Reclosures, SettleS: a.SettleS, Openings: len(a.Openings),
	}
}

// fill puts a result into the phase; without one the figures stay null.
func (p *Phase) fill(setup timing.Setup, r timing.Result) {
	p.Budget = []Component{}
	p.N, p.Verdict, p.Caveats = r.Error.N, r.Verdict.String(), append(p.Caveats, r.Error.Caveats...)
	if !r.Error.Known() {
		return
	}
	number := func(x float64) *float64 { return &x }
	when := r.When().String()
	p.ErrorMM, p.ErrorDeg, p.UncertaintyMM = number(float64(r.Error.Value)), number(float64(r.ErrorAngle.Value)), number(float64(r.Error.U))
	p.IntervalMM = &[2]float64{float64(r.Error.Interval[0]), float64(r.Error.Interval[1])}
	p.IntervalDeg = &[2]float64{float64(r.ErrorAngle.Interval[0]), float64(r.ErrorAngle.Interval[1])}
	p.Coverage, p.DF, p.EarlyOrLate, p.InTolerance = number(r.Error.Coverage), number(r.Error.DF), &when, number(r.InTolerance)
	if more, ok := setup.Needed(r); ok {
		p.PassesNeeded = &more
	}
	p.Budget = newBudget(r)
	if r.Scatter != nil {
		p.ScatterMM = number(float64(*r.Scatter))
	}
}
