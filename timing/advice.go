package timing

import (
	"fmt"
	"math"
	"slices"
)

// Measured is what the readings of one cylinder say, as far as advice needs it.
type Measured struct {
	Cylinder string          // its name
	Error    Estimate[Angle] // in degrees of crank, positive = early; not Known where nothing was measured
	Verdict  Verdict
}

// Plate says which plate a move is about.
type Plate string

// The plates. With one set of points there is one; with several, the base plate carries them all, and every set but the
// first can be moved on the base plate by itself.
const (
	BreakerPlate Plate = "breaker_plate"
	BasePlate    Plate = "base_plate"
	OwnPlate     Plate = "own_plate"
)

// Action says what to do with a plate.
type Action string

// The actions.
const (
	MovePlate    Action = "move"
	LeavePlate   Action = "leave"   // the timing is in tolerance
	MeasureAgain Action = "measure" // leave the plate until more passes tell whether the points open early or late
	NotMeasured  Action = "none"    // no cylinder of this set was measured
)

// Move is what to do with one plate. Figures are signed: positive is with the cam's rotation, which makes the points open
// later and so takes away an error that is positive (early). All are 0 with NotMeasured.
type Move struct {
	Plate     Plate    `json:"plate"`
	Set       int      `json:"set"`       // from 1
	Cylinders []string `json:"cylinders"` // of that set
	Action    Action   `json:"action"`
	// Sense is how the plate is to be turned, seen from its own side; empty unless it is to be moved.
	Sense Rotation `json:"sense,omitempty"`
	// Unproven tells of a plate to be moved that no cylinder of the set is proven out of tolerance: it may do as it is.
	Unproven bool `json:"unproven"`
	// Crank is the error that the move takes away, in degrees of crank, Turn the plate's angle about the cam's centre.
	Crank         Angle    `json:"crank_deg"`
	CrankInterval [2]Angle `json:"crank_interval_deg"`
	Turn          Angle    `json:"plate_deg"`
	TurnInterval  [2]Angle `json:"plate_interval_deg"`
	// Rim is the arc of Turn at the radius of the breaker plate's (or base plate's) rim, nil when that is not known.
	Rim         *Length    `json:"rim_mm"`
	RimInterval *[2]Length `json:"rim_interval_mm"`
	Coverage    float64    `json:"coverage"` // of the intervals
}

// Advice says which plates to move, in order: the base plate first, because it moves every set of points.
type Advice struct {
	Moves   []Move    `json:"moves"`
	Gap     GapEffect `json:"gap"`
	Caveats []Caveat  `json:"caveats"`
	breaker Breaker
}

// Most breaker plates have slots for about ten degrees either way (common practice).
const plateSlot Angle = 10

// Advise says how to move the plates so that the points open at the mark. measured has one entry for each cylinder in the
// engine's order, known or not; mark is the specified crank angle. The plate moves as far as the cam turns while the crank
// turns by the error,
//
//	turn = error · cam ratio,   arc at the rim = radius · turn,
//
// with the cam's rotation where the points open early, and against it where they open late (common practice: moving the
// plate against the cam's rotation advances). A set that several cylinders share is set for the middle between its earliest and
// its latest. What is left of the error of a set after the base plate has been moved has the interval of its own error
// alone, because how far the plate is moved is chosen, not measured. A plate is left alone where all its cylinders are in
// tolerance and it has not been moved with the base plate, or where the interval holds zero.
//
// It is an error when the breaker is not valid, when the sets do not divide the cylinders, when an error is not finite, or
// when the crank is not known or cannot reach the mark.
func (b Breaker) Advise(c Crank, mark Angle, measured []Measured) (Advice, error) {
	if err := b.Validate(); err != nil {
		return Advice{}, err
	}
	if len(measured) == 0 || len(measured)%b.Sets != 0 {
		return Advice{}, wrong("cylinders", fmt.Sprint(len(measured)), "as many for each of the %d sets of points", b.Sets)
	}
	for _, m := range measured {
		if e := m.Error; e.Known() && !(finite(float64(e.Value)) && finite(float64(e.Interval[0])) && finite(float64(e.Interval[1]))) {
			return Advice{}, wrong("error of cylinder "+m.Cylinder, deg(e.Value), "a finite number with a finite interval")
		}
	}
	effect, err := b.gapEffect(c, mark)
	if err != nil {
		return Advice{}, err
	}
	a := Advice{Moves: []Move{}, Gap: effect, Caveats: []Caveat{}, breaker: b}
	var base Angle // what the base plate takes from the error of every set
	for set := range b.Sets {
		var own []Measured
		for i := set; i < len(measured); i += b.Sets {
			own = append(own, measured[i])
		}
		m := b.move(set, own, base)
		if set == 0 && m.Action == MovePlate {
			base = m.Crank
		}
		a.Moves = append(a.Moves, m)
		a.Caveats = append(a.Caveats, caveatsOf(m, own)...)
	}
	return a, nil
}

