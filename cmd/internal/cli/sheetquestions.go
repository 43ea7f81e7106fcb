package cli

import (
	"fmt"
	"strconv"

	"breakcue/timing"
	"breakcue/timing/sheet"
)

// unitChoices are the units in which a manual gives a timing.
var unitChoices = []choice{{"mm", "millimetres of piston travel"}, {"deg", "degrees of crank"}, {"in", "inches of piston travel"}, {"thou", "thousandths of an inch"}}

// senses are those of a rotation.
var senses = []choice{{string(timing.Clockwise), "clockwise"}, {string(timing.Anticlockwise), "anticlockwise"}}

// engineQuestions returns what an engine sheet is asked for, as far as the answers so far tell.
func engineQuestions(a map[string]string) []sheetQuestion {
	qs := []sheetQuestion{
		{id: "name", form: asWords, ask: "What is the engine called?", where: "A name that you will know it by in the log."},
		{id: "cycle", form: asChosen, ask: "Two-stroke or four-stroke?", where: "The maker's manual; an engine with valves is a four-stroke.",
			choices: []choice{{string(sheet.TwoStroke), "two-stroke"}, {string(sheet.FourStroke), "four-stroke"}}},
		{id: "rotation", form: asChosen, ask: "Which way does the crank turn?", where: "Seen from the side of the breaker plate; watch it while the engine is cranked, or look for an arrow.",
			choices: senses, comment: "seen from the breaker plate's side"},
		{id: "stroke", form: asMeasure, unit: "mm", ask: "Stroke, in mm?", where: "The maker's manual; twice the crank radius. Inches: type 2.125in."},
		{id: "rod", form: asMeasure, unit: "mm", ask: "Length of the connecting rod, in mm?", where: "The maker's manual, or measured between the centres of its two eyes.",
			comment: "between centres"},
		{id: "pin_offset", form: asMeasure, unit: "mm", skip: true, ask: "Offset of the piston pin, in mm?",
			where:   "The maker's manual; most engines have none. Positive when it moves top dead centre on in the direction of rotation.",
			comment: "positive moves top dead centre on in the direction of rotation"},
		{id: "count", form: asCount, usual: "1", ask: "How many cylinders?", where: "Count the barrels."},
	}
	n, _ := strconv.Atoi(a["count"])
	for i := range n {
		q := sheetQuestion{id: fmt.Sprintf("cylinders.%d", i+1), form: asListed, usual: strconv.Itoa(i + 1), ask: fmt.Sprintf("What is cylinder %d called?", i+1),
			where: "Any short name, such as left or front. Name them in the order in which they take the sets of points."}
		if n == 1 {
			q.usual, q.ask, q.where = "only", "What is the cylinder called?", "Any short name."
		}
		qs = append(qs, q)
	}
	qs = append(qs, sheetQuestion{id: "ignition", form: asChosen, skip: true, ask: "Battery or magneto ignition?",
		where:   "A magneto runs without a battery. It decides how the engine is made safe.",
		choices: []choice{{string(sheet.Battery), "battery and coil"}, {string(sheet.Magneto), "magneto"}}})
	qs = append(qs, timingQuestions(a, n)...)
	return append(qs, breakerQuestions(a, n)...)
}

// timingQuestions are those of [timing].
func timingQuestions(a map[string]string, cylinders int) []sheetQuestion {
	unit := a["unit of the timing"]
	qs := []sheetQuestion{
		{id: "unit of the timing", form: asHelper, ask: "In what does the maker's manual say where the points open?", where: "It stands behind the figure, as 2.0 mm or 20°.", choices: unitChoices},
		{id: "timing.value", form: asMeasure, unit: unit, ask: fmt.Sprintf("How far before top dead centre must the points open, in %s?", unitWords(unit)),
			where: "The maker's manual, under ignition timing, BTDC.", comment: "before top dead centre"},
		{id: "unit of the tolerance", form: asHelper, usual: unit, ask: "In what is its tolerance?", where: "Often the same; 0.1 mm and 1° are not the same.", choices: unitChoices},
	}
	unit = a["unit of the tolerance"]
	qs = append(qs, sheetQuestion{id: "timing.tolerance", form: asMeasure, unit: unit, ask: fmt.Sprintf("Tolerance, plus or minus, in %s?", unitWords(unit)),
		where: "The maker's manual; half of what stands from the earliest to the latest.", comment: "plus or minus"})
	if cylinders > 1 {
		qs = append(qs, sheetQuestion{id: "timing.spread", form: asMeasure, unit: unit, skip: true, ask: fmt.Sprintf("How far may the cylinders lie apart, in %s?", unitWords(unit)),
			where: "The maker's manual, if it says so: from the earliest to the latest.", comment: "from the earliest to the latest cylinder"})
	}
	qs = append(qs, sheetQuestion{id: "timing.advance", form: asChosen, usual: timing.NoAdvance.String(), ask: "In which state of an automatic advance or retard does that hold?",
		where: "The maker's manual. Look behind the breaker plate for weights with springs.",
		choices: []choice{{timing.NoAdvance.String(), "there is no automatic advance or retard"}, {timing.AdvanceAtRest.String(), "with the weights at rest"},
			{timing.AdvanceFull.String(), "with the weights held at full travel"}},
		comment: "state of the automatic advance or retard"})
	if a["timing.advance"] == timing.AdvanceFull.String() {
		qs = append(qs, sheetQuestion{id: "timing.hold", form: asWords, skip: true, ask: "What holds the weights at full travel during the job?",
			where: "Such as: a wedge of wood between the weights. It will stand on the list of what must come out again.", comment: "must come out again before the engine is started"})
	}
	return qs
}

