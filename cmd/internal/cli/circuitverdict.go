package cli

import (
	"fmt"
	"math"
	"math/cmplx"

	"breakcue/audio/circuit"
)

// reason says in one sentence why the verdict is what it is, in the worst of the likely cases.
func (k circuitCable) reason(h circuit.Hearing, worst circuit.Circuit, l circuit.Levels, margin float64) string {
	if circuit.Judge(margin) == circuit.WillDo {
		return fmt.Sprintf("closed and open lie %.0f dB apart at worst (%s), where 20 dB will do", margin, worstWords(worst))
	}
	hi := math.Max(cmplx.Abs(l.Closed), cmplx.Abs(l.Open)) * h.Tone
	if hi*h.Wander < h.Noise {
		return fmt.Sprintf("too little of the tone reaches the input: %s at worst, beside %s of noise", voltText(hi), voltText(h.Noise))
	}
	return fmt.Sprintf("the tone changes by only %.2g %% of itself when the points open, at worst (%s), and a clip that shifts changes it by %g %%: %s",
		100*l.Distance(), worstWords(worst), 100*h.Wander, k.culprit(worst))
}

// worstWords names the parts of a circuit that may be worse than they should.
func worstWords(c circuit.Circuit) string {
	text := "points of " + ohmText(c.Contact)
	if c.Condenser > 0 {
		text += ", condenser of " + faradText(c.Condenser)
	}
	if c.Coil != nil {
		text += ", coil of " + figures(c.Coil.L*1e3) + " mH"
	}
	return text
}

// culprit names what passes the tone beside the points, or hides them.
func (k circuitCable) culprit(worst circuit.Circuit) string {
	_, open, err := worst.Between(k.tone)
	if err != nil {
		return err.Error()
	}
	name := "source coil"
	if k.coil == batteryCoil {
		name = "coil"
	}
	coil, condenser := math.Inf(1), math.Inf(1)
	if worst.Coil != nil {
		coil = cmplx.Abs(worst.Coil.Impedance(k.tone))
	}
	if worst.Condenser > 0 {
		condenser = circuit.Reactance(worst.Condenser, k.tone)
	}
	beside := "condenser"
	switch {
	case math.IsInf(coil, 1) && math.IsInf(condenser, 1):
		return fmt.Sprintf("points of %s and leads hide it", ohmText(worst.Contact))
	case coil < 3*condenser && condenser < 3*coil:
		beside = name + " with condenser"
	case coil < condenser:
		beside = name
	}
	if worst.Common > cmplx.Abs(open)/3 && k.Wiring == circuit.Shunt {
		return fmt.Sprintf("the shared leads, %s, are as much as the %s across open points, %s", ohmText(worst.Common), beside, ohmText(cmplx.Abs(open)))
	}
	return fmt.Sprintf("the %s is only %s across open points", beside, ohmText(cmplx.Abs(open)))
}

// remedy is a change of the circuit with its name.
type remedy struct {
	text   string
	margin float64
}

// change says what to change so that the cable will do: the first of the likely remedies that is enough, or else the one that helps most.
// It is empty where nothing need be changed.
func (k circuitCable) change(h circuit.Hearing, margin float64) (string, error) {
	if circuit.Judge(margin) == circuit.WillDo {
		return "", nil
	}
	var all []remedy
	try := func(h circuit.Hearing, k circuitCable, format string, args ...any) error {
		m, _, err := h.Worst(k.all, k.tone)
		all = append(all, remedy{fmt.Sprintf(format, args...), m})
		return err
	}
	edited := func(edit func(*circuit.Circuit)) circuitCable {
		out := k
		out.all = nil
		for _, c := range k.all {
			edit(&c)
			out.all = append(out.all, c)
		}
		return out
	}
	if k.coil == batteryCoil {
		if err := try(h, edited(func(c *circuit.Circuit) { c.Coil = nil }), "take the coil lead off the points"); err != nil {
			return "", err
		}
	}
	if k.Common > 0.5 && k.Wiring == circuit.Shunt {
		if err := try(h, edited(func(c *circuit.Circuit) { c.Common, c.Lead = 0, c.Lead+k.Common }), "lead drive and sense to the points by wires of their own"); err != nil {
			return "", err
		}
	}
	if h.Tone < 0.2 {
		loud := h
		loud.Tone = 0.2
		if err := try(loud, k, "turn the output up to 200 mV"); err != nil {
			return "", err
		}
	}
	across := func() error {
		other := edited(func(c *circuit.Circuit) { c.Wiring, c.Series, c.Load = circuit.Shunt, 100, 0 })
		other.Wiring, other.tone = circuit.Shunt, liveTone(detectWiring(circuit.Shunt), circuitRate)
		return try(h, other, "wire the cable across the points: 100 Ω in series, no load, a tone of about %.0f Hz", other.tone)
	}
	if k.Wiring == circuit.Series && (k.coil == sourceCoil || k.coil == anySourceCoil) {
		if err := across(); err != nil {
			return "", err
		}
	}
	if err := k.better(h, try, edited); err != nil {
		return "", err
	}
	if k.Wiring == circuit.Series {
		if err := across(); err != nil {
			return "", err
		}
	}
	if k.Condenser > 0 {
		if err := try(h, edited(func(c *circuit.Circuit) { c.Condenser = 0 }), "take the condenser off the points for the test"); err != nil {
			return "", err
		}
	}
	return chosen(all, margin), nil
}

// better tries another tone with the same resistors, then others.
func (k circuitCable) better(h circuit.Hearing, try func(circuit.Hearing, circuitCable, string, ...any) error, edited func(func(*circuit.Circuit)) circuitCable) error {
	choice := circuit.UsualChoice(k.Wiring)
	own := choice
	own.Series, own.Loads = []float64{k.Series}, []float64{k.Load}
	if b, err := h.Best(k.all, own); err == nil {
		other := k
		other.tone = toneNear(int(b.Tone), circuitRate)
		if err := try(h, other, "use a tone of about %.0f Hz", other.tone); err != nil {
			return err
		}
	}
	b, err := h.Best(k.all, choice)
	if err != nil {
		return nil // nothing helps
	}
	other := edited(func(c *circuit.Circuit) { c.Series, c.Load = b.Series, b.Load })
	other.tone = toneNear(int(b.Tone), circuitRate)
	what := ohmText(b.Series) + " in series"
	if b.Load > 0 {
		what += " and a load of " + ohmText(b.Load)
	}
	return try(h, other, "take %s, and a tone of about %.0f Hz", what, other.tone)
}

// chosen returns the first remedy that is enough, or the one that helps most.
func chosen(all []remedy, margin float64) string {
	most := remedy{margin: margin + 1} // less is none
	for _, r := range all {
		if circuit.Judge(r.margin) == circuit.WillDo {
			return fmt.Sprintf("%s: %.0f dB then, which will do", r.text, r.margin)
		}
		if r.margin > most.margin {
			most = r
		}
	}
	if most.text == "" {
		return "nothing in the cable helps: measure at the points by another way"
	}
	return fmt.Sprintf("%s: %.0f dB then, %s still", most.text, most.margin, circuit.Judge(most.margin))
}
