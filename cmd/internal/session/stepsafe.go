package session

import (
	"fmt"

	"breakcue/timing"
	"breakcue/timing/sheet"
)

func (p *planner) specification() {
	e, t := p.Engine, p.Setup.Target
	same := fmt.Sprintf("%.2f° of crank", t.Angle)
	switch e.Timing.Value.Unit {
	case timing.Degree:
		same = fmt.Sprintf("%.2f mm", t.Travel)
	case timing.Millimetre:
	default:
		same = fmt.Sprintf("%.2f mm, %s", t.Travel, same)
	}
	do := []string{
		fmt.Sprintf("compare with the maker's manual: the points open %s before TDC (= %s)", e.Timing.Value, same),
		fmt.Sprintf("compare the tolerance: ±%s; mm and degrees are not the same thing", e.Timing.Tolerance),
		"compare the points gap: " + lengthOf(e.Breaker.Gap),
	}
	if e.Timing.Spread != (timing.Quantity{}) {
		do = append(do, fmt.Sprintf("compare how far the cylinders may lie apart: %s", e.Timing.Spread))
	}
	switch e.Timing.Advance {
	case timing.AdvanceAtRest:
		do = append(do, "the figure holds with the weights of the automatic advance at rest")
	case timing.AdvanceFull:
		do = append(do, "the figure holds with the weights of the automatic advance or retard held at full travel")
	}
	turns := fmt.Sprintf("seen from the breaker plate's side the crank turns %s: see that it does", e.Rotation)
	if e.Breaker.Cam != e.Rotation {
		turns = fmt.Sprintf("seen from the breaker plate's side the crank turns %s, the cam %s: see that they do", e.Rotation, e.Breaker.Cam)
	}
	do = append(do, turns)
	for set := 0; e.Breaker.Sets > 1 && set < e.Breaker.Sets; set++ {
		do = append(do, fmt.Sprintf("which points are whose: %s: %s", p.served(set), p.marks(set)))
	}
	p.add("specification", "read the specification", do,
		"the maker's manual, local codes and licensed practice come before anything said here")
}

// fastMagneto is a caution. The figure is common practice.
const fastMagneto = "a magneto that is turned fast makes hundreds of volts: turn it by hand, slowly"

// safe tells how to make it safe. What live points do is from US Army TM 9-8000 (1985), ch. 15; that the lead to the frame
// comes off first and goes on last is common practice: a spanner that slips then shorts nothing.
func (p *planner) safe() {
	battery, magneto := p.batterySafe(), p.magnetoSafe()
	care := []string{
		"live points switch 4 to 5 A, the coil kicks back with 200 V and more at the points",
		"the coil makes 20 kV at the plug: neither you nor the cable is made for that",
		"a battery lead sparks when it comes off: ignition off, no fuel vapour about",
	}
	switch p.Engine.Ignition {
	case sheet.Battery:
		battery.addTo(p, "make it safe: battery ignition", care)
	case sheet.Magneto:
		magneto.addTo(p, "make it safe: magneto", []string{fastMagneto})
	default:
		both := safety{refit: append(battery.refit, magneto.refit...)}
		for kind, one := range []safety{battery, magneto} {
			name := []string{"battery ignition: ", "magneto: "}[kind]
			for _, do := range one.do {
				switch {
				case do != coverOff:
					both.do = append(both.do, name+do)
				case kind == 0: // the same for both
					both.do = append(both.do, coverOff)
				}
			}
			for _, still := range one.still {
				both.still = append(both.still, name+still)
			}
		}
		both.addTo(p, "make it safe", append(care, fastMagneto))
	}
}

// The cover is over the ends that come off the points.
const (
	coverOff = "take the cover off the points"
	coverOn  = "cover on the points"
)

// safety is one way of making it safe.
type safety struct{ do, refit, still []string }

