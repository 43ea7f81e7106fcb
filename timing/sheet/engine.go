package sheet

import (
	"slices"
	"strconv"
	"strings"

	"breakcue/timing"
)

// Cycle says how many strokes an engine's cycle has.
type Cycle string

// The cycles, as in the sheet.
const (
	TwoStroke  Cycle = "two-stroke"
	FourStroke Cycle = "four-stroke"
)

// Engine is an engine sheet, checked.
type Engine struct {
	Name      string
	Cycle     Cycle
	Rotation  timing.Rotation // of the crank
	Crank     timing.Crank
	Cylinders []string // names, all different; they take the breaker's sets of points in turn
	Timing    timing.Spec
	Target    timing.Target // Timing worked out for Crank
	Breaker   timing.Breaker
	GapUnit   timing.Unit // that the sheet gives the gap of the points in
	Ignition  Ignition
	Hold      string   // what holds the weights in the state of Timing.Advance; empty when the sheet does not say
	Coils     []string // the coil or lead of each set of points, in order; empty when the sheet does not say
	// SourceCoil tells whether a magneto's source coil can be taken off the points.
	SourceCoil SourceCoil
}

// MaxCylinders is the largest number of cylinders taken.
const MaxCylinders = 24

// LoadEngine reads the engine sheet at path.
func LoadEngine(path string) (Engine, error) {
	data, err := Read(path)
	if err != nil {
		return Engine{}, err
	}
	return ParseEngine(path, data)
}

// ParseEngine reads an engine sheet; file is its name for errors, each of which is an *Error (several are joined).
func ParseEngine(file string, data []byte) (Engine, error) {
	d, err := parse(file, data)
	if err != nil {
		return Engine{}, err
	}
	e := d.readEngine()
	if err := d.finish(); err != nil {
		return Engine{}, err
	}
	return e, nil
}

// readEngine reads every key of an engine sheet.
func (d *document) readEngine() Engine {
	var e Engine
	e.Name = d.text("name", "a name", false)
	e.Cycle = Cycle(d.text("cycle", `"two-stroke" or "four-stroke"`, false, string(TwoStroke), string(FourStroke)))
	e.Rotation = d.rotation("rotation", false)
	d.cylinders(&e)
	d.crank(&e)
	d.timing(&e)
	d.breaker(&e)
	d.ignition(&e)
	return e
}

func (d *document) rotation(key string, optional bool) timing.Rotation {
	return timing.Rotation(d.text(key, `"clockwise" or "anticlockwise", seen from the breaker plate's side`, optional,
		string(timing.Clockwise), string(timing.Anticlockwise)))
}

func (d *document) cylinders(e *Engine) {
	const want = `names such as ["left", "right"], all different, each on one line and without "as_found" or "as_left"`
	v, ok := d.get("cylinders", want, false)
	if !ok {
		return
	}
	list, _ := v.([]any)
	if len(list) == 0 || len(list) > MaxCylinders {
		d.wrong("cylinders", "got %s, want 1..%d %s", show(v), MaxCylinders, want)
		return
	}
	for _, item := range list {
		name, _ := item.(string)
		if !printable(name) || strings.Contains(name, "as_found") || strings.Contains(name, "as_left") || slices.Contains(e.Cylinders, name) {
			d.wrong("cylinders", "got %s, want %s", show(item), want)
			continue
		}
		e.Cylinders = append(e.Cylinders, name)
	}
}

func (d *document) crank(e *Engine) {
	const most = 10000
	stroke, ok1 := d.length("stroke", `a length such as "54 mm", more than 0, up to 10000 mm`, false, timing.Millimetre, 1e-3, most)
	rod, ok2 := d.length("rod", `the length between centres such as "110 mm", more than 0, up to 10000 mm`, false,
		timing.Millimetre, 1e-3, most)
	offset, ok3 := d.length("pin_offset", `a length such as "1.5 mm", -10000..10000 mm`, true, timing.Millimetre, -most, most)
	_, given := d.values["pin_offset"]
	if !ok1 || !ok2 || given && !ok3 {
		return
	}
	var err error
	e.Crank, err = timing.NewCrank(stroke, rod, offset)
	d.wrongField(err, keyOf)
}

// advances leads from the words of the sheet to the state.
var advances = map[string]timing.Advance{
	timing.NoAdvance.String():     timing.NoAdvance,
	timing.AdvanceAtRest.String(): timing.AdvanceAtRest,
	timing.AdvanceFull.String():   timing.AdvanceFull,
}

