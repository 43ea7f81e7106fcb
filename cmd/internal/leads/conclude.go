package leads

import (
	"math"
	"math/cmplx"
	"slices"

	"breakcue/audio/circuit"
)

// conclusion is what is drawn from the measures, part by part.
type conclusion struct {
	opt     Options
	hz      []float64
	m       [Steps]*Measure // swapped back where steps were
	r       Result
	torn    bool               // the phases of the steps do not belong together
	void    bool               // levels are so wrong that figures from them mean nothing
	unsure  string             // why levels cannot be believed; empty where they can
	tone    int                // of the comb, the chosen one; -1: none
	trip    float64            // [frames]
	loud    Step               // of the clips apart and together, the louder
	ordered bool               // apart and together differ as they should
	parted  bool               // so do points closed and open
	other   bool               // the wiring was given as another than it is
	found   *circuit.Connected // at the points; nil where that cannot be told
	apart   apart              // how far closed and open lie apart at the tone
}

// conclude draws the conclusions from the steps made so far.
func conclude(c *Check) Result {
	k := &conclusion{opt: c.opt, hz: c.hz, m: c.measures(), tone: -1}
	k.r = Result{Wiring: c.opt.Wiring, WiringSource: "given", Findings: []Finding{}}
	if c.opt.Wiring == Unknown {
		k.r.WiringSource = "assumed"
	}
	for _, m := range k.m {
		if m != nil {
			k.r.Measures = append(k.r.Measures, *m)
			if m.Trip != nil && k.trip == 0 {
				k.trip = m.Trip.Value
			}
		}
	}
	if len(k.r.Measures) == 0 {
		return k.r
	}
	k.findInput()
	k.findTorn()
	k.findSteps()
	if k.parted {
		k.chooseTone()
	}
	if k.parted {
		k.identify()
	}
	if !k.void {
		k.findLevels()
	}
	if k.parted {
		k.findConnected()
		if !k.void {
			k.findLeadOff()
		}
		if k.unsure == "" && !slices.ContainsFunc(k.r.Findings, func(f Finding) bool { return f.Severity == Stop }) {
			k.profile()
		}
	}
	k.order()
	return k.r
}

// order puts what must be minded first, then what is connected, whether a lead that is off is told, the levels, and last what hardly matters.
func (k *conclusion) order() {
	rank := func(f Finding) int {
		switch at := slices.Index([]string{"source_coil", "coil", "condenser", "condenser_small", "condenser_large", "condenser_unknown", "no_condenser",
			"contact", "contact_unknown", "points_leak", "connected_unknown", "lead_off_told", "lead_off_not_told", "contrast", "snr"}, f.Code); {
		case f.Severity == Stop:
			return -2
		case f.Severity == Warn:
			return -1
		case f.Code == "round_trip":
			return 1001
		case at < 0:
			return 1000
		default:
			return at
		}
	}
	slices.SortStableFunc(k.r.Findings, func(a, b Finding) int { return rank(a) - rank(b) })
}

// say adds a finding.
func (k *conclusion) say(code string, s Severity, text, do string) {
	k.r.Findings = append(k.r.Findings, Finding{Code: code, Severity: s, Text: text, Do: do})
}

// doubt notes why levels cannot be believed.
func (k *conclusion) doubt(why string) {
	if k.unsure == "" {
		k.unsure = why
	}
}

// level returns the level of a tone in a step.
func (k *conclusion) level(s Step, tone int) complex128 { return k.m[s].Tones[tone].Level.Value() }

// size is the root of the mean square of the levels in a step.
func (k *conclusion) size(s Step) Quantity {
	return k.rms(func(i int) complex128 { return k.level(s, i) }, s)
}

// distance is the same of the difference between two steps.
func (k *conclusion) distance(a, b Step) Quantity {
	return k.rms(func(i int) complex128 { return k.level(a, i) - k.level(b, i) }, a, b)
}

// rms returns the root of the mean square of something over the tones, what noise alone makes of it taken off; U is the latter.
func (k *conclusion) rms(of func(tone int) complex128, steps ...Step) Quantity {
	var sum, noise float64
	n := float64(len(k.hz))
	for i := range k.hz {
		sum += abs2(of(i)) / n
		for _, s := range steps {
			noise += 2 * k.m[s].Tones[i].U * k.m[s].Tones[i].U / n
		}
	}
	return Quantity{Value: math.Sqrt(math.Max(0, sum-noise)), U: math.Sqrt(noise)}
}

// place returns where the levels of a step lie between clips apart, 0, and together, 1: B/(Z+B), as a mean over the tones. It tells how near they are.
func (k *conclusion) place(s Step) (mean complex128) {
	var weight float64
	for i := range k.hz {
		za, zt := k.level(Apart, i), k.level(Together, i)
		w := abs2(zt - za)
		mean += (k.level(s, i) - za) * cmplx.Conj(zt-za)
		weight += w
	}
	if weight == 0 {
		return 0
	}
	return mean / complex(weight, 0)
}

// has tells whether all of the steps were made.
func (k *conclusion) has(steps ...Step) bool {
	for _, s := range steps {
		if k.m[s] == nil {
			return false
		}
	}
	return true
}

// each calls do for every step made.
func (k *conclusion) each(do func(s Step, m *Measure)) {
	for s, m := range k.m {
		if m != nil {
			do(Step(s), m)
		}
	}
}