func (s safety) addTo(p *planner, title string, care []string) {
	st := p.add("make_safe", title, s.do, care...)
	st.Refit = s.refit
	for _, text := range s.still {
		st.still = append(st.still, check{aboutSafety, text})
	}
}

func (p *planner) batterySafe() safety {
	s := safety{
		do:    []string{"switch the ignition off", "disconnect the battery, the lead to the frame first", coverOff},
		refit: []string{"battery connected, the lead to the frame last", coverOn},
		still: []string{"is the ignition off?", "is the battery disconnected?", "is the coil lead off the points?"},
	}
	coils := p.Engine.Coils
	if p.Engine.Breaker.Sets > 1 {
		s.do = append(s.do, "mark each coil lead: it must come back to its own points")
		s.still[2] = "is each coil lead off its points?"
	}
	if len(coils) == 0 {
		s.do, s.refit = append(s.do, "take the coil lead off the points"), append(s.refit, "coil lead on the points")
	}
	for _, coil := range coils {
		s.do = append(s.do, "take the coil lead off the points: "+coil)
		s.refit = append(s.refit, "coil lead on the points: "+coil)
	}
	return s
}

func (p *planner) magnetoSafe() safety {
	s := safety{
		do:    []string{"open the stop switch or take its wire off: it earths the points when it says off", coverOff},
		refit: []string{"stop switch and its wire as they were", coverOn},
		still: []string{"is the stop switch open, or its wire off?"},
	}
	if p.Engine.SourceCoil != sheet.StaysOn {
		s.do = append(s.do, "take the source coil off the points, and let its end touch nothing")
		s.refit = append(s.refit, "source coil on the points")
		s.still = append(s.still, "is the source coil off the points, if it comes off?")
	}
	switch p.Engine.SourceCoil {
	case sheet.StaysOn:
		s.do = append(s.do, "the source coil stays on the points: wire the cable across, with a tone of about 3 kHz")
	case sheet.ComesOff:
		s.still[1] = "is the source coil off the points?"
	default:
		s.do = append(s.do, "where it cannot come off: wire the cable across, with a tone of about 3 kHz")
	}
	return s
}

func (p *planner) plugs() {
	many := len(p.Engine.Cylinders) > 1
	out, earthed := "take the plug out, so that the crank turns easily and nothing can fire", "earth the plug on its lead, away from the plug hole"
	in := "plug in, its lead on"
	if many {
		out, earthed = "take the plugs out, so that the crank turns easily and nothing can fire", "earth the plugs on their leads, away from the plug holes"
		in = "plugs in, each lead on its own"
	}
	st := p.add("plugs_out", "open it up", []string{
		"turn off the fuel",
		"wipe up what was spilt, and let air in",
		"take it out of gear or uncouple what it drives: the crank must turn freely",
		"clean round the plug before it comes out: nothing may fall into the hole",
		out,
		earthed,
	}, "a hot engine burns hands and lights fuel: let it cool first",
		"fuel vapour burns, and a spark at a clip is enough",
		"keep hands, sleeves and tools off what turns")
	if many {
		st.Do[3] = "clean round the plugs before they come out: nothing may fall into the holes"
		st.Do = append(st.Do[:4:4], append([]string{"mark the plug leads"}, st.Do[4:]...)...)
	}
	// Undone from the last to the first: tools are counted before the cover goes on.
	st.Refit = []string{in, "crank turned by hand, two full turns: nothing binds, nothing touches",
		"tools and rags counted: none is left in the engine"}
	st.still = []check{
		{aboutFuel, "is the fuel off, and no smell of it in the air?"},
		{aboutPlugs, "are the plugs out and earthed, away from the plug holes?"},
	}
	if !many {
		st.still[1].text = "is the plug out and earthed, away from the plug hole?"
	}
}

