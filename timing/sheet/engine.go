package sheet

import (
	"slices"
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

// Rotation is the sense in which crank and cam turn, seen from the breaker plate's side.
type Rotation string

// The senses, as in the sheet.
const (
	Clockwise     Rotation = "clockwise"
	Anticlockwise Rotation = "anticlockwise"
)

// Breaker is what the sheet says of the contact breaker.
type Breaker struct {
	CamRatio    float64       // turns of the cam for one of the crank: 1, or with a four-stroke 0.5
	Gap         timing.Length // at full lift, more than 0, up to 2 mm
	PlateRadius timing.Length // from the cam's centre to the plate's rim; 0 when the sheet leaves it out
}

// Engine is an engine sheet, checked.
type Engine struct {
	Name      string
	Cycle     Cycle
	Rotation  Rotation
	Crank     timing.Crank
	Cylinders []string // names, all different
	Timing    timing.Spec
	Target    timing.Target // Timing worked out for Crank
	Breaker   Breaker
}

// maxCylinders is the largest number of cylinders taken.
const maxCylinders = 24

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
	var e Engine
	e.Name = d.text("name", "a name", false)
	e.Cycle = Cycle(d.text("cycle", `"two-stroke" or "four-stroke"`, false, string(TwoStroke), string(FourStroke)))
	e.Rotation = Rotation(d.text("rotation", `"clockwise" or "anticlockwise", seen from the breaker plate's side`, false,
		string(Clockwise), string(Anticlockwise)))
	d.cylinders(&e)
	d.crank(&e)
	d.timing(&e)
	d.breaker(&e)
	if err := d.finish(); err != nil {
		return Engine{}, err
	}
	return e, nil
}

func (d *document) cylinders(e *Engine) {
	const want = `names such as ["left", "right"], all different, each on one line and without "as_found" or "as_left"`
	v, ok := d.get("cylinders", want, false)
	if !ok {
		return
	}
	list, _ := v.([]any)
	if len(list) == 0 || len(list) > maxCylinders {
		d.wrong("cylinders", "got %s, want 1..%d %s", show(v), maxCylinders, want)
		return
	}
	for _, item := range list {
		name, _ := item.(string)
		if !printable(name) || strings.Contains(name, "as_found") || strings.Contains(name, "as_left") || slices.Contains(e.Cylinders, name) {
			d.wrong("cylinders", "got %s, want %s", show(item), want)
			return
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
	e.Timing = timing.Spec{Value: value, Tolerance: tolerance, Advance: advances[advance]}
	if !ok1 || !ok2 || !e.Crank.Known() {
		return
	}
	var err error
	e.Target, err = e.Timing.Target(e.Crank)
	d.wrongField(err, func(field string) string {
		if field == "tolerance" {
			return "timing.tolerance"
		}
		return "timing.value"
	})
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
	e.Breaker.PlateRadius, _ = d.length("breaker.plate_radius", `a length such as "30 mm", 5..500 mm`, true, timing.Millimetre, 5, 500)
}
