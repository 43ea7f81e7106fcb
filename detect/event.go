package detect

import "math"

// Kind says what happened, from the contacts' point of view.
type Kind uint8

// The kinds of events.
const (
	KindOpen  Kind = iota + 1 // the points opened
	KindClose                 // the points closed
	KindLost                  // the signal fits neither state for so long that nothing can be told
	KindFound                 // the signal fits a state again after KindLost
	KindFault                 // something else the reader must know (see Event.Cause): samples missing, clipped, not finite
)

// String returns the word used in JSON: "open", "close", "lost", "found", "fault".
func (k Kind) String() string {
	switch k {
	case KindOpen:
		return "open"
	case KindClose:
		return "close"
	case KindLost:
		return "lost"
	case KindFound:
		return "found"
	case KindFault:
		return "fault"
	}
	return "none"
}

// Stage says how far the knowledge of an event has come. Each event, known by its ID, runs through
// Decided, Placed and Settled in this order, or ends in Withdrawn at any point before Settled.
// Lost, Found and Fault events are settled at once.
type Stage uint8

// The stages of an event.
const (
	Decided   Stage = iota + 1 // taken at once, for the cue; Frame is a first estimate
	Placed                     // a few ms later: Frame and Uncertainty are final
	Settled                    // bounce is over: Reclosures and LastFrame are final too; once per ID, for logs
	Withdrawn                  // the second look takes the event back
)

// String returns "decided", "placed", "settled" or "withdrawn".
func (s Stage) String() string {
	switch s {
	case Decided:
		return "decided"
	case Placed:
		return "placed"
	case Settled:
		return "settled"
	case Withdrawn:
		return "withdrawn"
	}
	return "none"
}

// State is what is known of the contacts at the newest frame.
type State uint8

// The states. Unknown is the state of a new Detector and of one that has just lost samples.
const (
	Unknown State = iota // not enough has been heard yet to tell
	Closed
	Open
	Lost // enough has been heard, and it fits neither state
)

// String returns "UNKNOWN", "CLOSED", "OPEN" or "LOST".
func (s State) String() string {
	switch s {
	case Closed:
		return "CLOSED"
	case Open:
		return "OPEN"
	case Lost:
		return "LOST"
	}
	return "UNKNOWN"
}

// Event is one thing that happened, at one stage of knowing it.
type Event struct {
	ID    int64 // counts from 1, the same through all stages of one event
	Kind  Kind
	Stage Stage
	Set   int // which set of points, from Config.Set; 0 when there is one

	// Frame is the first frame in the new state (edge model gate), absolute; Frac, in [0,1), is added to it where the edge falls
	// between frames, and where noise leaves several frames likely: Frame+Frac is then the mean of all, weighted by their likelihood. For
	// KindOpen it is the first break, for KindClose the first make.
	Frame int64
	Frac  float64
	// DecidedFrame is the last frame that was needed for the decision: DecidedFrame-Frame is the delay of the decision,
	// however the sound was cut into blocks.
	DecidedFrame int64
	// Uncertainty is the standard uncertainty of Frame+Frac [frames], more than 0 from stage Placed on.
	Uncertainty float64

	// Half is the 50 % reference level instant under the edge model BandLimited [frames], HalfUncertainty its standard
	// uncertainty; Frame stays the first frame in the new state. Final from stage Placed on. For recordings whose edge model, known
	// at their end, is BandLimited, Instant takes these.
	Half, HalfUncertainty float64

	// Reclosures counts how often, after a first break (make), the contacts went back for less than the hold time before
	// they stayed. LastFrame is the first frame in the new state after the last of these: LastFrame-Frame is the
	// settling time [frames], 0 without bounce. Final at stage Settled.
	Reclosures int
	LastFrame  int64

	// Before and After are the levels a of the states left and entered, in the tone's own phase reference.
	Before, After complex128
	// Cause explains Withdrawn, Lost and Fault; empty otherwise.
	Cause Cause
}

// At returns the instant of the event in frames from the start of the stream.
func (e Event) At() float64 { return float64(e.Frame) + e.Frac }

// Instant returns the event with its instant given for the edge model m: unchanged for Gate and Soft, at Half for
// BandLimited. Only openings and closings from stage Placed on have one.
func (e Event) Instant(m EdgeModel) Event {
	if m != BandLimited || (e.Kind != KindOpen && e.Kind != KindClose) || e.Stage < Placed || e.Stage == Withdrawn {
		return e
	}
	f := math.Floor(e.Half)
	e.Frame, e.Frac, e.Uncertainty = int64(f), e.Half-f, e.HalfUncertainty
	if e.Reclosures == 0 {
		e.LastFrame = e.Frame
	}
	return e
}

// Cause is the machine-readable reason of an event; its text is for people.
type Cause string

// The causes.
const (
	CauseBounce    Cause = "bounce"      // withdrawn: the contacts went back within the hold time
	CauseNoStep    Cause = "no_step"     // withdrawn: a second look found no lasting change
	CauseSpike     Cause = "spike"       // withdrawn: a second look found a spike, which there are in every shop
	CauseGap       Cause = "gap"         // samples were lost
	CauseDropout   Cause = "dropout"     // a run of exact zeros that is no open contact: the sound card lost samples
	CausePhase     Cause = "phase"       // fault, withdrawn: the phase of the tone jumped while the points stood still: samples were lost or repeated
	CauseNotFinite Cause = "not_finite"  // NaN or infinite samples, taken as 0
	CauseNoFit     Cause = "no_fit"      // lost: the signal fits neither state level
	CauseStreamEnd Cause = "stream_ends" // withdrawn: the sound ended before the change could be confirmed
	CauseLeadOff   Cause = "lead_off"    // lost, withdrawn: a clip has come off the points
	CausePlugOut   Cause = "plug_out"    // lost, withdrawn: the tone's plug or the input's is out, or its lead broken
	CauseShorted   Cause = "shorted"     // lost, withdrawn: the leads touch each other
)
