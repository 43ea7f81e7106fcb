package cli

import (
	"fmt"
	"io"
	"math"
	"strings"

	"breakcue/timing"
	"breakcue/timing/sheet"
)

// sheetPage writes what sheets say, for people.
type sheetPage struct{ w io.Writer }

// say writes one point, wrapped.
func (p sheetPage) say(format string, args ...any) { wrapped(p.w, "  ", format, args...) }

// engine explains an engine sheet.
func (p sheetPage) engine(f engineFigures) {
	p.say("engine: %s, a %s with %s; the crank turns %s, seen from the breaker plate's side", f.Name, f.Cycle, cylinderWords(f.Cylinders), f.Rotation)
	p.crank(f)
	p.timing(f)
	p.advance(f)
	p.points(f)
	p.plate(f)
	p.safe(f)
}

// cylinderWords names cylinders: "cylinder only", "2 cylinders: left, right".
func cylinderWords(names []string) string {
	if len(names) == 1 {
		return fmt.Sprintf("one cylinder (%s)", names[0])
	}
	return fmt.Sprintf("%d cylinders: %s", len(names), strings.Join(names, ", "))
}

func (p sheetPage) crank(f engineFigures) {
	p.say("crank: stroke %.7g mm, rod %.7g mm between centres", f.StrokeMM, f.RodMM)
	if f.PinOffsetMM == 0 {
		p.say("pin: in line with the crank's centre, so the piston moves through its stroke of %.7g mm", f.StrokeMM)
		return
	}
	side := "after"
	if f.PinOffsetMM < 0 {
		side = "before"
	}
	p.say("pin: %.7g mm off the crank's centre, so the piston moves through %.4f mm, a little more than twice the crank radius, and its top dead centre comes %.3f° %s the crank's top position",
		math.Abs(f.PinOffsetMM), f.TrueStrokeMM, math.Abs(f.TDCDeg), side)
}

func (p sheetPage) timing(f engineFigures) {
	p.say("timing: the points must open %s before top dead centre (TDC): %s", f.Value, place(f.Mark))
	p.say("tolerance: plus or minus %s: from %s (the early end) to %s (the late end)", f.Tolerance, place(f.EarlyEnd), place(f.LateEnd))
	if f.Spread != "" {
		p.say("between the cylinders: at most %s from the earliest to the latest, at the mark %.3f mm = %.2f°", f.Spread, f.SpreadMM, f.SpreadDeg)
	}
	p.say("at the mark one degree of crank is %.3f mm of travel, and 0.01 mm of travel is %.3f°", f.SlopeMM, 0.01/f.SlopeMM)
}

// place says a place before top dead centre in every unit that people use.
func place(at sheetPlace) string {
	return fmt.Sprintf("%.3f mm = %.4f in of travel = %.2f° of crank", at.TravelMM, timing.Length(at.TravelMM).Inches(), at.AngleDeg)
}

// advance says in which state the figures hold, and what must be done for it.
func (p sheetPage) advance(f engineFigures) {
	held := "by what, the sheet does not say (hold)"
	if f.Hold != "" {
		held = "by: " + f.Hold
	}
	switch f.sheet.Timing.Advance {
	case timing.AdvanceFull:
		p.say("advance or retard: the figures hold with the weights at full travel, where they are not while the engine stands: hold them there for the whole job, %s; "+
			"take it out again before the engine is started", held)
	case timing.AdvanceAtRest:
		if f.Hold == "" {
			held = "nothing needs to hold them"
		} else {
			held = "held " + held + ", which must come out again"
		}
		p.say("advance or retard: the figures hold with the weights at rest, as they are while the engine stands; %s. See that their springs bring them quite home before each pass", held)
	default:
		p.say("advance or retard: none, so the figures hold as the engine stands")
	}
}

func (p sheetPage) points(f engineFigures) {
	for _, s := range f.Sets {
		which := "points: one set"
		if len(f.Sets) > 1 {
			which = fmt.Sprintf("points: set %d", s.Set)
		}
		serves := "cylinder " + s.Cylinders[0]
		if len(s.Cylinders) > 1 {
			serves = "cylinders " + strings.Join(s.Cylinders, ", ") + " in turn"
		}
		coil := ""
		if s.Coil != "" {
			coil = "; coil: " + s.Coil
		}
		p.say("%s, for %s%s", which, serves, coil)
	}
	p.say("gap: %.4g mm = %.4g in at full lift; set it first, for it moves the timing", f.GapMM, timing.Length(f.GapMM).Inches())
	switch {
	case f.CamRatio == 0.5:
		p.say("cam: turns once for two turns of the crank, %s, so the points open for a cylinder at every second TDC only, that of its compression stroke: "+
			"when they do not open near the mark, turn the crank once more", f.CamRotation)
	case f.Cycle == sheet.FourStroke:
		p.say("cam: turns as fast as the crank, %s, so the points open at each TDC, on the compression stroke and on the other one alike", f.CamRotation)
	default:
		p.say("cam: turns as fast as the crank, %s, so the points open once in each turn", f.CamRotation)
	}
}

