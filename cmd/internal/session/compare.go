package session

import (
	"fmt"
	"math"
	"slices"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Shift is how far the points of a cylinder open from where they were found, after the work.
type Shift struct {
	Cylinder string `json:"cylinder"`
	Difference
	// ZeroedAnew tells that the dial was set to zero anew in between: another cylinder was measured, or TDC was found anew.
	ZeroedAnew bool `json:"zeroed_anew"`
}

// Spread is how far the cylinders lie apart in a phase.
type Spread struct {
	Phase logbook.Phase `json:"phase"`
	Early string        `json:"earliest"` // cylinder
	Late  string        `json:"latest"`
	Difference
	// What is specified, as the full difference allowed, and what comes of it; null where nothing is.
	ToleranceMM *float64 `json:"tolerance_mm"`
	Verdict     *string  `json:"verdict"`
	InTolerance *float64 `json:"probability_in_tolerance"`
}

// Difference is how much earlier one opens than the other; negative is later.
type Difference struct {
	MM            float64    `json:"difference_mm"`
	UncertaintyMM float64    `json:"uncertainty_mm"` // standard uncertainty
	IntervalMM    [2]float64 `json:"interval_mm"`
	Coverage      float64    `json:"coverage"`
}

func newDifference(e timing.Estimate[timing.Length]) Difference {
	return Difference{
		MM: float64(e.Value), UncertaintyMM: float64(e.U), Coverage: e.Coverage,
		IntervalMM: [2]float64{float64(e.Interval[0]), float64(e.Interval[1])},
	}
}

// compare puts what the results say of each other into the report: before and after, between cylinders, and what to move.
func (b *builder) compare() error {
	setup, engine := b.sheets.Setup, b.sheets.Engine
	of := func(cylinder string, phase logbook.Phase) (timing.Result, bool) {
		return b.result(logbook.Place{Cylinder: cylinder, Phase: phase})
	}
	measured := make([]timing.Measured, len(engine.Cylinders))
	for i, name := range engine.Cylinders {
		found, wasFound := of(name, logbook.AsFound)
		left, wasLeft := of(name, logbook.AsLeft)
		measured[i].Cylinder = name
		now, _, _ := b.last(name)
		measured[i].Error, measured[i].Verdict = now.ErrorAngle, now.Verdict
		if wasFound && wasLeft {
			z := timing.SameZero
			if b.zeroedBetween(name) {
				z = timing.ZeroedAnew
			}
			b.report.Shifts = append(b.report.Shifts, Shift{name, newDifference(setup.Difference(left, found, z)), z == timing.ZeroedAnew})
		}
	}
	for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
		all := make([]timing.Result, len(engine.Cylinders))
		for i, name := range engine.Cylinders {
			all[i], _ = of(name, phase)
		}
		s, ok := setup.Spread(all)
		switch {
		case !ok:
		case phase == logbook.AsFound && b.movedAmongFound():
			if setup.Target.Spread == 0 {
				break // nobody has asked
			}
			b.caveat("found_at_different_settings", "how far the cylinders lay apart as found is not known, because a plate was moved before all were "+
				"measured; measure every cylinder as found before the first plate is moved")
		default:
			b.report.Spreads = append(b.report.Spreads, newSpread(setup, s, phase, engine.Cylinders))
		}
	}
	if !b.report.Measured() {
		return nil
	}
	advice, err := engine.Breaker.Advise(engine.Crank, setup.Target.Angle, measured)
	if err != nil {
		return err
	}
	b.report.Advice = &Advice{Moves: advice.Moves, Gap: advice.Gap, Lines: append(b.gapChanged(), advice.Lines()...), Caveats: advice.Caveats}
	return nil
}

// result returns what was measured at a place; ok is false when nothing was.
func (b *builder) result(at logbook.Place) (r timing.Result, ok bool) {
	i := slices.IndexFunc(b.series, func(s series) bool { return s.place == at })
	if i < 0 || !b.results[i].Error.Known() {
		return timing.Result{}, false
	}
	return b.results[i], true
}