// move works out the move of a set, counted from 0, of which the base plate has already taken away an error of base.
func (b Breaker) move(set int, own []Measured, base Angle) Move {
	m := Move{Plate: OwnPlate, Set: set + 1, Action: NotMeasured}
	switch {
	case b.Sets == 1:
		m.Plate = BreakerPlate
	case set == 0:
		m.Plate = BasePlate
	}
	for _, c := range own {
		m.Cylinders = append(m.Cylinders, c.Cylinder)
	}
	early, late, n := extremes(own)
	if n == 0 {
		return m
	}
	m.Coverage = early.Error.Coverage
	m.Crank = (early.Error.Value+late.Error.Value)/2 - base
	for i := range m.CrankInterval {
		m.CrankInterval[i] = (early.Error.Interval[i]+late.Error.Interval[i])/2 - base
	}
	m.scale(b)
	switch {
	case base == 0 && allInTolerance(own):
		m.Action = LeavePlate
	case m.CrankInterval[0] <= 0 && m.CrankInterval[1] >= 0:
		m.Action = MeasureAgain
	default:
		m.Action, m.Sense = MovePlate, b.Cam
		m.Unproven = base == 0 && !slices.ContainsFunc(own, func(c Measured) bool { return c.Verdict == OutOfTolerance })
		if m.Crank < 0 {
			m.Sense = b.Cam.Other()
		}
	}
	return m
}

// scale works out what the plate does from what the crank does.
func (m *Move) scale(b Breaker) {
	ratio := Angle(b.CamRatio)
	m.Turn = m.Crank * ratio
	m.TurnInterval = [2]Angle{m.CrankInterval[0] * ratio, m.CrankInterval[1] * ratio}
	if b.PlateRadius == 0 {
		return
	}
	arc := func(a Angle) Length { return b.PlateRadius * Length(a.Radians()) }
	rim := arc(m.Turn)
	m.Rim, m.RimInterval = &rim, &[2]Length{arc(m.TurnInterval[0]), arc(m.TurnInterval[1])}
}

// extremes returns the earliest and the latest of those measured, and how many were.
func extremes(own []Measured) (early, late Measured, n int) {
	for _, c := range own {
		if !c.Error.Known() {
			continue
		}
		if n == 0 || c.Error.Value > early.Error.Value {
			early = c
		}
		if n == 0 || c.Error.Value < late.Error.Value {
			late = c
		}
		n++
	}
	return early, late, n
}

func allInTolerance(own []Measured) bool {
	for _, c := range own {
		if c.Error.Known() && c.Verdict != InTolerance {
			return false
		}
	}
	return true
}

// caveatsOf tells what a move cannot do, and what it rests on.
func caveatsOf(m Move, own []Measured) []Caveat {
	var out []Caveat
	early, late, n := extremes(own)
	for _, c := range own {
		if n > 0 && !c.Error.Known() { // with none, the move itself says so
			out = append(out, Caveat{"not_measured", fmt.Sprintf("cylinder %s is not measured; the advice for the points that it shares rests on the others", c.Cylinder)})
		}
	}
	if n > 1 {
		out = append(out, Caveat{"shared_points", fmt.Sprintf("cylinders %s and %s open the same points, so their difference of %s of crank stays, "+
			"wherever the plate is; it lies in the cam's lobes, in its shaft or in the readings",
			early.Cylinder, late.Cylinder, degreesWords(early.Error.Value-late.Error.Value))})
	}
	if m.Action == MovePlate && math.Abs(float64(m.Turn)) > float64(plateSlot) {
		out = append(out, Caveat{"large_move", fmt.Sprintf("%s is further than most plates can be moved; look first at the gap, "+
			"at which cylinder and dead centre were measured, and at the sheet's rotation and cam ratio", degreesWords(m.Turn))})
	}
	return out
}
