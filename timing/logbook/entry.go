package logbook

import (
	"encoding/json"
	"strings"
	"time"
)

// Schema is the schema field of every entry that this version writes.
const Schema = "breakcue.journal/1"

// Entry is one line of a journal.
type Entry struct {
	Seq  int64     // counts from 1 in a session; an Amend names an entry by it
	Time time.Time // wall clock, to the millisecond
	Data Data      // Begin, Take, Place, Opening, Closing, Reading, LastClosed, Gap, Step, Tick, Caveat, Result, Amend, End or Other
}

// Data is what an entry says. The types of this package that implement it are all there are.
type Data interface {
	// Kind returns the kind field of the entry.
	Kind() string
}

// Begin is the first entry of a session: everything that its figures rest on.
type Begin struct {
	Session     string `json:"session"`        // name of the folder; set by Create
	Name        string `json:"name,omitempty"` // short name as the mechanic gave it
	Tool        string `json:"tool"`           // program and version
	Engine      string `json:"engine,omitempty"`
	EngineSheet string `json:"engine_sheet"` // text of the engine sheet, whole
	DialSheet   string `json:"dial_sheet"`   // text of the dial sheet, whole
	Input       string `json:"input,omitempty"`
	SampleRate  int    `json:"sample_rate"` // [frames/s]
	Channels    int    `json:"channels"`
	Frames      int64  `json:"frames"` // length of Input, -1 when not known
}

// Take names a recording that the openings after it were found in.
type Take struct {
	Take   int    `json:"take"` // counts from 1
	File   string `json:"file"` // relative to the session folder, or a path outside it
	SHA256 string `json:"sha256,omitempty"`
	// ApproachS groups the openings: those with the points closed for less than this in between [s] are one approach to
	// the mark and take one reading; 0: each opening stands for itself.
	ApproachS float64 `json:"approach_s,omitempty"`
	Sets      int     `json:"sets,omitempty"` // of points that were followed at once; 0: one
}

// Phase says when in the job a measurement was made.
type Phase string

// The phases, in the words of calibration.
const (
	AsFound Phase = "as_found" // before anything was cleaned or moved
	AsLeft  Phase = "as_left"  // after the last screw was tightened
)

// Words returns the phase for people: "as found".
func (p Phase) Words() string { return strings.ReplaceAll(string(p), "_", " ") }

// Place says which cylinder and phase the entries after it belong to.
type Place struct {
	Cylinder string `json:"cylinder"` // name as in the engine sheet
	Phase    Phase  `json:"phase"`
}

// Level is the complex level of the tone in a state [full scale].
type Level struct {
	I float64 `json:"i"`
	Q float64 `json:"q"`
}

// Edge is one change of the contacts.
type Edge struct {
	Take        int     `json:"take"`
	ID          int64   `json:"id"` // from 1; unique among the openings, or the closings, of a take
	Set         int     `json:"set"`
	Frame       int64   `json:"frame"` // first frame in the new state
	Frac        float64 `json:"frac"`  // added to Frame, 0 up to 1
	TimeS       float64 `json:"time_s"`
	Uncertainty float64 `json:"uncertainty_s"` // standard uncertainty of TimeS
	Reclosures  int     `json:"reclosures"`
	SettleS     float64 `json:"settle_s"` // from the first change to the last
	Before      Level   `json:"before"`
	After       Level   `json:"after"`
}

// Opening says that the points opened.
type Opening struct{ Edge }

// Closing says that the points closed.
type Closing struct{ Edge }

// Reading is a dial reading as it was typed, usable or not.
type Reading struct {
	Text     string `json:"text"`
	Cylinder string `json:"cylinder"`
	Phase    Phase  `json:"phase"`
	Take     int    `json:"take,omitempty"`     // take of the opening it belongs to, 0 for none
	Opening  int64  `json:"opening"`            // ID of that opening, 0 for none
	Unusable string `json:"unusable,omitempty"` // why it was left out; empty when it was used
}

// LastClosed is the last reading with the points closed, typed before the opening that it belongs to: "2.03/". The reading
// that completes it says it again.
type LastClosed struct {
	Text     string `json:"text"`
	Cylinder string `json:"cylinder"`
	Phase    Phase  `json:"phase"`
	Unusable string `json:"unusable,omitempty"` // why it cannot be completed; empty when it can
}

// Gap is the gap of a set of points at full lift, as it was typed, usable or not. The newest usable one of a set and phase counts.
type Gap struct {
	Text     string `json:"text"`
	Set      int    `json:"set"` // of points, from 1
	Phase    Phase  `json:"phase"`
	Unusable string `json:"unusable,omitempty"` // why it was left out; empty when it was used
}

// Step says where in the job the work stands: the entries after it belong to this step. A journal without any was kept by
// somebody who needed no guide.
type Step struct {
	Step  string    `json:"step"` // as in the list of steps: "make_safe", "measure/left/as_found"
	State StepState `json:"state"`
}

// StepState is what became of a step.
type StepState string

// The states of a step.
const (
	StepBegun   StepState = "begun"   // for the first time, or once more
	StepDone    StepState = "done"    // all of it
	StepSkipped StepState = "skipped" // wanted so
)

// Tick says that one thing of a step was done, or that it was ticked by mistake.
type Tick struct {
	Step   string `json:"step"`
	Item   string `json:"item"` // as it was shown
	Undone bool   `json:"undone,omitempty"`
}

// Caveat is something that a reader of the figures must know.
type Caveat struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// Result keeps what was worked out and shown at the time, as JSON.
type Result struct {
	Result json.RawMessage `json:"result"`
}

// Amend corrects one field of an earlier entry. The entry itself stays; Journal.Current applies the correction.
type Amend struct {
	Seq   int64           `json:"seq"`   // entry to correct
	Field string          `json:"field"` // JSON name of the field of its data
	From  json.RawMessage `json:"from"`  // value before, for the record
	To    json.RawMessage `json:"to"`
	Why   string          `json:"why"`
	Who   string          `json:"who"`
}

// End closes a session. A session without one was cut short.
type End struct {
	Reason string `json:"reason"` // Finished, "left", "interrupted", "failed", …
}

// Finished is the reason of a session of which nothing is left to be done.
const Finished = "finished"

// Other is an entry of a later version of the program: kept and passed over.
type Other struct {
	Schema string
	Name   string          // its kind
	Raw    json.RawMessage // its data
}

// The kinds of entries.
func (Begin) Kind() string      { return "begin" }
func (Take) Kind() string       { return "take" }
func (Place) Kind() string      { return "place" }
func (Opening) Kind() string    { return "opening" }
func (Closing) Kind() string    { return "closing" }
func (Reading) Kind() string    { return "reading" }
func (LastClosed) Kind() string { return "last_closed" }
func (Gap) Kind() string        { return "gap" }
func (Step) Kind() string       { return "step" }
func (Tick) Kind() string       { return "tick" }
func (Caveat) Kind() string     { return "caveat" }
func (Result) Kind() string     { return "result" }
func (Amend) Kind() string      { return "amend" }
func (End) Kind() string        { return "end" }

// Kind returns the kind that the later version gave.
func (o Other) Kind() string { return o.Name }

// MarshalJSON implements json.Marshaler: the data as it was read.
func (o Other) MarshalJSON() ([]byte, error) { return o.Raw.MarshalJSON() }