// plate says what moving a plate does.
func (p sheetPage) plate(f engineFigures) {
	which := "the plate"
	if len(f.Sets) > 1 {
		which = "a plate"
	}
	rim := func(mm *float64) string {
		if mm == nil {
			return ""
		}
		return fmt.Sprintf(" = %.2f mm at its rim, %.4g mm from the centre", *mm, f.PlateRadiusMM)
	}
	p.say("plate: for one degree of crank %s moves by %.1f°%s", which, f.PlatePerDeg, rim(f.RimPerDeg))
	p.say("plate: from one end of the tolerance to the other it is %.2f°%s; moved %s, against the cam, it makes the points open earlier",
		f.PlateTolerance, rim(f.RimTolerance), f.CamRotation.Other())
}

// safe says how the engine is made safe, and how the cable goes on.
func (p sheetPage) safe(f engineFigures) {
	const across = "the cable then goes across (--wiring shunt), with a tone of 2 to 5 kHz"
	switch f.sheet.Ignition {
	case sheet.Battery:
		p.say("ignition: by battery: switch it off, disconnect the battery and take each coil's lead off its points before the cable goes on")
	case sheet.Magneto:
		coil := "take its source coil off the points, if it can be; if not, " + across
		switch f.sheet.SourceCoil {
		case sheet.ComesOff:
			coil = "take its source coil off the points"
		case sheet.StaysOn:
			coil = "its source coil stays on the points: " + across
		}
		p.say("ignition: by magneto: the stop switch earths the points when it says \"off\", so open it or take its wire off; %s", coil)
	default:
		p.say("ignition: the sheet does not say whether by battery or magneto (ignition), so read both under Safety in the README")
	}
}

// dial explains a dial sheet.
func (p sheetPage) dial(f dialFigures) {
	d := f.sheet
	name := d.Name
	if name == "" {
		name = "without a name"
	}
	p.say("dial: %s, %s from end to end: %.4g turns of the pointer", name, d.Format(d.Range), f.Turns)
	p.say("face: one graduation %s, %d to the turn of %s; a reading typed without a unit is in %s",
		d.Format(d.Graduation), f.Graduations, d.Format(d.PerRevolution), map[timing.Unit]string{timing.Millimetre: "millimetres", timing.Inch: "inches"}[d.Unit])
	zero := "top dead centre: readings say how far the piston still has to go"
	if d.Zero == timing.ZeroMark {
		zero = "the mark: readings say how far it is to the specified place, with a minus sign past it"
	}
	p.say("zero: at %s", zero)
	p.say("figures: they rise as the plunger goes %s; at zero counter and pointer show %s", f.Counting, f.FaceAtZero)
	if f.PreloadMM != nil {
		p.say("plunger: pressed in by %s at top dead centre, so it follows the piston down only so far", d.Format(d.Preload))
	} else {
		p.say("plunger: how far it is pressed in at top dead centre the sheet does not say (preload)")
	}
	if f.PlungerAngleDeg == 0 && f.CrownSlopeDeg == 0 {
		p.say("hole: in line with the bore: the plunger moves as the piston does")
	} else {
		p.say("hole: the plunger leans %.4g° (give or take %.4g°) on a crown that slopes %.4g° (give or take %.4g°): it moves %.4f mm for each millimetre of piston travel",
			f.PlungerAngleDeg, d.PlungerAngleU, f.CrownSlopeDeg, d.CrownSlopeU, f.Ratio)
	}
	from := "by its sheet"
	if f.Assumed {
		from = "taken for a good dial of its range (JIS B 7503), because the sheet does not say (max_error)"
	}
	p.say("limit of error: plus or minus %s, %s", d.Format(d.MaxError), from)
	p.say("between near readings: plus or minus %s within a tenth of a turn, %s within half a turn, %s within a turn; hysteresis %s, repeatability %s",
		d.Format(timing.Length(f.ErrorWithinMM[0])), d.Format(timing.Length(f.ErrorWithinMM[1])), d.Format(timing.Length(f.ErrorWithinMM[2])),
		d.Format(d.Hysteresis), d.Format(d.Repeatability))
	if d.ExtensionGive > 0 {
		p.say("extension: may give by plus or minus %s", d.Format(d.ExtensionGive))
	}
}

// pair says what the dial shows on this engine.
func (p sheetPage) pair(c checkedPair) {
	r := *c.Plan
	d, plan := r.setup.Dial, r.plan
	face := func(at timing.Place) string { return plan[at].Face.String() }
	p.say("counter and pointer show %s at the mark, and %s at top dead centre", face(timing.AtMark), face(timing.AtTDC))
	p.say("the points must open between %s (the early end of the tolerance) and %s (the late end): at most %.1f graduations before the mark and %.1f past it",
		face(timing.EarlyEnd), face(timing.LateEnd), r.EarlyGraduations, r.LateGraduations)
	p.say("one graduation at the mark is %.3f° of crank; an approach starts at %s or before", r.GraduationDeg, face(timing.Start))
	if d.Preload > 0 {
		p.say("pressed in %s at top dead centre; the approach needs %s", d.Format(d.Preload), d.Format(ceilTo(plan[timing.Start].Movement, d.Graduation)))
	}
	for _, c := range r.Caveats {
		if c.Code != "dial_unchecked" { // said of the dial
			p.say("note: %s", c.Message)
		}
	}
	p.say("'breakcue dial --engine %s --dial %s' shows how this is worked out", shellWord(c.Engine), shellWord(c.Dial))
}
