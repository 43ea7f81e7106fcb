package session

import (
	"slices"

	"breakcue/timing/sheet"
)

// together is the list of all that must be put back: what was done last is undone first, so that the cable is off before the
// battery is connected.
func (p *planner) together() {
	var do []string
	for _, st := range slices.Backward(p.steps) {
		for _, one := range slices.Backward(st.Refit) {
			if !slices.Contains(do, one) {
				do = append(do, one)
			}
		}
	}
	care := []string{"what holds the weights, a lead or a tool left in wrecks the engine"}
	if !slices.ContainsFunc(p.steps, func(s Step) bool { return s.ID == "hold_weights" }) {
		care[0] = "a lead, a rag or a tool left in wrecks the engine"
	}
	if p.Engine.Ignition != sheet.Magneto {
		care = append(care, "a battery lead sparks when it goes on: ignition off, no fuel vapour about")
	}
	if p.Engine.Ignition != sheet.Battery {
		care = append(care, "with its plug in, a magneto may fire at any turn of the crank: fuel off")
	}
	st := p.add(TogetherStep, "put it back together, and tick each", do, care...)
	st.Work = ByTick
	for _, about := range []about{aboutSafety, aboutFuel, aboutPlugs, aboutWeights, aboutCable, aboutDial, aboutZero} {
		st.still = append(st.still, check{about, ""})
	}
	st.still = append(st.still, check{aboutList, "is everything on the list back in its place, the cable and the dial off?"})
}

func (p *planner) start() {
	stop := map[sheet.Ignition]string{sheet.Battery: "ignition switch", sheet.Magneto: "stop switch", "": "switch that stops it"}[p.Engine.Ignition]
	do := []string{
		"fuel on, and look for leaks",
		"start it, out of gear or uncoupled",
		"try the " + stop + " at once: it must stop",
		"couple up again what was uncoupled, with the engine stopped",
		"keep the log: 'breakcue log show', next year 'breakcue log compare'",
		"see the maker's manual for what else is due now, such as mixture and idle speed",
	}
	p.add("start", "fuel and the first start", do,
		"no engine runs in a closed room: carbon monoxide kills, and has no smell",
		"stand clear of all that turns and of the hot exhaust",
		"no start while fuel drips or smells: find the leak first")
}
