package handturn

import (
	"fmt"
	"math/rand/v2"

	"breakcue/timing"
)

// Turning is a Scenario in which somebody says pass by pass what comes next: its stages are only the first that may come. Make
// one with Begin. Times go on from stage to stage and from pass to pass as in Run, which makes the same passes of the same stages.
type Turning struct {
	engine *engine
	stage  Stage
	start  float64 // where a pass begins [crank degrees past top dead centre]
}

// Begin gets ready to turn, and goes to the first stage. It fails where Validate does. The same scenario and the same calls
// give the same passes.
func (s Scenario) Begin() (*Turning, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	t := &Turning{engine: s.engine()}
	t.begin(s.Stages[0])
	return t, nil
}

// Go goes to another stage, or to the same with a dial that is zeroed anew, after the time between stages. Passes of the stage
// are checked but not counted. It fails where Validate would for a scenario with this stage; then the stage stays as it is.
func (t *Turning) Go(to Stage) error {
	if err := t.engine.validateStage(to); err != nil {
		return fmt.Errorf("handturn: %w", err)
	}
	t.engine.now += t.engine.Hand.Between
	t.begin(to)
	return nil
}

func (t *Turning) begin(st Stage) { t.stage, t.start = st, t.engine.begin(st) }

// Pass makes one pass, and returns it with the changes of the contacts within it, which are closed in the beginning and in
// the end. It fails where the dial cannot show a place that the hand got to.
func (t *Turning) Pass() (Pass, []Change, error) {
	e := t.engine
	e.changes, e.path = nil, nil
	p, err := e.pass(t.stage, t.start)
	return p, e.changes, err
}

// engine returns the simulation before its first stage.
func (s Scenario) engine() *engine {
	e := &engine{Scenario: s, rng: rand.New(rand.NewPCG(s.Seed, 11)), closed: true}
	e.dialError = timing.Length(2*e.rng.Float64()-1) * s.Dial.MaxError
	return e
}

// begin brings the engine to the start of a stage, and returns where that is [crank degrees past top dead centre].
func (e *engine) begin(st Stage) float64 {
	e.path = nil
	e.zeroError = timing.Length(e.rng.NormFloat64()) * e.Hand.ZeroError
	start := -float64(st.Opens + e.Hand.RunUp)
	// The engine was brought here backwards, so the play is on the far side.
	e.crank, e.cam, e.opens = start, start+float64(e.Breaker.Play), -float64(st.Opens)
	e.note()
	e.rest()
	return start
}
