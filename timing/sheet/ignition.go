package sheet

import (
	"breakcue/timing"
)

// Ignition says what feeds the coil, and so how the engine is made safe. The empty Ignition means that the sheet does not say.
type Ignition string

// The ignitions, as in the sheet.
const (
	Battery Ignition = "battery"
	Magneto Ignition = "magneto"
)

// SourceCoil says whether a magneto's source coil can be taken off the points. The empty one means that the sheet does not say.
type SourceCoil string

// The states, as in the sheet.
const (
	ComesOff SourceCoil = "comes off"
	StaysOn  SourceCoil = "stays on" // then the cable goes across the points
)

// ignition reads what a guided job must know besides the figures: none of it changes a number.
func (d *document) ignition(e *Engine) {
	e.Ignition = Ignition(d.text("ignition", `"battery" or "magneto", or no such line`, true, string(Battery), string(Magneto)))
	const hold = "what holds the weights there, such as \"a wedge of wood between the weights\""
	e.Hold = d.text("timing.hold", hold, true)
	if e.Hold != "" && e.Timing.Advance == timing.NoAdvance && !d.isWrong("timing.advance") {
		d.wrong("timing.hold", `got %s with advance "none", want no such line: there are no weights`, show(e.Hold))
	}
	e.SourceCoil = SourceCoil(d.text("breaker.source_coil", `"comes off" or "stays on": the points, for the test`, true, string(ComesOff), string(StaysOn)))
	if e.SourceCoil != "" && e.Ignition == Battery {
		d.wrong("breaker.source_coil", "got %q with battery ignition, want no such line: only a magneto has a source coil, and a battery's coil always comes off", e.SourceCoil)
	}
	d.coils(e)
}

// coils reads which coil or lead belongs to which set of points.
func (d *document) coils(e *Engine) {
	const want = `one text for each set of points such as ["red lead", "black lead"]`
	v, ok := d.get("breaker.coils", want, true)
	if !ok {
		return
	}
	list, _ := v.([]any)
	for _, item := range list {
		name, _ := item.(string)
		if !printable(name) {
			d.wrong("breaker.coils", "got %s, want %s", show(item), want)
			continue
		}
		e.Coils = append(e.Coils, name)
	}
	if !d.isWrong("cylinders", "breaker.sets", "breaker.coils") && len(list) != e.Breaker.Sets {
		d.wrong("breaker.coils", "got %s, want %s; there are %d sets", show(v), want, e.Breaker.Sets)
	}
}
