package cli

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"unicode/utf8"

	"breakcue/audio/circuit"
	"breakcue/cmd/internal/session"
	"breakcue/timing/sheet"
)

// kneeV is up to where two diodes each way round across output or input take nothing of note of the tone [V, peak]: a silicon one of small
// signal passes a few microamperes at 0.35 V (from memory).
const kneeV = 0.35

// told is wrapped, and keeps a number on one line with its unit, and a command whole.
func told(w io.Writer, indent, format string, args ...any) {
	const tie = "\u2060" // no blank and no letter
	text := unitBehind.ReplaceAllString(session.Printable(fmt.Sprintf(format, args...)), "$1"+tie+"$2")
	text = quotedCommand.ReplaceAllStringFunc(text, func(c string) string { return strings.ReplaceAll(c, " ", tie) })
	for _, line := range session.Sentence(indent, text) {
		fmt.Fprintln(w, strings.ReplaceAll(line, tie, " "))
	}
}

// unitBehind is a number's last figure and the unit behind it.
var unitBehind = regexp.MustCompile(`(\d) (kΩ|MΩ|Ω|µF|nF|pF|mH|mV|µV|V|Hz|kHz|dB|µs|%)`)

// quotedCommand is a command in a sentence.
var quotedCommand = regexp.MustCompile(`'breakcue [^']{1,60}'`)

// print writes the result for people, rounded.
func (r circuitResult) print(w io.Writer) {
	if e := r.job.engine; e != nil {
		told(w, "", "%s", ofSheet(e))
	}
	told(w, "", "%s", r.engine())
	told(w, "", "Sound card (assumed unless given): output of %s giving %s, input of %s with %s of noise in its whole band.",
		ohmText(r.Cables[0].SourceOhm), voltText(r.ToneV), ohmText(r.Cables[0].InputOhm), voltText(r.NoiseV))
	fmt.Fprintln(w)
	r.table(w)
	fmt.Fprintln(w)
	told(w, "", "Levels are relative to what the output gives with nothing connected. \"Timed to\" is the limit that noise sets, for "+
		"%d frames/s; the hand at the crank sets wider ones.", r.SampleRate)
	// With a lead off it is as much as this at the output, and across nearly as much at the input.
	if hi := r.ToneV * math.Sqrt2; hi > kneeV {
		fmt.Fprintln(w)
		told(w, "", "Turn the output down: %s (peak) with nothing connected is more than the diodes of the cable leave alone (%g V); the figures hold "+
			"without them.", voltText(hi), kneeV)
	}
	for _, c := range r.Cables {
		fmt.Fprintln(w)
		c.explain(w)
	}
	if r.job.sweep != nil {
		for _, c := range r.Cables {
			fmt.Fprintln(w)
			r.job.sweep.print(w, c)
		}
	}
	fmt.Fprintln(w)
	told(w, "", "caution: on dead points only. Ignition off, battery and coil lead off, plugs out and earthed; the cable off before the "+
		"engine is kicked or cranked. 'breakcue circuit cables' says how the cables are made and tested.")
}

// ofSheet says what an engine sheet has to say of cables.
func ofSheet(e *sheet.Engine) string {
	text := e.Name + ": "
	switch {
	case e.Ignition == sheet.Magneto && e.SourceCoil == sheet.StaysOn:
		text += "a magneto whose source coil stays on the points."
	case e.Ignition == sheet.Magneto && e.SourceCoil == sheet.ComesOff:
		text += "a magneto whose source coil comes off for the test."
	case e.Ignition == sheet.Magneto:
		text += "a magneto; its sheet does not say whether the source coil comes off, so it is taken as staying on the points."
	case e.Ignition == sheet.Battery:
		text += "battery ignition; the coil comes off for the test."
	default:
		text += "its sheet does not say whether it has a battery or a magneto; without a coil flag none is taken as on the points."
	}
	if e.Breaker.Sets > 1 {
		text += fmt.Sprintf(" It has %d sets of points: the figures hold for one at a time; 'breakcue circuit cables two-across' shows a cable for two.", e.Breaker.Sets)
	}
	return text
}

