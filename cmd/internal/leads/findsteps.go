package leads

import (
	"fmt"
	"math"

	"breakcue/audio"
)

const (
	certain    = 6.0   // times its noise that a distance must be to be one
	alikePart  = 0.02  // of the louder level, below which clips apart and together are alike
	pointsPart = 0.003 // of the distance between clips apart and together, below which points closed and open are alike
	nearPart   = 0.1   // of it, within which points are as clips apart or together
	leakNote   = -40.0 // [dB] of leak over the tone that are worth a word
	leakWarn   = -12.0 // [dB] that are too much
	faint      = -60.0 // [dB] over what is played, below which nothing comes back
)

// findSteps tells whether the steps were what they should have been, and how the cable is wired.
func (k *conclusion) findSteps() {
	if !k.findSignal() || !k.has(Apart, Together) {
		return
	}
	apart, together, d := k.size(Apart), k.size(Together), k.distance(Apart, Together)
	louder := math.Max(apart.Value, together.Value)
	if d.Value < certain*d.U || d.Value < alikePart*louder {
		k.sayAlike(louder)
		k.doubt("clips apart and together sound alike")
		return
	}
	k.ordered = true
	k.findWiring(apart.Value, together.Value)
	k.findLeak()
	k.findPoints()
}

// findSignal tells whether anything comes back at all.
func (k *conclusion) findSignal() bool {
	best := -math.MaxFloat64
	heard := false
	k.each(func(s Step, m *Measure) {
		q := k.size(s)
		best = math.Max(best, audio.DBFS(math.Max(q.Value, 1e-9)))
		heard = heard || q.Value > certain*q.U && audio.DBFS(q.Value) > faint
	})
	switch {
	case heard:
		return true
	case k.has(Apart, Together):
		do := "look whether both plugs are in, in the right jacks, whether a lead is broken, whether the input is muted or turned down, and whether the output is"
		if k.opt.Wiring != InLine {
			do += "; with a cable across, whether the clips touched in the step with the clips apart"
		}
		k.say("no_signal", Stop, "nothing of the tone comes back, clips apart or together", do)
		k.doubt("nothing of the tone comes back")
	}
	return false
}

// sayAlike says that clips apart and together sound alike, and which of the two steps was the wrong one: points that closed are as clips that
// touch, whatever the wiring.
func (k *conclusion) sayAlike(louder float64) {
	text := "clips apart and together sound alike"
	if k.has(Closed, Open) {
		if d := k.distance(Closed, Open); d.Value > certain*d.U && d.Value > alikePart*math.Max(k.size(Closed).Value, k.size(Open).Value) {
			s, what, do := Apart, "the clips touched in the step with the clips apart", "the clips touching nothing"
			if k.distance(Together, Closed).Value > k.distance(Together, Open).Value {
				s, what, do = Together, "the clips did not touch in the step with the clips together", "metal on metal"
			}
			k.say("alike", Stop, fmt.Sprintf("%s, though points closed and open do not: %s", text, what),
				fmt.Sprintf("make the step with the %s again, %s; the cable itself may be good", stepWords(s), do))
			return
		}
	}
	where := ""
	switch silent := audio.DBFS(math.Max(louder, 1e-9)) < faint; {
	case k.opt.Wiring == Unknown:
	case silent == (k.opt.Wiring == InLine):
		where = "look whether the clips touched, metal on metal, with the clips together, and whether a lead is broken; then "
	default:
		where = "look whether the clips touched with the clips apart; then "
	}
	k.say("alike", Stop, fmt.Sprintf("%s, both %.0f dB below what is played: the tone does not go by the clips", text, -audio.DBFS(math.Max(louder, 1e-9))),
		where+"look whether the plugs are in the right jacks, whether a lead is broken, and whether the output is heard by the input within the computer")
}

