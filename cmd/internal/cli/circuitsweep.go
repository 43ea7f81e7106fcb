package cli

import (
	"fmt"
	"math"
	"slices"

	"breakcue/audio/circuit"
)

// circuitSweep is a quantity that is gone through while all else stays as it is.
type circuitSweep struct {
	name, head string // as typed; as printed, with the unit
	unit       float64
	values     []float64 // of the table
	lo, hi     float64   // of the picture
	set        func(*circuitCable, float64)
	say        func(float64) string // a value with its unit
}

// sweepRow is what a cable comes to at one value.
type sweepRow struct {
	Value      float64     `json:"value"` // in Hz, ohm or farad
	Closed     levelResult `json:"closed"`
	Open       levelResult `json:"open"`
	TurnDeg    float64     `json:"turn_deg"`
	IQDistance float64     `json:"iq_distance"`
	MarginDB   *float64    `json:"margin_db"`
	WorstDB    *float64    `json:"worst_margin_db"`
	Verdict    string      `json:"verdict"`
	verdict    circuit.Verdict
}

// everyCircuit changes a cable's circuit and all that it may turn out to be.
func everyCircuit(k *circuitCable, edit func(*circuit.Circuit)) {
	edit(&k.Circuit)
	k.all = slices.Clone(k.all)
	for i := range k.all {
		edit(&k.all[i])
	}
}

// sweepOf returns the sweep that a flag names; "" is over the tone.
func sweepOf(name string) (*circuitSweep, error) {
	resistors := []float64{10, 15, 22, 33, 47, 68, 100, 150, 220, 330, 470, 680, 1000}
	switch name {
	case "", "tone":
		s := &circuitSweep{name: "tone", head: "tone, Hz", unit: 1, lo: 300, hi: 8000, set: func(k *circuitCable, v float64) { k.tone = v },
			say: func(v float64) string { return fmt.Sprintf("%.0f Hz", v) }}
		for i, f := range circuit.UsualChoice(circuit.Series).Tones {
			if i%5 == 0 {
				s.values = append(s.values, f)
			}
		}
		return s, nil
	case "contact":
		return &circuitSweep{"contact", "points, Ω", 1, []float64{0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50}, 0.05, 50, func(k *circuitCable, v float64) {
			everyCircuit(k, func(c *circuit.Circuit) { c.Contact = v })
		}, ohmText}, nil
	case "condenser":
		return &circuitSweep{"condenser", "cond., µF", 1e-6, []float64{0.05e-6, 0.1e-6, 0.15e-6, 0.2e-6, 0.22e-6, 0.25e-6, 0.3e-6, 0.4e-6, 0.5e-6}, 0.05e-6, 0.5e-6,
			func(k *circuitCable, v float64) { everyCircuit(k, func(c *circuit.Circuit) { c.Condenser = v }) }, faradText}, nil
	case "load":
		return &circuitSweep{"load", "load, Ω", 1, resistors, 10, 1000, func(k *circuitCable, v float64) {
			everyCircuit(k, func(c *circuit.Circuit) { c.Load = v })
		}, ohmText}, nil
	case "series":
		return &circuitSweep{"series", "series, Ω", 1, resistors, 10, 1000, func(k *circuitCable, v float64) {
			everyCircuit(k, func(c *circuit.Circuit) { c.Series = v })
		}, ohmText}, nil
	}
	return nil, fail(ExitUsage, "use --sweep=tone, contact, condenser, load or series; --sweep alone is over the tone",
		"--sweep, got %q, want one of the quantities that can be gone through", name)
}

// rows works out a cable at each of the values.
func (s circuitSweep) rows(h circuit.Hearing, k circuitCable, values []float64) ([]sweepRow, error) {
	var out []sweepRow
	for _, v := range values {
		at := k
		s.set(&at, v)
		l, err := at.At(at.tone)
		if err != nil {
			return nil, err
		}
		worst, _, err := h.Worst(at.all, at.tone)
		if err != nil {
			return nil, err
		}
		verdict := circuit.Judge(worst)
		out = append(out, sweepRow{v, levelOf(l.Closed, h), levelOf(l.Open, h), l.Turn(), l.Distance(), finite(h.Margin(l)), finite(worst),
			[...]string{"will_not_do", "poor", "will_do"}[verdict], verdict})
	}
	return out, nil
}

// fine returns n values between the ends, evenly spaced in logarithms.
func (s circuitSweep) fine(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = s.lo * math.Pow(s.hi/s.lo, float64(i)/float64(n-1))
	}
	return out
}