// unitWords names a unit for a question.
func unitWords(unit string) string {
	switch unit {
	case "deg":
		return "degrees of crank"
	case "in":
		return "inches"
	case "thou":
		return "thousandths of an inch"
	}
	return unit
}

// breakerQuestions are those of [breaker].
func breakerQuestions(a map[string]string, cylinders int) []sheetQuestion {
	var qs []sheetQuestion
	ratio := sheetQuestion{id: "breaker.cam_ratio", form: asChosenN, usual: "1", ask: "How fast does the cam turn?",
		where:   "A two-stroke's as fast as the crank; a four-stroke's at half speed where it sits on the camshaft or a distributor.",
		choices: []choice{{"1", "as fast as the crank"}, {"0.5", "at half the crank's speed"}}, comment: "turns of the cam for one of the crank"}
	if a["cycle"] == string(sheet.FourStroke) {
		ratio.usual = "0.5"
	}
	qs = append(qs, ratio, sheetQuestion{id: "breaker.gap", form: asMeasure, unit: "mm", ask: "Gap of the points at full lift, in mm?",
		where: "The maker's manual; thousandths of an inch: type 14 thou."})
	if cylinders > 1 {
		qs = append(qs, sheetQuestion{id: "breaker.sets", form: asWhole, usual: strconv.Itoa(cylinders), ask: "How many sets of points?",
			where: "Count them on the plate. With fewer than cylinders, each serves several in turn."})
	}
	qs = append(qs,
		sheetQuestion{id: "breaker.plate_radius", form: asMeasure, unit: "mm", skip: true, ask: "Radius of the breaker plate, in mm?",
			where: "Measured from the cam's centre to the plate's rim. With it you are told how far to move the rim."},
		sheetQuestion{id: "breaker.cam_rotation", form: asChosen, skip: true, ask: "Which way does the cam turn?",
			where: "Seen from the plate's side. Leave out when it turns as the crank does.", choices: senses, comment: "seen from the plate's side"})
	sets, err := strconv.Atoi(a["breaker.sets"])
	if err != nil || cylinders == 1 {
		sets = 1
	}
	if a["ignition"] == string(sheet.Magneto) {
		qs = append(qs, sheetQuestion{id: "breaker.source_coil", form: asChosen, skip: true, ask: "Can the magneto's source coil be taken off the points for the test?",
			where:   "Look whether the lead to the points ends in a plug or a screw that can be reached.",
			choices: []choice{{string(sheet.ComesOff), "it comes off"}, {string(sheet.StaysOn), "it stays on: then the cable goes across the points"}}})
	}
	qs = append(qs, sheetQuestion{id: "tell coils", form: asHelper, usual: "no", ask: "Note down which coil or lead belongs to which points?",
		where: "So that each comes back to its place. Look at the colours of the leads.", choices: []choice{{"no", "no"}, {"yes", "yes"}}})
	if a["tell coils"] == "yes" {
		for i := range sets {
			qs = append(qs, sheetQuestion{id: fmt.Sprintf("breaker.coils.%d", i+1), form: asListed, of: sets, ask: fmt.Sprintf("Which coil or lead belongs to set %d of the points?", i+1),
				where: "Such as: upper coil, white lead.", comment: "of each set of points"})
		}
	}
	return qs
}

