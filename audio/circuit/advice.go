package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
)

// Hearing says how loud the tone is and what stands against it.
type Hearing struct {
	Tone  float64 // of the output with nothing connected [V rms], more than 0
	Noise float64 // at the input, in its whole band [V rms], more than 0
	// Wander is by how much of itself a level moves without the points: a clip that shifts, a plug, an oxide film, a knob.
	// 0..1, usually a few hundredths.
	Wander float64
}

// validate returns an error that names the first value out of its range.
func (h Hearing) validate() error {
	positive := func(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
	switch {
	case !positive(h.Tone):
		return fmt.Errorf("circuit: tone [V], got %v, want more than 0", h.Tone)
	case !positive(h.Noise):
		return fmt.Errorf("circuit: noise [V], got %v, want more than 0", h.Noise)
	case !(h.Wander >= 0 && h.Wander <= 1):
		return fmt.Errorf("circuit: wander, got %v, want 0..1", h.Wander)
	}
	return nil
}

// SNR returns the power of the larger level over that of the noise [dB], -Inf when both levels are 0.
func (h Hearing) SNR(l Levels) float64 {
	hi, _ := l.order()
	return 20 * math.Log10(hi*h.Tone/h.Noise)
}

// Step returns the power of the difference of the two levels over that of the noise, 0 or more: what EdgeLimit wants.
func (h Hearing) Step(l Levels) float64 {
	return math.Pow(cmplx.Abs(l.Closed-l.Open)*h.Tone/h.Noise, 2)
}

// Margin returns how far apart closed and open are, in what blurs them [dB]:
//
//	20*log10( |Closed-Open|*Tone / sqrt(Noise^2 + (Wander*larger)^2) )
//
// The noise blurs a level that is too small to be heard; the wander one that is loud, but hardly changes when the points open. So a
// large margin needs both a tone well above the noise and a distance that is a good part of it. It is -Inf when the levels are equal.
func (h Hearing) Margin(l Levels) float64 {
	hi, _ := l.order()
	return 20 * math.Log10(cmplx.Abs(l.Closed-l.Open)*h.Tone/math.Hypot(h.Noise, h.Wander*hi*h.Tone))
}

// What is taken where nobody knows better: by how much of itself a level wanders, and by which part condenser and coil may be off.
const (
	UsualWander = 0.02
	UsualSpread = 0.2
)

// Spread returns c as it may turn out to be: with points from clean to dirty, 0.05, 0.5 and 5 ohm and c.Contact if
// that is more, and each of condenser and coil
// (its inductance, and its losses with it) by part off either way and not at all. part is 0 (neither
// is off) to 0.9.
func (c Circuit) Spread(part float64) []Circuit {
	var out []Circuit
	off := []float64{1 - part, 1, 1 + part}
	one := []float64{1}
	coils, condensers := one, one
	if c.Coil != nil && part > 0 {
		coils = off
	}
	if c.Condenser > 0 && part > 0 {
		condensers = off
	}
	contacts := []float64{0.05, 0.5, 5}
	if c.Contact > 5 {
		contacts = append(contacts, c.Contact)
	}
	for _, contact := range contacts {
		for _, condenser := range condensers {
			for _, coil := range coils {
				v := c
				v.Contact, v.Condenser = contact, c.Condenser*condenser
				if c.Coil != nil {
					w := *c.Coil
					w.L, w.Eddy = w.L*coil, w.Eddy*coil
					v.Coil = &w
				}
				out = append(out, v)
			}
		}
	}
	return out
}

// Verdict says whether a cable will do.
type Verdict uint8

// The verdicts.
const (
	WillNotDo Verdict = iota // closed and open lie less than five times of what blurs them apart
	Poor                     // five to ten times
	WillDo                   // ten times or more
)

// String returns "will not do", "poor" or "will do".
func (v Verdict) String() string {
	return [...]string{"will not do", "poor", "will do"}[min(v, WillDo)]
}

// Judge says what a margin [dB], that of the worst case, is good for: 14 dB and 20 dB are the limits, a choice of ours. What blurs the
// levels is given as a standard deviation, so at five of them states are never taken for each other by accident; twice as much is
// left for what is not in the circuit. NaN will not do.
func Judge(margin float64) Verdict {
	switch {
	case margin >= 20:
		return WillDo
	case margin >= 14:
		return Poor
	}
	return WillNotDo
}

// Worst returns the least margin [dB] that any of the circuits, at least one, has at f [Hz], and which one that is. It fails where
// Circuit.At does.
func (h Hearing) Worst(cases []Circuit, f float64) (margin float64, which Circuit, err error) {
	margin = math.Inf(1)
	for _, c := range cases {
		l, err := c.At(f)
		if err != nil {
			return 0, Circuit{}, err
		}
		if m := h.Margin(l); m < margin {
			margin, which = m, c
		}
	}
	return margin, which, nil
}

// Choice is what Best chooses from.
type Choice struct {
	Tones  []float64 // [Hz], rising
	Series []float64 // resistors between output and points [ohm]
	Loads  []float64 // resistors across the input [ohm], 0 for none
	Usual  float64   // the tone that is taken where it hardly matters [Hz], more than 0
}

// UsualChoice returns what can be had and does no harm in a wiring: tones of 300 Hz to 8 kHz, some 4 % apart and all at least 8 Hz off
// the harmonics of 50 and 60 Hz, where hum sits; resistors of the series E12 (IEC 60063). In line 47 ohm to 470 ohm and a load of
// 10 ohm to 1 kohm; across 56 to 180 ohm and no load. The resistor in series is never less, for it also keeps from the output what
// a magneto makes.
func UsualChoice(w Wiring) Choice {
	var out Choice
	for f := 300.0; f <= 8000; f *= 1.04 {
		if hz, ok := offMains(math.Round(f)); ok {
			out.Tones = append(out.Tones, hz)
		}
	}
	if w == Shunt {
		return Choice{out.Tones, e12(56, 180), []float64{0}, 3250}
	}
	return Choice{out.Tones, e12(47, 470), e12(10, 1000), 1000}
}

// offMains returns the frequency nearest to hz, within 25 Hz and 300..8000 Hz, that keeps 8 Hz from the harmonics of 50 and 60 Hz.
func offMains(hz float64) (float64, bool) {
	for d := 0.0; d <= 25; d++ {
		for _, f := range []float64{hz + d, hz - d} {
			if f >= 300 && f <= 8000 && math.Abs(math.Remainder(f, 50)) >= 8 && math.Abs(math.Remainder(f, 60)) >= 8 {
				return f, true
			}
		}
	}
	return 0, false
}

// e12 returns the values of IEC 60063, series E12, from lo to hi [ohm].
func e12(lo, hi float64) []float64 {
	var out []float64
	for decade := 1.0; decade <= hi; decade *= 10 {
		for _, v := range []float64{10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82} {
			if v*decade >= lo && v*decade <= hi {
				out = append(out, v*decade)
			}
		}
	}
	return out
}

// Best is a tone and the resistors of a cable, with what they come to in the worst of the cases.
type Best struct {
	Tone, Series, Load float64 // [Hz], [ohm], [ohm] or 0 for no load
	Margin             float64 // [dB], in the worst case
	Limit              float64 // EdgeLimit in the worst case [s]
	From, To           float64 // tones around Tone [Hz] with these resistors whose margin is at most 1 dB below the best
	step               float64 // Hearing.Step in the worst case
}

// before tells that b is rather taken than other, where both are good: it lies nearer to the usual tone, or as near and is louder.
func (b Best) before(other Best, usual float64) bool {
	near := func(f float64) float64 { return math.Abs(math.Log(f / usual)) }
	if b.Tone != other.Tone {
		return near(b.Tone) < near(other.Tone)
	}
	return b.step > other.step
}

// even is by how much margins may differ and still count as the same [dB]: other things, which are not in the circuit, move them more.
const even = 0.5

// Best chooses tone and resistors for circuits that are all possible, at least one (Circuit.Spread), whatever resistors these have.
//
// The criterion is the margin (Hearing.Margin), the distance in the I/Q plane over noise and wander, in the worst of the cases: what
// is best for clean points and a condenser of exactly its value is no use when the points are dirty. Of all that come within half a
// decibel of the best, those are taken at which an edge can be timed best (EdgeLimit), again in the worst case, to a tenth; and of these the
// one whose tone lies nearest to the usual one, then the loudest.
//
// It fails on an empty list and where Circuit.At does.
func (h Hearing) Best(cases []Circuit, from Choice) (Best, error) {
	if err := h.validate(); err != nil {
		return Best{}, err
	}
	if len(cases) == 0 || len(from.Tones)*len(from.Series)*len(from.Loads) == 0 {
		return Best{}, fmt.Errorf("circuit: nothing to choose from, got %d cases, %d tones, %d series resistors, %d loads, want at least one of each",
			len(cases), len(from.Tones), len(from.Series), len(from.Loads))
	}
	between, err := acrossPoints(cases, from.Tones)
	if err != nil {
		return Best{}, err
	}
	var all []Best
	top := math.Inf(-1)
	own := slices.Clone(cases)
	for _, series := range from.Series {
		for _, load := range from.Loads {
			for i := range own {
				own[i].Series, own[i].Load = series, load
				if err := own[i].Validate(); err != nil {
					return Best{}, err
				}
			}
			for i, f := range from.Tones {
				b := h.with(own, between[i], f)
				b.Series, b.Load = series, load
				top = math.Max(top, b.Margin)
				all = append(all, b)
			}
		}
	}
	if math.IsInf(top, -1) {
		return Best{}, fmt.Errorf("circuit: no tone tells open from closed, got equal levels everywhere, want a difference")
	}
	limit := math.Inf(1)
	for _, b := range all {
		if b.Margin >= top-even {
			limit = math.Min(limit, b.Limit)
		}
	}
	best := -1
	for i, b := range all {
		if b.Margin >= top-even && b.Limit <= 1.1*limit && (best < 0 || b.before(all[best], from.Usual)) {
			best = i
		}
	}
	out := all[best]
	n := len(from.Tones)
	row := all[best/n*n : best/n*n+n]
	lo, hi := best%n, best%n
	for lo > 0 && row[lo-1].Margin >= top-1 {
		lo--
	}
	for hi < n-1 && row[hi+1].Margin >= top-1 {
		hi++
	}
	out.From, out.To = row[lo].Tone, row[hi].Tone
	return out, nil
}

// acrossPoints returns what lies between the clips for each tone and each of the circuits, with the points closed and open.
func acrossPoints(cases []Circuit, tones []float64) ([][][2]complex128, error) {
	out := make([][][2]complex128, len(tones))
	for i, f := range tones {
		for _, c := range cases {
			closed, open, err := c.Between(f)
			if err != nil {
				return nil, err
			}
			out[i] = append(out[i], [2]complex128{closed, open})
		}
	}
	return out, nil
}

// with returns what circuits come to at a tone in the worst of them, given what lies between their clips: Margin and Step, without the
// decibels until the worst is known.
func (h Hearing) with(cases []Circuit, between [][2]complex128, f float64) Best {
	out := Best{Tone: f, step: math.Inf(1)}
	power := func(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
	least, tone, noise := math.Inf(1), h.Tone*h.Tone, h.Noise*h.Noise
	for i, c := range cases {
		closed, open := c.level(f, between[i][0]), c.level(f, between[i][1])
		apart := power(closed-open) * tone
		out.step = math.Min(out.step, apart/noise)
		least = math.Min(least, apart/(noise+h.Wander*h.Wander*tone*math.Max(power(closed), power(open))))
	}
	out.Margin, out.Limit = 10*math.Log10(least), EdgeLimit(out.step, f)
	return out
}