// weights holds the advance where the figure holds.
func (p *planner) weights() {
	e := p.Engine
	how, where := e.Hold, "at full travel"
	switch {
	case e.Timing.Advance == timing.AdvanceAtRest && how != "":
		where = "at rest"
	case e.Timing.Advance != timing.AdvanceFull:
		return
	case how == "":
		how = "a wedge that cannot fall into the engine"
	}
	st := p.add("hold_weights", "hold the weights "+where, []string{
		"hold them with: " + how,
		"turn the cam by hand against them: they must not give",
		"hang a rag where the engine is started, so that nobody forgets them",
	}, "what holds the weights wrecks the engine when it falls in, or is left in")
	st.Refit = []string{"rag off that told of the weights", "taken out again, what holds the weights: " + how}
	st.still = []check{{aboutWeights, "are the weights still held " + where + "?"}}
}

// wiring is how the cable is wired.
type wiring int

const (
	inLine wiring = iota
	across
	eitherWay // the sheet does not say whether a source coil stays on
)

func (p *planner) wiring() wiring {
	switch {
	case p.Engine.SourceCoil == sheet.StaysOn:
		return across
	case p.Engine.Ignition == sheet.Battery, p.Engine.SourceCoil == sheet.ComesOff:
		return inLine
	}
	return eitherWay
}

func (p *planner) cable() {
	do := []string{"switch gain control and noise suppression of the sound card off"}
	title, clip := "clip the cable on, in line", "clip it on: one lead to the insulated side of "+p.points(0)+", one to bare metal"
	switch p.wiring() {
	case across:
		title = "clip the cable on, across the points"
	case inLine:
		do = append(do, "run the computer from its battery, its charger unplugged")
	case eitherWay:
		title = "clip the cable on: in line, or across where a source coil stays on"
		do = append(do, "in line: run the computer from its battery, its charger unplugged")
	}
	if p.Engine.Breaker.Sets > 1 {
		clip = "clip it on " + p.points(0)
		do = append(do, "one lead goes to the insulated side of the points, one to bare metal of the engine")
	}
	if p.AtOnce {
		if p.wiring() != across {
			do = append(do, "in line: 10 ohms at the input, not 47, or the one set is heard in the tone of the other")
		}
		clip = "the lead that the left output plays goes on " + p.points(0) + ", that of the right output on " + p.points(1)
	}
	do = append(do, clip)
	if p.shared() && p.Engine.Breaker.Sets == 1 {
		do = append(do, "the same points serve every cylinder: there the cable stays")
	}
	if p.AtOnce {
		do = append(do,
			"open the points of "+p.served(0)+" by hand, for a second: their side of the screen must say points open, and points closed again",
			"the same with those of "+p.served(1)+": the other side must stay as it is")
	} else {
		do = append(do,
			"turn the crank by hand until the points are closed: the screen must say points closed",
			"open the points by hand, for a second: the screen must say points open",
			"let them close: the screen must say points closed again")
	}
	do = append(do,
		"wiggle both clips: the screen must not change",
		"lay the cable clear of all that turns")
	care := []string{"ignition and battery stay off for as long as the cable is on"}
	switch p.Engine.Ignition {
	case sheet.Battery:
	case sheet.Magneto:
		care[0] = "the stop switch stays open for as long as the cable is on"
	default:
		care[0] = "ignition and battery stay off, a stop switch stays open, for as long as the cable is on"
	}
	care = append(care, "take the cable off before the engine is kicked or cranked", "no fuel vapour where the clips are: a clip that slips may spark")
	if p.Engine.Ignition != sheet.Battery {
		care = append(care, fastMagneto)
	}
	st := p.add(CableStep, title, do, care...)
	st.Work = ByWatch
	st.Refit = []string{"cable off, before the engine is kicked or cranked"}
	st.still = []check{{aboutCable, "is the cable still on " + p.points(0) + ", both clips fast?"}}
	if p.AtOnce {
		st.still = []check{{aboutCable, "is the cable still on both sets of points, all clips fast?"}}
	}
}