// dialQuestions returns what a dial sheet is asked for, as far as the answers so far tell.
func dialQuestions(a map[string]string) []sheetQuestion {
	unit := a["unit"]
	graduation, turn, travel := "0.01", "1", "10"
	if unit == timing.Inch.String() {
		graduation, turn, travel = "0.001", "0.1", "0.5"
	}
	in := func(value string) string { return value + " " + unit }
	qs := []sheetQuestion{
		{id: "name", form: asWords, skip: true, ask: "What is the dial called?", where: "A name that you will know it by in the log."},
		{id: "unit", form: asChosen, usual: "mm", ask: "What does its face show?", where: "It stands on the face.", choices: []choice{{"mm", "millimetres"}, {"in", "inches"}}},
		{id: "graduation", form: asMeasure, unit: unit, usual: in(graduation), ask: fmt.Sprintf("One graduation, in %s?", unitWords(unit)), where: "It stands on the face."},
		{id: "per_revolution", form: asMeasure, unit: unit, usual: in(turn), ask: fmt.Sprintf("Travel in one turn of the pointer, in %s?", unitWords(unit)),
			where: "The graduations in one turn times one graduation.", comment: "travel in one turn of the pointer"},
		{id: "range", form: asMeasure, unit: unit, usual: in(travel), ask: fmt.Sprintf("Range from end to end, in %s?", unitWords(unit)), where: "Press the plunger right in, and count the turns.",
			comment: "from end to end"},
		{id: "zeroed", form: asChosen, usual: "tdc", ask: "Where do you set the pointer to zero?", where: "As you are used to do it. At top dead centre a reading is how far the piston still has to go.",
			choices: []choice{{"tdc", "at top dead centre"}, {"mark", "at the mark, the specified place"}}},
		{id: "counting", form: asChosen, ask: "When do the figures rise?", where: "Press the plunger in and watch the pointer against the outer figures.",
			choices: []choice{{"in", "as the plunger goes in"}, {"out", "as the plunger comes out"}}, comment: "the figures rise as the plunger goes this way"},
		{id: "counter_at_zero", form: asWhole, usual: "0", ask: "What does the revolution counter show where the dial reads zero?", where: "The small pointer, once the dial is set up; 0 when there is none."},
		{id: "preload", form: asMeasure, unit: unit, skip: true, ask: fmt.Sprintf("How far is the plunger pressed in at top dead centre, in %s?", unitWords(unit)),
			where: "As you set it up: the plunger follows the piston down only so far.", comment: "pressed in at top dead centre"},
		{id: "straight", form: asHelper, usual: "yes", ask: "Does the plunger stand in line with the bore?", where: "Look along the plug hole; a leaning one needs two more figures.",
			choices: []choice{{"yes", "in line"}, {"no", "it leans"}}},
	}
	if a["straight"] == "no" {
		qs = append(qs,
			sheetQuestion{id: "plunger_angle", form: asMeasure, unit: "deg", ask: "How far does it lean from the bore, in degrees?", where: "A drawing, or a protractor against the barrel."},
			sheetQuestion{id: "crown_slope", form: asMeasure, unit: "deg", ask: "How far does the piston's crown slope under its tip, in degrees?",
				where: "0 for a crown square to the bore, the plunger's angle for one square to the plunger."},
			sheetQuestion{id: "plunger_angle_uncertainty", form: asMeasure, unit: "deg", usual: "1 deg", ask: "Give or take how much is the lean, in degrees?", where: "A standard uncertainty: two thirds of all guesses lie within it."},
			sheetQuestion{id: "crown_slope_uncertainty", form: asMeasure, unit: "deg", usual: "3 deg", ask: "Give or take how much is the slope, in degrees?", where: "A standard uncertainty: two thirds of all guesses lie within it."})
	}
	needed, where := !knownRange(a["range"]), "Its test certificate or data sheet; left out, that of a good dial of its range."
	if needed {
		where = "Its test certificate or data sheet: for so long a range there is no usual one."
	}
	return append(qs,
		sheetQuestion{id: "max_error", form: asMeasure, unit: unit, skip: !needed, ask: fmt.Sprintf("Limit of error, plus or minus, in %s?", unitWords(unit)),
			where: where, comment: "plus or minus"},
		sheetQuestion{id: "hysteresis", form: asMeasure, unit: unit, skip: !needed, ask: fmt.Sprintf("Hysteresis, in %s?", unitWords(unit)),
			where: "As above: how far readings going in and coming out lie apart."},
		sheetQuestion{id: "repeatability", form: asMeasure, unit: unit, skip: !needed, ask: fmt.Sprintf("Repeatability, in %s?", unitWords(unit)), where: "As above: how far readings of the same place lie apart."},
		sheetQuestion{id: "extension_give", form: asMeasure, unit: unit, skip: true, ask: fmt.Sprintf("How far may an extension of the plunger give, plus or minus, in %s?", unitWords(unit)),
			where: "Left out when there is none, or a stout one. Push its tip sideways with a finger and watch the pointer."})
}

// knownRange tells that there are usual limits of error for a dial of this range, as answered.
func knownRange(answer string) bool {
	q, err := timing.ParseQuantity(answer)
	if err != nil {
		return true // not asked yet
	}
	travel, err := q.Length(timing.Millimetre)
	_, known := timing.DefaultAccuracy(travel)
	return err == nil && known
}