// last returns what is known last of a cylinder: as left; or as found, when no plate was moved after that.
func (b *builder) last(cylinder string) (r timing.Result, phase logbook.Phase, ok bool) {
	if r, ok = b.result(logbook.Place{Cylinder: cylinder, Phase: logbook.AsLeft}); ok {
		return r, logbook.AsLeft, true
	}
	if b.movedAfter(cylinder) {
		return timing.Result{}, "", false
	}
	r, ok = b.result(logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound})
	return r, logbook.AsFound, ok
}

func newSpread(setup timing.Setup, s timing.Spread, phase logbook.Phase, cylinders []string) Spread {
	out := Spread{Phase: phase, Early: cylinders[s.Early], Late: cylinders[s.Late], Difference: newDifference(s.Difference)}
	if tolerance := float64(setup.Target.Spread); tolerance > 0 {
		verdict, probability := s.Verdict.String(), s.InTolerance
		out.ToleranceMM, out.Verdict, out.InTolerance = &tolerance, &verdict, &probability
	}
	return out
}

// visitedBetween tells that another cylinder was read after a cylinder was as found and before it was as left.
func (b *builder) visitedBetween(cylinder string) bool {
	last := -1 // place of the last reading as found
	for i, p := range b.visits {
		if p.Cylinder != cylinder {
			continue
		}
		if p.Phase == logbook.AsLeft {
			return last >= 0 && slices.ContainsFunc(b.visits[last:i], func(q logbook.Place) bool { return q.Cylinder != cylinder })
		}
		last = i
	}
	return false
}

// movedAfter tells that a plate was moved after a cylinder was last read as found: then what it was found like is history,
// because the base plate moves every set of points. The first reading of some cylinder as left tells that one was.
func (b *builder) movedAfter(cylinder string) bool {
	found, moved := -1, -1 // places of the last of each
	left := map[string]bool{}
	for i, p := range b.visits {
		switch {
		case p.Phase == logbook.AsLeft && !left[p.Cylinder]:
			left[p.Cylinder], moved = true, i
		case p.Phase == logbook.AsFound && p.Cylinder == cylinder:
			found = i
		}
	}
	return moved > found
}

// movedAmongFound tells that a plate was moved between the readings as found of the cylinders.
func (b *builder) movedAmongFound() bool {
	moved := false
	for _, p := range b.visits {
		if p.Phase == logbook.AsFound && moved {
			return true
		}
		moved = moved || p.Phase == logbook.AsLeft
	}
	return false
}

// words says how much earlier or later one opens than the other: "0.28 mm later than as found (95 % interval: 0.19 to 0.37 mm
// later)".
func (d Difference) words(than string) string {
	out := "at the same place, to 0.01 mm, as"
	switch x := math.Round(d.MM * 100); {
	case x > 0:
		out = fmt.Sprintf("%.2f mm earlier than", d.MM)
	case x < 0:
		out = fmt.Sprintf("%.2f mm later than", -d.MM)
	}
	return fmt.Sprintf("%s %s (%.0f %% interval: %s)", out, than, 100*d.Coverage, apart(d.IntervalMM[0], d.IntervalMM[1], "later", "earlier"))
}

func (p *printer) shift(s Shift) {
	p.sentence("  ", "cylinder %s opens %s", s.Cylinder, s.words("as found"))
	if s.ZeroedAnew {
		p.sentence("  ", "note: the dial was set to zero anew in between, for another cylinder or to find TDC anew")
	}
}

func (p *printer) spread(s Spread) {
	p.sentence("", "between cylinders, %s: %s opens %s", s.Phase.Words(), s.Early, s.words(s.Late))
	if s.Verdict == nil {
		return
	}
	said := map[string]string{
		timing.InTolerance.String(): "in tolerance", timing.OutOfTolerance.String(): "out of tolerance", timing.CannotTell.String(): "cannot tell yet",
	}[*s.Verdict]
	p.sentence("  ", "verdict: %s, at most %.2f mm apart allowed (probability in tolerance: %s)", said, *s.ToleranceMM, Percent(*s.InTolerance))
}