// engine says what is on the points.
func (r circuitResult) engine() string {
	text := "Points of " + ohmText(r.ContactOhm) + " when closed"
	k := r.job.cables[0]
	if r.CondenserUF != nil {
		text += ", a condenser of " + faradText(k.Condenser)
	} else {
		text += ", no condenser"
	}
	switch k.coil {
	case noCoil:
		text += ", no coil."
	case batteryCoil:
		text += fmt.Sprintf(", and still on them a battery coil of %s mH and %s whose far end goes to ", figures(k.Coil.L*1e3), ohmText(k.Coil.R))
		switch {
		case math.IsInf(k.Coil.Far, 1):
			text += "nothing."
		case k.Coil.Far == 0:
			text += "the battery or other loads."
		default:
			text += ohmText(k.Coil.Far) + "."
		}
	case sourceCoil:
		text += fmt.Sprintf(", a source coil of %s mH and %s across them.", figures(k.Coil.L*1e3), ohmText(k.Coil.R))
	case anySourceCoil:
		text += fmt.Sprintf(", a source coil across them that is unknown: figures are for %s mH, \"at worst\" for any of 0.8 to 4 mH", figures(k.Coil.L*1e3))
		if len(k.all) > 0 && k.all[0].Condenser == 0.1e-6 {
			text += " with 0.1 to 0.4 µF"
		}
		text += "."
	}
	return text
}

// wiringWords are the two wirings in prose.
func wiringWords(w circuit.Wiring) string {
	if w == circuit.Shunt {
		return "across"
	}
	return "in line"
}

