package handturn

import (
	"math"
	"math/rand/v2"

	"breakcue/timing"
)

// Run carries the scenario out. It fails where Validate does, and where the dial cannot show a place that the hand got to.
// The same scenario gives the same run.
func (s Scenario) Run() (Run, error) {
	if err := s.Validate(); err != nil {
		return Run{}, err
	}
	e := s.engine()
	var run Run
	for i, st := range s.Stages {
		if i > 0 {
			e.now += s.Hand.Between
		}
		sr, err := e.stage(st)
		if err != nil {
			return Run{}, err
		}
		run.Stages = append(run.Stages, sr)
	}
	run.Duration, run.Changes = e.now, e.changes
	return run, nil
}

// engine is the simulation in progress.
type engine struct {
	Scenario
	rng       *rand.Rand
	now       float64 // [s]
	crank     float64 // crank degrees past top dead centre, negative before it
	cam       float64 // where the cam stands, in the same measure: behind the crank by 0..play
	opens     float64 // where the cam begins to part the points, in the same measure
	closed    bool
	changes   []Change
	path      []Point
	breaks    []Break       // of the pass in progress
	dialError timing.Length // of the dial at the mark
	zeroError timing.Length // of the stage's zero
}

const (
	step     = 0.002 // mean time between two chances for parting contacts to make or break [s]
	slice    = 0.05  // time for which a speed is kept [s]
	longStep = 0.01  // [s]
	// shortStep is the shortest step [s].
	shortStep = 1e-6
)

func (e *engine) stage(st Stage) (StageRun, error) {
	sr := StageRun{Stage: st, From: e.now}
	start := e.begin(st)
	for range st.Passes {
		p, err := e.pass(st, start)
		if err != nil {
			return StageRun{}, err
		}
		sr.Passes = append(sr.Passes, p)
	}
	sr.To, sr.Path = e.now, e.path
	return sr, nil
}

// pass makes one approach and turns back to start.
func (e *engine) pass(st Stage, start float64) (Pass, error) {
	p := Pass{From: e.now, Opens: st.Opens + timing.Angle(e.clipped())*e.Breaker.Scatter}
	e.opens, e.breaks = -float64(p.Opens), nil

	slow := -float64(e.nudgesFrom(st))
	for range e.halts() {
		e.turn(e.crank+e.rng.Float64()*(slow-e.crank)/2, e.Hand.Speed)
		e.rest()
	}
	e.turn(slow, e.Hand.Speed)
	e.rest()
	before := e.crank
	for len(e.breaks) == 0 {
		before = e.crank
		e.nudge()
		e.rest()
	}
	p.ReadAt = e.now
	p.First, p.Last = e.breaks[0], e.breaks[len(e.breaks)-1]
	var err error
	if p.Reading, p.LastClosed, p.FirstOpen, err = e.read(st, before); err != nil {
		return Pass{}, err
	}
	e.turn(e.crank+float64(e.Hand.Past), e.Hand.Speed)
	e.rest()
	e.turn(start, e.Hand.BackSpeed)
	e.rest()
	p.To = e.now
	return p, nil
}

// nudge turns the crank a little. A nudge in which the points part goes on until they stay open.
func (e *engine) nudge() {
	e.turn(e.crank+float64(e.Hand.Nudge)*e.factor(), e.Hand.NudgeSpeed)
	for gap := e.gap(); gap > 0 && gap < NoisyGap; gap = e.gap() {
		e.turn(e.crank+float64(e.Hand.Nudge)/4, e.Hand.NudgeSpeed)
	}
}

// turn turns the crank to an angle at about the speed given [degrees/s].
func (e *engine) turn(to, speed float64) {
	dir := 1.0
	if to < e.crank {
		dir = -1
	}
	for e.crank != to {
		v := dir * speed * e.factor()
		for end := e.now + slice; e.now < end && e.crank != to; {
			dt := min(longStep, step*(0.05+e.rng.ExpFloat64()))
			if left := (to - e.crank) / v; dt >= left {
				// The last step ends exactly at the target; no shorter than a microsecond, so that time always passes. One that is
				// made longer is slower than the rest, so the path has a point before it.
				if left < shortStep {
					e.note()
				}
				e.now += max(left, shortStep)
				e.crank = to
			} else {
				e.now += dt
				e.crank += v * dt
			}
			e.follow(dir > 0)
		}
		e.note()
	}
}

// follow lets cam and contacts follow the crank.
func (e *engine) follow(forward bool) {
	e.cam = min(max(e.cam, e.crank), e.crank+float64(e.Breaker.Play))
	gap := e.gap()
	closed := gap <= 0
	if gap > 0 && gap < NoisyGap {
		closed = e.rng.Float64() < 1-gap/NoisyGap
		if !forward {
			closed = closed || e.closed
		}
	}
	if closed == e.closed {
		return
	}
	e.closed = closed
	e.changes = append(e.changes, Change{e.now, closed})
	if !closed {
		e.breaks = append(e.breaks, Break{At: e.now, Angle: timing.Angle(-e.crank), Travel: e.travel(e.crank)})
	}
}

// gap returns how far the cam has opened the points [mm], 0 or less where it has not.
func (e *engine) gap() float64 { return (e.cam - e.opens) * e.Breaker.CamRatio * e.Breaker.Lift }

// travel returns the piston's travel before top dead centre, for a crank within the range that Validate allows.
func (e *engine) travel(crank float64) timing.Length {
	l, err := e.Crank.Travel(timing.Angle(-crank))
	if err != nil {
		panic("handturn: " + err.Error())
	}
	return l
}

// rest lets the crank stand still.
func (e *engine) rest() {
	e.now += e.Hand.Rest * e.factor()
	e.note()
}

// note adds a point to the path, once for each instant.
func (e *engine) note() {
	if n := len(e.path); n == 0 || e.path[n-1].At < e.now {
		e.path = append(e.path, Point{e.now, timing.Angle(-e.crank)})
	}
}

// factor returns a random number of mean 1, never near or below 0.
func (e *engine) factor() float64 { return max(0.1, 1+e.Hand.Unsteady*e.rng.NormFloat64()) }

// clipped returns a standard normal number within ±5.
func (e *engine) clipped() float64 { return max(-5, min(5, e.rng.NormFloat64())) }

// halts returns how often the hand halts in a run-up: a Poisson number, by counting exponential waits.
func (e *engine) halts() int {
	n := 0
	for t := e.rng.ExpFloat64(); t < e.Hand.Halts; t += e.rng.ExpFloat64() {
		n++
	}
	return n
}

// read returns what the hand types for the rests before and after the opening, and the true travels there.
func (e *engine) read(st Stage, before float64) (text string, closed, open timing.Length, err error) {
	mark := e.travel(-float64(st.Mark))
	closed, open = e.travel(before), e.travel(e.crank)
	shownClosed, err := e.show(closed, mark)
	if err != nil {
		return "", 0, 0, err
	}
	shownOpen, err := e.show(open, mark)
	if err != nil {
		return "", 0, 0, err
	}
	// Repeatability may turn a very narrow bracket round; nobody types that.
	shownOpen = math.Min(shownOpen, shownClosed)
	return typed(e.Dial, shownClosed) + "/" + typed(e.Dial, shownOpen), closed, open, nil
}
