package handturn

import (
	"math"
	"strconv"

	"breakcue/timing"
)

// show returns what the dial shows at a travel [graduations], rounded to a whole one as the hand reads it.
//
// The plunger goes in during an approach: see friction. The dial's error is 0 where it was zeroed and grows evenly, by its
// full value from top dead centre to the mark.
func (e *engine) show(travel, mark timing.Length) (float64, error) {
	reading, err := e.Dial.Reading(travel, mark)
	if err != nil {
		return 0, err
	}
	if mark > 0 {
		from := timing.Length(0)
		if e.Dial.Zero == timing.ZeroMark {
			from = mark
		}
		reading += e.dialError * (travel - from) / mark
	}
	reading += e.zeroError + friction(e.rng, e.Dial)
	return math.Round(float64(reading / e.Dial.Graduation)), nil
}

// typed writes a reading [graduations] in the dial's unit, with as many decimals as a graduation needs.
func typed(d timing.Dial, graduations float64) string {
	g := float64(d.Graduation / d.Unit.Length())
	places := 0
	for ; places < 6; places++ {
		scaled := g * math.Pow10(places)
		if math.Abs(scaled-math.Round(scaled)) < 1e-6 && math.Round(scaled) > 0 {
			break
		}
	}
	return strconv.FormatFloat(graduations*g+0, 'f', places, 64)
}
