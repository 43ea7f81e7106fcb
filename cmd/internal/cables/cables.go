// Package cables knows the cables that are recommended between a computer and contact-breaker points: parts, drawings, how each is made
// and tried. The levels that its texts state are worked out by audio/circuit in its tests.
package cables

import "breakcue/audio/circuit"

// Part is a line of a parts list.
type Part struct {
	Mark string `json:"mark"` // as in the drawing, "" for what is not marked there
	What string `json:"what"` // with number, value, power, tolerance
	Why  string `json:"why"`  // what it is for, or when it may be left out
}

// Cable is a recommended cable.
type Cable struct {
	Name  string `json:"name"`  // as typed
	Title string `json:"title"` // in prose
	Use   string `json:"use"`   // when to take this one
	// Wiring, Series and Load are what the commands must be told: "series" or "shunt", and resistors [ohm], 0 for none.
	Wiring string  `json:"wiring"`
	Series float64 `json:"series_ohm"`
	Load   float64 `json:"load_ohm"`
	Sets   int     `json:"sets"` // of points that it serves
	// Text is the drawing as lines of text, at most 64 columns.
	Text  []string `json:"drawing"`
	Parts []Part   `json:"parts"`
	Make  []string `json:"make"` // step by step
	Try   []string `json:"try"`  // step by step, with the figures to be had
}

// Circuit returns the cable as a circuit, between an output of 100 ohm and an input of 10 kohm, with a condenser of 0.22 uF and points of
// 0.2 ohm: what the figures in its text are for. Of two sets it is one, with the other's points closed.
func (c Cable) Circuit() circuit.Circuit {
	out := circuit.Circuit{Source: 100, Series: c.Series, Load: c.Load, Input: 10e3, Condenser: 0.22e-6, Contact: 0.2}
	if c.Wiring == "shunt" {
		out.Wiring = circuit.Shunt
	} else if c.Sets == 2 {
		out.Load = 1 / (1/c.Load + 1/(out.Source+c.Series)) // the other output lies across the load
	}
	return out
}

// All returns the cables, the one first that works in most places.
func All() []Cable { return []Cable{across(), inLine(), twoAcross(), twoInLine()} }

// Named returns the cable of a name.
func Named(name string) (Cable, bool) {
	for _, c := range All() {
		if c.Name == name {
			return c, true
		}
	}
	return Cable{}, false
}

// Never lists what no cable may be connected to, each with the reason.
func Never() []string {
	return []string{
		"A battery, or an ignition that is switched on. Points in use carry 4 to 5 A, and when they open the primary kicks to 200 V and more " +
			"(US Army TM 9-8000, 1985, chapter 15). Ignition off, battery off, coil lead off the points first.",
		"A coil lead or a plug lead: up to 20 kV there (the same source). The cable goes to the points alone.",
		"An engine that is kicked or cranked, plugs in or out: a magneto makes hundreds of volts across opening points. The cable comes off " +
			"each time; the diodes are for the one time that it is forgotten, and no promise.",
		"A loudspeaker output, or an amplifier whose screen is not earth: it gives amperes into shorted points, and many have a live screen. " +
			"Take a line output or a headphone jack.",
		"With a cable in line: a computer that the mains earth, when the engine is earthed too (a lift, a bench, a charger). The way round by the earth " +
			"shorts the load, or puts hum on it. Run the computer from its battery, or wire across.",
		"A phone line, a mixer with phantom power (48 V), or anything else you would not short with a spanner.",
	}
}

// Order says what comes before all of this.
const Order = "The maker's manual, local codes and the practice of licensed mechanics come before anything said here."

// Level says how loud to play.
const Level = "Set the output so that the tone is 0.2 V (rms) with nothing connected, or less. Two diodes back to back pass nothing of note " +
	"below 0.35 V at its peaks; louder, they would cut the tone off and hide how it changes when the points open."
