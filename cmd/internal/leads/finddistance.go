package leads

import (
	"fmt"
	"math"
	"math/cmplx"

	"breakcue/audio"
	"breakcue/audio/circuit"
)

// loadUsual is the load of a cable in line that brings closed and open farthest apart [ohm].
const loadUsual = 47.0

// apart is how far points closed and open lie apart at the tone.
type apart struct {
	part   Quantity // of the larger level
	margin float64  // in what blurs them, as measured [dB]: see circuit.Hearing
	worst  float64  // the same in the worst of what the points may become, where it is known what is connected; else margin
	noise  bool     // what blurs them most is noise
}

// findDistance says how well closed and open are told apart: noise is the standard deviation of a sample.
func (k *conclusion) findDistance(noise float64) {
	l := circuit.Levels{Closed: k.level(Closed, k.tone), Open: k.level(Open, k.tone)}
	larger := math.Max(cmplx.Abs(l.Closed), cmplx.Abs(l.Open))
	h := circuit.Hearing{Tone: audio.Amplitude(k.opt.Level) / math.Sqrt2, Noise: noise, Wander: circuit.UsualWander}
	u := math.Hypot(k.m[Closed].Tones[k.tone].U, k.m[Open].Tones[k.tone].U)
	k.apart = apart{part: Quantity{Value: l.Distance(), U: u / larger}, margin: h.Margin(l), noise: larger*h.Wander*h.Tone < noise}
	k.apart.worst = k.apart.margin
	worst := ""
	if margin, ok := k.worst(h); ok {
		k.apart.worst, worst = math.Min(k.apart.margin, margin), " at worst"
	}
	how := figure(k.apart.part.Value)
	if 2*k.apart.part.U >= 0.01 { // less is noise alone: a clip that shifts moves it more
		how += fmt.Sprintf(" (± %s)", figure(2*k.apart.part.U))
	}
	verdict := circuit.Judge(k.apart.worst)
	now := fmt.Sprintf("%s of the larger level apart, %.1f dB in level, %.0f° in phase, %.0f dB above the noise", how, l.Contrast(), l.Turn()+0,
		10*math.Log10(h.Step(l)))
	if k.unsure != "" && verdict == circuit.WillDo { // a verdict on levels that cannot be believed is none
		k.say("contrast", Note, fmt.Sprintf("tone %.0f Hz: points closed and open lie %s", k.r.Tone, now), "")
		return
	}
	text := fmt.Sprintf("tone %.0f Hz: %v; points closed and open lie %.0f dB apart%s, where 20 dB will do (now %s)", k.r.Tone, verdict, k.apart.worst, worst, now)
	switch verdict {
	case circuit.WillNotDo:
		k.say("contrast", Stop, text, k.remedy())
	case circuit.Poor:
		k.say("contrast", Warn, text, k.remedy())
	default:
		k.say("contrast", OK, text, "")
	}
}

// worst returns the least margin [dB] of what is connected, as that may turn out with dirty points and parts that are off; false where that
// is not known.
func (k *conclusion) worst(h circuit.Hearing) (margin float64, ok bool) {
	if k.found == nil {
		return 0, false
	}
	fix, err := k.fixture(k.tone)
	if err != nil {
		return 0, false
	}
	cable, _ := k.assumed()
	margin = math.Inf(1)
	for _, c := range k.found.Circuit(cable).Spread(circuit.UsualSpread) {
		closed, open, err := c.Between(k.hz[k.tone])
		if err != nil {
			return 0, false
		}
		margin = math.Min(margin, h.Margin(circuit.Levels{Closed: fix.Level(closed), Open: fix.Level(open)}))
	}
	return margin, true
}

// remedy says what brings closed and open farther apart, by what holds them together.
func (k *conclusion) remedy() string {
	switch c := k.r.Connected; {
	case k.apart.noise:
		if f, ok := k.r.Find("snr"); ok && f.Severity != OK {
			return "bring the SNR up, as said there"
		}
		return louder + ", then the input; look for a bad plug and for what makes the noise"
	case c != nil && c.Coil != nil && !c.Coil.Source:
		return "take the coil's lead off the points"
	case c != nil && c.Coil != nil && k.r.Wiring == InLine:
		return "use the cable across: it hears past a source coil"
	case c != nil && c.Contact != nil && c.Contact.Value > contactGood:
		return "clean the points"
	case k.r.Wiring == Across:
		return "lead tone and input to the points by leads of their own"
	case k.opt.Cable != nil && k.opt.Cable.Load > 0 && k.opt.Cable.Load <= loadUsual:
		return "use the cable across"
	}
	return "use a cable with a lower resistor across the input (47 Ω), or the cable across"
}