func (d *document) timing(e *Engine) {
	value, ok1 := d.quantity("timing.value", `text with a unit such as "2.0 mm", "0.078 in", "78.5 thou" or "20 deg"`, false)
	tolerance, ok2 := d.quantity("timing.tolerance", `text with a unit such as "0.1 mm" or "1 deg"`, false)
	advance := d.text("timing.advance", `"none", "at rest" or "full travel"`, false,
		timing.NoAdvance.String(), timing.AdvanceAtRest.String(), timing.AdvanceFull.String())
	spread, ok3 := d.quantity("timing.spread", `text with a unit such as "0.05 mm" or "0.5 deg", or no such line`, true)
	_, given := d.values["timing.spread"]
	if given && ok3 && len(e.Cylinders) == 1 {
		d.wrong("timing.spread", "got %s with one cylinder, want no such line: it is the difference between cylinders", spread)
		spread = timing.Quantity{}
	} else if given && ok3 && spread == (timing.Quantity{}) {
		// A plain 0 would pass for a sheet that says nothing.
		d.wrong("timing.spread", "got 0, want more than 0, with its unit, or no such line")
	}
	e.Timing = timing.Spec{Value: value, Tolerance: tolerance, Spread: spread, Advance: advances[advance]}
	if ok1 {
		d.target(e, ok2)
	}
}

// target works the specification out, and notes all that is wrong with it: in place of a wrong or missing tolerance half the
// value is taken, so that the spread can still be looked at. Without a crank nothing can be said of degrees.
func (d *document) target(e *Engine, tolerance bool) {
	s := e.Timing
	if !tolerance {
		s.Tolerance = half(s.Value)
	}
	if !e.Crank.Known() && (s.Value.Unit == timing.Degree || s.Tolerance.Unit == timing.Degree || s.Spread.Unit == timing.Degree) {
		return
	}
	var err error
	e.Target, err = s.Target(e.Crank)
	key := d.wrongField(err, func(field string) string {
		if field == "timing" {
			return "timing.value"
		}
		return "timing." + field
	})
	if key == "timing.tolerance" && tolerance {
		d.target(e, false)
	}
}

func half(q timing.Quantity) timing.Quantity {
	return timing.Quantity{Value: q.Value / 2, Unit: q.Unit}
}

func (d *document) breaker(e *Engine) {
	const ratio = "1 (cam at crank speed) or 0.5 (at half speed)"
	if r, ok := d.number("breaker.cam_ratio", ratio, false); ok {
		if r != 1 && r != 0.5 {
			d.wrong("breaker.cam_ratio", "got %g, want %s", r, ratio)
		} else if r == 0.5 && e.Cycle == TwoStroke {
			d.wrong("breaker.cam_ratio", "got 0.5 with a two-stroke, want 1: it fires at each turn of the crank (a four-stroke has 0.5, seldom 1)")
		}
		e.Breaker.CamRatio = r
	}
	e.Breaker.Gap, _ = d.length("breaker.gap", `a length such as "0.35 mm", 0.05..2 mm`, false, timing.Millimetre, 0.05, 2)
	e.GapUnit = d.unit("breaker.gap", timing.Millimetre)
	e.Breaker.PlateRadius, _ = d.length("breaker.plate_radius", `a length such as "30 mm", 5..500 mm`, true, timing.Millimetre, 5, 500)
	if e.Breaker.Cam = d.rotation("breaker.cam_rotation", true); e.Breaker.Cam == "" {
		e.Breaker.Cam = e.Rotation
	}
	d.sets(e)
}

// sets reads how many sets of points there are. They open in turn, so that each serves as many cylinders as the others.
func (d *document) sets(e *Engine) {
	cylinders := len(e.Cylinders)
	e.Breaker.Sets = cylinders
	v, ok := d.number("breaker.sets", "the number of sets of points, 1 up to the number of cylinders", true)
	if !ok || d.isWrong("cylinders") {
		return
	}
	var fit []string
	for k := 1; k <= cylinders; k++ {
		if cylinders%k == 0 {
			fit = append(fit, strconv.Itoa(k))
		}
	}
	if !slices.Contains(fit, strconv.FormatFloat(v, 'f', -1, 64)) {
		d.wrong("breaker.sets", "got %g, want the number of sets of points for %d cylinders, which open in turn: %s", v, cylinders, strings.Join(fit, ", "))
		return
	}
	e.Breaker.Sets = int(v)
}