// table sets the cables side by side.
func (r circuitResult) table(w io.Writer) {
	row := func(label string, cell func(cableResult) string) {
		line := pad(label, 18)
		for _, c := range r.Cables {
			line += pad(cell(c), 21)
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
	row("", func(c cableResult) string { return wiringWords(c.cable.Wiring) })
	row("cable", func(c cableResult) string {
		if c.cable.Load > 0 {
			return ohmText(c.SeriesOhm) + ", load " + ohmText(c.cable.Load)
		}
		return ohmText(c.SeriesOhm) + ", no load"
	})
	row("tone", func(c cableResult) string { return fmt.Sprintf("%.0f Hz", c.ToneHz) })
	row("points closed", func(c cableResult) string { return c.Closed.String() })
	row("points open", func(c cableResult) string { return c.Open.String() })
	row("contrast", func(c cableResult) string { return decibels(&c.ContrastDB) })
	row("turn", func(c cableResult) string { return fmt.Sprintf("%.0f°", noMinusZero(c.TurnDeg)) })
	row("apart", func(c cableResult) string {
		if c.IQDistance < 0.095 {
			return fmt.Sprintf("%.2g of the larger", c.IQDistance)
		}
		return fmt.Sprintf("%.2f of the larger", c.IQDistance)
	})
	row("signal to noise", func(c cableResult) string { return decibels(c.SNRDB) })
	row("timed to", func(c cableResult) string {
		if c.LimitUS == nil {
			return "not at all"
		}
		return roughly(*c.LimitUS) + " µs"
	})
	row("margin", func(c cableResult) string { return decibels(c.MarginDB) })
	row("  at worst", func(c cableResult) string { return decibels(c.WorstDB) })
	row("a lead off looks", func(c cableResult) string { return c.offWords() })
	row("verdict", func(c cableResult) string { return c.verdict.String() })
}

// pad fills a cell up to so many columns, with one blank at least.
func pad(s string, columns int) string {
	return s + strings.Repeat(" ", max(1, columns-utf8.RuneCountInString(s)))
}

// decibels writes decibels; nil is where two levels are the same, or there is none.
func decibels(x *float64) string {
	if x == nil {
		return "none"
	}
	return fmt.Sprintf("%.1f dB", noMinusZero(*x))
}

// roughly writes a number that is not known to more than two figures.
func roughly(x float64) string {
	if x >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", x)
}

// noMinusZero keeps a sign away from what rounds to zero at one decimal.
func noMinusZero(x float64) float64 {
	if math.Abs(x) < 0.05 {
		return 0
	}
	return x
}

func (l levelResult) String() string {
	if l.DB == nil || *l.DB < -150 {
		return "nothing"
	}
	phase := math.Round(*l.PhaseDeg)
	return fmt.Sprintf("%.1f dB, %.0f°", noMinusZero(*l.DB), phase+0) // +0: no minus zero
}

// offWords says in a cell what a lead that falls off looks like.
func (c cableResult) offWords() string {
	words := map[string]string{"open": "open", "closed": "closed", "either": "like either", "neither": "unlike both"}
	out := words[c.LeadOff[0].Looks]
	for _, l := range c.LeadOff[1:] {
		if words[l.Looks] != out {
			out += " or " + words[l.Looks]
		}
	}
	return out
}

// explain says in sentences what the figures mean.
func (c cableResult) explain(w io.Writer) {
	k := c.cable
	name := strings.ToUpper(wiringWords(k.Wiring)[:1]) + wiringWords(k.Wiring)[1:]
	told(w, "", "%s: %s. %s%s.", name, c.verdict, strings.ToUpper(c.Reason[:1]), c.Reason[1:])
	if c.Change != "" {
		told(w, "  ", "To change: %s.", c.Change)
	}
	if b := c.Best; b != nil && c.verdict == circuit.WillDo {
		with := ohmText(b.SeriesOhm) + " in series"
		if b.LoadOhm != nil {
			with += " and a load of " + ohmText(*b.LoadOhm)
		}
		if b.WorstDB < *c.WorstDB+1 {
			told(w, "  ", "Nothing better by as much as 1 dB was found between 300 Hz and 8 kHz.")
		} else {
			told(w, "  ", "Best here: about %.0f Hz (%.0f to %.0f Hz are as good) with %s: %.0f dB at worst.", b.ToneHz, b.FromHz, b.ToHz, with, b.WorstDB)
		}
	}
	if k.coil == batteryCoil {
		told(w, "  ", "The coil lead must come off the points all the same: live points kick back with 200 V and more.")
	}
	for _, l := range c.LeadOff {
		told(w, "  ", "%s", l.sentence(k.Wiring))
	}
	if f := k.tone; f == math.Trunc(f) && (offMains(int(f), 50) < toneMains || offMains(int(f), 60) < toneMains) {
		told(w, "  ", "Take another tone: %.0f Hz lies less than %d Hz off a harmonic of the mains, where hum sits; %.0f Hz is near and clear of it.",
			f, toneMains, toneNear(int(f), circuitRate))
	}
}

// sentence says what a lead that falls off does.
func (l leadResult) sentence(w circuit.Wiring) string {
	subject := map[string]string{"any": "Any lead that falls off", "clip off the points": "A clip that falls off the points", "drive or sense": "A break in the drive or the sense wire"}[l.Lead]
	what := map[string]string{
		"open": "looks just like an opening", "closed": "looks as if the points stayed closed for ever",
		"either": "cannot be told from either state", "neither": "fits neither state: it can be told apart",
	}[l.Looks]
	if l.Looks == "open" && w == circuit.Series {
		what += "; only the closing that must follow, at the level from before, tells"
	}
	if l.Looks == "open" && w == circuit.Shunt {
		what = "looks as if the points stayed open for ever"
	}
	return subject + " " + what + "."
}

// print writes a cable's sweep as a table.
func (s circuitSweep) print(w io.Writer, c cableResult) {
	fmt.Fprintf(w, "%s, over the %s\n", wiringWords(c.cable.Wiring), s.name)
	fmt.Fprintf(w, "%9s  %8s  %8s  %5s  %5s  %6s  %8s  verdict\n", s.head, "closed", "open", "turn", "apart", "margin", "at worst")
	level := func(l levelResult) string {
		if l.DB == nil || *l.DB < -150 {
			return "nothing"
		}
		return fmt.Sprintf("%.1f dB", noMinusZero(*l.DB))
	}
	margin := func(x *float64) string {
		if x == nil {
			return "none"
		}
		return fmt.Sprintf("%.1f", noMinusZero(*x))
	}
	for _, r := range c.Sweep {
		fmt.Fprintf(w, "%9s  %8s  %8s  %4.0f°  %5.2f  %6s  %8s  %s\n", fmt.Sprintf("%.4g", r.Value/s.unit), level(r.Closed), level(r.Open),
			noMinusZero(r.TurnDeg), r.IQDistance, margin(r.MarginDB), margin(r.WorstDB), r.verdict)
	}
}