// findWiring finds how the cable is wired, or which steps were swapped.
func (k *conclusion) findWiring(apart, together float64) {
	heard := InLine
	if apart > together {
		heard = Across
	}
	stated := k.opt.Wiring
	// With the points on, closed lies near clips together and open nearer to clips apart, whatever the wiring.
	points, upside := k.has(Closed, Open) && k.pointsApart() && !k.torn, false
	if points {
		upside = real(k.place(Closed)) < real(k.place(Open))
	}
	swap := func(a, b Step) { k.m[a], k.m[b] = k.m[b], k.m[a] }
	switch {
	case stated == Unknown && points && upside:
		k.doubt("two steps were swapped")
		k.say("swapped", Stop, "two steps were swapped: either clips apart and together, or points closed and open; which, the sound does not tell",
			"make the steps again, or say how the cable is wired")
	case stated == Unknown:
		k.r.Wiring, k.r.WiringSource = heard, "inferred"
	case heard == stated && points && upside:
		swap(Closed, Open)
		k.say("points_swapped", Warn, "the points were open when they should have been closed, and closed when they should have been open",
			"mind which is which; the figures here were swapped back")
	case heard == stated:
		k.r.WiringSource = "given"
	case points && upside:
		swap(Apart, Together)
		k.say("swapped", Warn, "clips apart and together were swapped", "nothing; they were swapped back")
	case points:
		k.r.Wiring, k.r.WiringSource, k.other = heard, "inferred", true
		k.say("wiring_other", Warn, fmt.Sprintf("the cable is wired %s, not %s: %s", heard.words(), stated.words(),
			map[Wiring]string{InLine: "the tone comes with the points closed", Across: "the tone comes with the points open"}[heard]),
			fmt.Sprintf("give --wiring %v from now on, or look how the cable is connected", heard))
	default:
		k.r.Wiring, k.r.WiringSource = heard, "inferred"
		k.say("swapped_or_wiring", Warn, fmt.Sprintf("either clips apart and together were swapped, or the cable is wired %s, not %s", heard.words(), stated.words()),
			"make both steps again; the points will show which it is")
	}
	k.loud = Together
	if heard == Across && k.r.Wiring == Unknown || k.r.Wiring == Across {
		k.loud = Apart
	}
}

// findLeak says what comes back though the clips should let nothing through.
func (k *conclusion) findLeak() {
	quiet := Apart
	if k.loud == Apart {
		quiet = Together
	}
	q, loud := k.size(quiet), k.size(k.loud)
	if q.Value < certain*q.U || loud.Value == 0 {
		return
	}
	switch db := audio.DBFS(q.Value / loud.Value); {
	case db > leakWarn:
		k.say("leak", Warn, fmt.Sprintf("with the %s the tone is only %.0f dB down: it leaks from the output to the input, or through the leads", stepWords(quiet), -db),
			"switch off that the output is heard by the input, keep the leads apart, and look at the plugs; turn output and input down")
	case db > leakNote:
		k.say("leak", Note, fmt.Sprintf("some of the tone comes back with the %s, %.0f dB down: harmless, it is allowed for", stepWords(quiet), -db), "")
	}
}

// pointsApart tells whether points closed and open differ.
func (k *conclusion) pointsApart() bool {
	d, span := k.distance(Closed, Open), k.distance(Apart, Together)
	return d.Value > certain*d.U && d.Value > pointsPart*span.Value
}

// findPoints tells whether the points opened and closed.
func (k *conclusion) findPoints() {
	if !k.has(Closed, Open) {
		return
	}
	if k.pointsApart() {
		k.parted = k.r.Wiring != Unknown
		return
	}
	k.doubt("points closed and open sound alike")
	at := real(k.place(Open))
	switch {
	case at > 1-nearPart:
		k.say("never_opened", Stop, "points closed and open sound alike, both as with the clips together: the points did not open, or both clips are on the same side",
			"turn the engine until the points are seen to part; put one clip on the insulated point's lead and the other on bare metal of the engine; "+
				"take a coil's lead off the points")
	case at < nearPart:
		k.say("never_closed", Stop, "points closed and open sound alike, both as with the clips apart: a lead is off, a clip is on paint, or the points did not close",
			"look at both clips, scratch for bare metal, and turn the engine until the points are seen to close; dirty points may not conduct at all")
	default:
		k.say("points_alike", Stop, "points closed and open sound alike, and neither as with the clips apart nor together: most likely the points did not "+
			"close, and what lies across them is heard alone, as a condenser",
			"look for dirt or a slip left between the points, and turn the crank until they are seen to close; then look at what else is connected to "+
				"them, and take a coil's lead off")
	}
}
