package timing

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Lines returns the advice for people, one step a line, in the order in which to take them; at least one for each plate.
// Nothing in them has a bare sign. Caveats are not among them.
func (a Advice) Lines() []string {
	var out []string
	moves := slices.ContainsFunc(a.Moves, func(m Move) bool { return m.Action == MovePlate })
	if moves {
		out = append(out, a.Gap.words())
	}
	for _, m := range a.Moves {
		out = append(out, a.line(m))
	}
	if !moves {
		return out
	}
	if len(a.Moves) > 1 {
		out = append(out, fmt.Sprintf("then check the first set (%s) again", cylinders(a.Moves[0].Cylinders)))
	}
	return append(out, "tightening moves the setting: measure again, as left")
}

// line says what to do with one plate.
func (a Advice) line(m Move) string {
	before, plate := "", "it"
	switch m.Plate {
	case BreakerPlate:
		plate = "the breaker plate"
	case BasePlate:
		all := "all sets of points"
		if len(a.Moves) == 2 {
			all = "both sets of points"
		}
		before = fmt.Sprintf("base plate first, for the first set (%s), because it moves %s: ", cylinders(m.Cylinders), all)
	case OwnPlate:
		which := "next"
		if m.Set == 2 {
			which = "second"
		}
		before = fmt.Sprintf("then the %s set (%s) on its own", which, cylinders(m.Cylinders))
		if a.Moves[0].Action == MovePlate && m.Action != NotMeasured {
			before += ", with the base plate moved so far"
		}
		before += ": "
	}
	switch m.Action {
	case NotMeasured:
		if m.Plate == OwnPlate && a.Moves[0].Action == MovePlate {
			return before + "not yet; measure " + cylinders(m.Cylinders) + " as found before the base plate is moved, which moves these points too"
		}
		return before + "leave " + plate + " alone until there is a measurement of " + cylinders(m.Cylinders)
	case LeavePlate:
		return before + "leave " + plate + " alone, the timing is in tolerance"
	case MeasureAgain:
		return before + fmt.Sprintf("leave %s alone for now, whether the points open too early or too late cannot be told (%s to %s, in degrees of crank); measure again",
			plate, sided(m.CrankInterval[0]), sided(m.CrankInterval[1]))
	}
	return before + "move " + plate + " " + a.howFar(m)
}

// howFar says how far and which way a plate is to be moved.
func (a Advice) howFar(m Move) string {
	way := "with"
	if m.Turn < 0 {
		way = "against"
	}
	// The sense comes first: behind "against the cam's rotation" it could be taken for the cam's.
	out := fmt.Sprintf("%s %s seen from the plate's side, %s the cam's rotation", degreesWords(m.Turn), m.Sense, way)
	between := rangeWords(float64(m.TurnInterval[0]), float64(m.TurnInterval[1]), func(x float64) string { return degreesWords(Angle(x)) })
	if m.Rim != nil {
		where := "at its rim, %g mm from the centre"
		if m.Plate == OwnPlate {
			where = "of arc, %g mm from the cam's centre"
		}
		out += fmt.Sprintf(": %s "+where, lengthWords(*m.Rim), a.breaker.PlateRadius)
		between += ", " + rangeWords(float64(m.RimInterval[0]), float64(m.RimInterval[1]), func(x float64) string { return lengthWords(Length(x)) })
	}
	out += fmt.Sprintf("; %.0f %% interval %s", 100*m.Coverage, between)
	if m.Unproven {
		out += "; or leave it, for the timing may be in tolerance as it is"
	}
	return out
}

// Brief says the move in a few words: "move the base plate 1.4° clockwise"; it is empty when there is nothing to move.
func (m Move) Brief() string {
	if m.Action != MovePlate {
		return ""
	}
	plate := map[Plate]string{BreakerPlate: "the breaker plate", BasePlate: "the base plate", OwnPlate: "its own plate"}[m.Plate]
	return fmt.Sprintf("move %s %s %s", plate, degreesWords(m.Turn), m.Sense)
}

// words tells that the gap comes first, and what it would do.
func (e GapEffect) words() string {
	return fmt.Sprintf("first the gap, %s at full lift: %s more of it opens the points about %s to %s of crank earlier (%s to %s of travel), "+
		"as much less of it as much later; after a change measure again before any plate is moved, and never correct the timing by the gap",
		lengthWords(e.Gap), lengthWords(e.Change), wholeDegrees(e.Crank[0]), wholeDegrees(e.Crank[1]), lengthWords(e.Travel[0]), lengthWords(e.Travel[1]))
}

// rangeWords returns a range without signs, the smaller size first.
func rangeWords(lo, hi float64, words func(float64) string) string {
	lo, hi = math.Abs(lo), math.Abs(hi)
	return words(min(lo, hi)) + " to " + words(max(lo, hi))
}

// sided returns an error of crank angle without a sign.
func sided(a Angle) string {
	if a < 0 {
		return degreesWords(a) + " too late"
	}
	return degreesWords(a) + " too early"
}

// degreesWords returns the size of an angle as a hand can use it: to 0.1°, or to 0.01° below 1°.
func degreesWords(a Angle) string {
	switch x := math.Abs(float64(a)); {
	case x >= 0.995:
		return fmt.Sprintf("%.1f°", x)
	case x >= 0.005:
		return fmt.Sprintf("%.2f°", x)
	}
	return "less than 0.01°"
}

func wholeDegrees(a Angle) string { return fmt.Sprintf("%.0f°", float64(a)) }

// lengthWords returns the size of a length to 0.01 mm.
func lengthWords(l Length) string {
	if x := math.Abs(float64(l)); x >= 0.005 {
		return fmt.Sprintf("%.2f mm", x)
	}
	return "less than 0.01 mm"
}

func cylinders(names []string) string {
	if len(names) == 1 {
		return "cylinder " + names[0]
	}
	return "cylinders " + strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}
