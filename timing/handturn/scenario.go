package handturn

import (
	"fmt"

	"breakcue/timing"
)

// NoisyGap is the gap [mm] up to which slowly parting contacts still touch now and then.
const NoisyGap = 0.003

// Scenario is an engine, a dial, a hand, and what is measured.
type Scenario struct {
	Crank   timing.Crank
	Dial    timing.Dial // its MaxError, Hysteresis and Repeatability are what it really does wrong
	Breaker Breaker
	Hand    Hand
	Stages  []Stage // 1..100, one after the other
	Seed    uint64
}

// Breaker is the contact breaker.
type Breaker struct {
	CamRatio float64      // turns of the cam for one turn of the crank, above 0, up to 1: 1 on a two-stroke, 0.5 on most four-strokes
	Lift     float64      // how far the cam opens the points [mm per degree of cam], 0.001..1; 0.02..0.05 as a rule
	Scatter  timing.Angle // standard deviation of the opening from pass to pass [crank degrees], 0..2
	Play     timing.Angle // what the crank turns before the cam follows, after a change of direction [crank degrees], 0..10
}

// Hand is how the engine is turned and the dial read.
type Hand struct {
	// RunUp is how far before the opening an approach starts, and Near how far before it nudging begins: the hand has felt its
	// way once. Near is above 0, RunUp larger by at least the play, six times the scatter, and 1 degree.
	RunUp, Near timing.Angle
	Past        timing.Angle // how far the crank is turned on after the opening, 0.5..20
	Nudge       timing.Angle // the mean size of a nudge, 0.01..2
	// Speeds of the run-up, of a nudge and of turning back [degrees/s], each 0.05..50.
	Speed, NudgeSpeed, BackSpeed float64
	// Unsteady is the relative standard deviation of each speed and of the nudges, 0..0.5.
	Unsteady float64
	Halts    float64 // how often, on average, the hand halts during a run-up, 0..10
	Rest     float64 // the mean time that the crank stands still, for reading, halting or turning round [s], 0.05..60
	Between  float64 // time between stages [s], 0..3600
	// ZeroError is the standard deviation of where the dial was zeroed, once a stage, 0..1 mm.
	ZeroError timing.Length
}

// Stage is one cylinder in one state of its setting.
type Stage struct {
	Cylinder int          // from 1
	Phase    string       // "as_found", "as_left"; not interpreted
	Opens    timing.Angle // where the points really begin to part, on average over passes, 0..90 before top dead centre
	Mark     timing.Angle // where they should, 0..90 before top dead centre
	Passes   int          // 1..10000
}

// TypicalBreaker returns a breaker in fair condition whose cam turns at the given ratio.
func TypicalBreaker(camRatio float64) Breaker {
	return Breaker{CamRatio: camRatio, Lift: 0.04, Scatter: 0.1, Play: 0.8}
}

// CarefulHand returns a hand that takes its time: about ten seconds a pass.
func CarefulHand() Hand {
	return Hand{
		RunUp: 6, Near: 0.6, Past: 2, Nudge: 0.12, Speed: 3, NudgeSpeed: 0.4, BackSpeed: 8, Unsteady: 0.2,
		Halts: 0.5, Rest: 0.5, Between: 3, ZeroError: 0.005,
	}
}

// Validate returns an error that names the first value out of its range.
func (s Scenario) Validate() error {
	if !s.Crank.Known() {
		return fmt.Errorf("handturn: crank, got none, want one from timing.NewCrank")
	}
	if err := s.Dial.Validate(); err != nil {
		return fmt.Errorf("handturn: %w", err)
	}
	b, h := s.Breaker, s.Hand
	for _, f := range []struct {
		what        string
		got, lo, hi float64
	}{
		{"cam ratio", b.CamRatio, 0.01, 1},
		{"lift [mm/degree]", b.Lift, 0.001, 1},
		{"scatter [degrees]", float64(b.Scatter), 0, 2},
		{"play [degrees]", float64(b.Play), 0, 10},
		{"lift at the crank [mm/degree]", b.Lift * b.CamRatio, 0.001, 1},
		{"near [degrees]", float64(h.Near), 0.01, 30},
		{"run-up [degrees]", float64(h.RunUp), float64(h.Near+b.Play+6*b.Scatter) + 1, 90},
		{"past [degrees]", float64(h.Past), 0.5, 20},
		{"nudge [degrees]", float64(h.Nudge), 0.01, 2},
		{"speed [degrees/s]", h.Speed, 0.05, 50},
		{"nudge speed [degrees/s]", h.NudgeSpeed, 0.05, 50},
		{"back speed [degrees/s]", h.BackSpeed, 0.05, 50},
		{"unsteadiness", h.Unsteady, 0, 0.5},
		{"halts", h.Halts, 0, 10},
		{"rest [s]", h.Rest, 0.05, 60},
		{"time between stages [s]", h.Between, 0, 3600},
		{"zero error [mm]", float64(h.ZeroError), 0, 1},
		{"stages", float64(len(s.Stages)), 1, 100},
	} {
		if !(f.got >= f.lo && f.got <= f.hi) {
			return fmt.Errorf("handturn: %s, got %v, want %v..%v", f.what, f.got, f.lo, f.hi)
		}
	}
	for i, st := range s.Stages {
		if err := s.validateStage(st); err != nil {
			return fmt.Errorf("handturn: stage %d: %w", i+1, err)
		}
	}
	return nil
}

func (s Scenario) validateStage(st Stage) error {
	switch {
	case st.Cylinder < 1:
		return fmt.Errorf("cylinder, got %d, want 1 or more", st.Cylinder)
	case !(st.Opens >= 0 && st.Opens <= 90):
		return fmt.Errorf("opening [degrees before top dead centre], got %v, want 0..90", float64(st.Opens))
	case !(st.Mark >= 0 && st.Mark <= 90):
		return fmt.Errorf("mark [degrees before top dead centre], got %v, want 0..90", float64(st.Mark))
	case st.Passes < 1 || st.Passes > 10000:
		return fmt.Errorf("passes, got %d, want 1..10000", st.Passes)
	}
	// The dial must follow from the first nudge on.
	travel, err := s.Crank.Travel(s.nudgesFrom(st))
	if err != nil {
		return err
	}
	mark, err := s.Crank.Travel(st.Mark)
	if err != nil {
		return err
	}
	_, err = s.Dial.Reading(travel, mark)
	return err
}

// nudgesFrom returns where the hand slows down: Near before the earliest place where scatter lets the points open.
func (s Scenario) nudgesFrom(st Stage) timing.Angle {
	return st.Opens + 6*s.Breaker.Scatter + s.Hand.Near
}
