package cli

import (
	"breakcue/cmd/internal/leads"
)

// leadsCare are the dangers, before the cable is clipped on.
var leadsCare = []string{
	"what the engine's maker says comes first",
	"battery ignition: ignition off, battery disconnected, coil lead off the points",
	"magneto: the stop switch open, or its wire off; a source coil may stay on",
	"plugs out, so that nothing can start",
	"the cable off before the engine is kicked or cranked",
}

// leadsTitle names a step.
func leadsTitle(s leads.Step) string {
	return map[leads.Step]string{leads.Apart: "clips apart", leads.Together: "clips together", leads.Known: "clips on the resistor",
		leads.Closed: "points closed", leads.Open: "points open"}[s]
}

// leadsDo says what to hold where.
func leadsDo(s leads.Step, w leads.Wiring) string {
	switch s {
	case leads.Apart:
		return "hold the clips apart in the air: they touch neither each other nor the engine"
	case leads.Together:
		if w == leads.Across {
			return "clip all clips of the cable onto each other, metal on metal, and let go"
		}
		return "clip them onto each other, metal on metal, and let go"
	case leads.Known:
		return "put one clip on each end of the resistor, nothing else, and let go"
	case leads.Closed:
		return "one clip on the insulated side of the points, one on bare metal of the engine; turn the crank until the points are closed"
	}
	return "leave the clips where they are; open the points: by the crank, or with a dry slip of plastic between them"
}

// leadsWiring is how the cable is wired, and how that is known.
func leadsWiring(r leads.Result) string {
	how := map[leads.Wiring]string{leads.InLine: "in line with the points", leads.Across: "across the points"}[r.Wiring]
	switch {
	case how == "":
		return "not known"
	case r.WiringSource == "given":
		return how + ", as given"
	case r.WiringSource == "inferred":
		return how + ", by what came back"
	}
	return how + ": assumed, nothing shows it"
}
