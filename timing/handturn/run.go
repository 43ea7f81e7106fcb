package handturn

import "breakcue/timing"

// Run is everything that happened.
type Run struct {
	Duration float64  // [s]
	Changes  []Change // of the contacts, which are closed in the beginning and in the end
	Stages   []StageRun
}

// Change is the instant at which the contacts take a new state.
type Change struct {
	At     float64 // [s]
	Closed bool
}

// StageRun is what happened in a Stage.
type StageRun struct {
	Stage
	From, To float64 // [s]
	// Path is the crank's angle at instants that strictly increase; between two of them it turns one way or stands still.
	Path   []Point
	Passes []Pass
}

// Point is where the crank stood at an instant.
type Point struct {
	At    float64      // [s]
	Angle timing.Angle // before top dead centre
}

// Break is an instant at which the contacts opened.
type Break struct {
	At     float64       // [s]
	Angle  timing.Angle  // of the crank, before top dead centre
	Travel timing.Length // of the piston, before top dead centre
}

// Pass is one approach with its opening.
type Pass struct {
	From, To float64 // from the start of the run-up to the end of turning back [s]
	// Opens is where the points began to part in this pass; First is the first break after it, Last the one after which
	// they stayed open.
	Opens       timing.Angle
	First, Last Break
	// LastClosed and FirstOpen are where the piston really stood in the rests before and after the opening.
	LastClosed, FirstOpen timing.Length
	// Reading is what the hand types for these two, as ParseReading reads it: "2.03/1.98". ReadAt is when it has been read [s].
	Reading string
	ReadAt  float64
}

// Mean returns the means of travel and crank angle at the first breaks of all passes, the truth that the mean of the
// readings estimates.
func (s StageRun) Mean() (timing.Length, timing.Angle) {
	var travel timing.Length
	var angle timing.Angle
	for _, p := range s.Passes {
		travel += p.First.Travel
		angle += p.First.Angle
	}
	n := float64(len(s.Passes))
	return travel / timing.Length(n), angle / timing.Angle(n)
}
