package leads

// Severity says how much a finding matters.
type Severity string

// The severities.
const (
	OK   Severity = "ok"   // as it should be
	Note Severity = "note" // good to know
	Warn Severity = "warn" // works, but not as well as it could
	Stop Severity = "stop" // does not work, or cannot be believed
)

// Finding is one thing that a check found, in plain words.
type Finding struct {
	Code     string   `json:"code"`
	Severity Severity `json:"severity"`
	Text     string   `json:"text"` // one sentence with its figures
	Do       string   `json:"do"`   // what to do next; empty where nothing is
}

// Result is what the steps of a check come to.
type Result struct {
	Measures []Measure `json:"measures"` // in the order of the steps; those made
	Wiring   Wiring    `json:"wiring"`
	// WiringSource is "given", "inferred" where the levels showed it, "assumed" where nothing did.
	WiringSource string `json:"wiring_source"`
	// Tone is the best [Hz], 0 where closed and open cannot be told apart; Choices are all that were compared, in the order of frequency.
	Tone      float64    `json:"tone_hz"`
	Choices   []Choice   `json:"choices,omitempty"`
	Connected *Connected `json:"connected,omitempty"` // at the points; nil where that cannot be told
	Findings  []Finding  `json:"findings"`
	Profile   *Profile   `json:"profile,omitempty"` // nil where closed and open cannot be told apart, or the levels cannot be believed
}

// Choice is a tone that could be taken.
type Choice struct {
	Hz       float64  `json:"hz"`
	Distance Quantity `json:"distance"` // |closed-open| over the larger of the two, 0..2
	Over     float64  `json:"over_db"`  // |closed-open| over the noise about the tone [dB]
	OffMains float64  `json:"off_mains_hz"`
}

// Connected is what lies at the points. Each part is nil where it is not there, or cannot be told; see the findings for limits.
type Connected struct {
	Kind      string    `json:"kind"` // as circuit.Kind has it
	Condenser *Quantity `json:"condenser_f,omitempty"`
	Contact   *Quantity `json:"contact_ohm,omitempty"` // with the points closed
	Coil      *Coil     `json:"coil,omitempty"`        // across the points
	Leak      *Quantity `json:"leak_ohm,omitempty"`    // across the open points
	Misfit    float64   `json:"misfit"`                // of the levels against these parts, over their noise, 1 or more; uncertainties allow for it
	Assumed   bool      `json:"assumed,omitempty"`     // the cable's values were assumed, not measured on a known resistor
}

// Coil is a winding across the points.
type Coil struct {
	L Quantity  `json:"l_henry"`
	R *Quantity `json:"r_ohm,omitempty"`
	// Source tells that it is small enough for a magneto's source coil.
	Source bool `json:"source_coil"`
}

// Find returns the finding with that code; false where there is none.
func (r Result) Find(code string) (Finding, bool) {
	for _, f := range r.Findings {
		if f.Code == code {
			return f, true
		}
	}
	return Finding{}, false
}
