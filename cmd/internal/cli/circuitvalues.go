package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// electric is a kind of value that circuit takes.
type electric struct {
	what    string             // as "a resistance"
	units   map[string]float64 // spelled as in plainUnits
	bare    float64            // of a number without unit; 0 when it needs one
	lo, hi  float64            // that make sense
	none    bool               // "none" will do, and is 0
	example string
}

var (
	ohms       = map[string]float64{"ohm": 1, "ohms": 1, "R": 1, "mohm": 1e-3, "kohm": 1e3, "k": 1e3, "K": 1e3, "Kohm": 1e3, "Mohm": 1e6, "M": 1e6}
	farads     = map[string]float64{"F": 1, "uF": 1e-6, "nF": 1e-9, "pF": 1e-12, "mfd": 1e-6}
	henrys     = map[string]float64{"H": 1, "mH": 1e-3, "uH": 1e-6}
	resistance = electric{"a resistance", ohms, 1, 0, 1e6, false, "100ohm, 4.7kohm or 0.05ohm (ohm unless a unit is given)"}
	load       = electric{"a resistance", ohms, 1, 0.1, 1e6, true, "47ohm or 1kohm, or none"}
	condenser  = electric{"a condenser", farads, 1e-6, 1e-9, 1e-4, true, "0.22uF, 220nF or 0,22 (uF unless a unit is given), or none"}
	blocking   = electric{"a capacitor", farads, 1e-6, 1e-9, 1e-2, true, "10uF (uF unless a unit is given), or none"}
	leadC      = electric{"a capacitance", farads, 0, 0, 1e-6, true, "300pF or 1nF, with its unit"}
	winding    = electric{"an inductance", henrys, 0, 1e-6, 10, false, "8mH, with its unit"}
	wire       = electric{"a resistance", ohms, 0, 0, 1e5, false, "2ohm, with its unit"}
	volts      = electric{"a voltage", map[string]float64{"V": 1, "mV": 1e-3, "uV": 1e-6}, 0, 1e-6, 100, false, "200mV, 0.2V or -14dBV, with its unit"}
	hertz      = electric{"a frequency", map[string]float64{"Hz": 1, "hz": 1, "kHz": 1e3, "khz": 1e3}, 1, 100, 20000, false, "3250, 3250Hz or 3.25kHz"}
)

// parse reads a value of this kind as typed behind a flag: a number with a point or a comma, and its unit.
func (e electric) parse(flag, text string) (float64, error) {
	refuse := func(format string, args ...any) (float64, error) {
		return 0, fail(ExitUsage, "give "+e.what+" as "+e.example, "%s, got %q: %s", flag, text, fmt.Sprintf(format, args...))
	}
	s := strings.TrimSpace(text)
	if e.none && strings.EqualFold(s, "none") {
		return 0, nil
	}
	v, unit, err := numberWithUnit(s)
	if err != nil {
		return refuse("%v", err)
	}
	if e.units["mV"] != 0 && strings.EqualFold(unit, "dBV") {
		v, unit = math.Pow(10, v/20), "V" // 0 dBV is 1 V rms
	}
	factor := e.bare
	if unit != "" {
		var known bool
		if factor, known = e.units[unit]; !known {
			return refuse("unit %q is not known here", unit)
		}
	}
	if factor == 0 && v != 0 {
		return refuse("it has no unit")
	}
	v *= factor
	if !(v >= e.lo && v <= e.hi || v == 0 && e.none) {
		return refuse("want %s to %s", e.say(e.lo), e.say(e.hi))
	}
	return v, nil
}

// say writes a value of this kind in its own unit.
func (e electric) say(v float64) string {
	for _, unit := range []string{"ohm", "uF", "H", "V", "Hz", "deg"} {
		if factor, has := e.units[unit]; has {
			short, _ := strconv.ParseFloat(strconv.FormatFloat(v/factor, 'g', 6, 64), 64) // as it was written above
			return strconv.FormatFloat(short, 'f', -1, 64) + " " + unit
		}
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}

// numberWithUnit cuts a number from the unit behind it, which is spelled with plain letters. Point and comma both mark decimals, so a
// number has at most one of them.
func numberWithUnit(s string) (float64, string, error) {
	sign := 1.0
	for _, minus := range []string{"-", "−"} {
		if rest, ok := strings.CutPrefix(s, minus); ok {
			sign, s = -1, strings.TrimSpace(rest)
		}
	}
	s = strings.TrimPrefix(s, "+")
	end := strings.IndexFunc(s, func(r rune) bool { return r != '.' && r != ',' && (r < '0' || r > '9') })
	if end < 0 {
		end = len(s)
	}
	digits, unit := s[:end], plainUnit(s[end:])
	marks := strings.Count(digits, ".") + strings.Count(digits, ",")
	switch {
	case len(digits) == marks:
		return 0, "", fmt.Errorf("no digits where the number should be")
	case marks > 1:
		return 0, "", fmt.Errorf("more than one decimal mark")
	case strings.ContainsAny(digits[len(digits)-1:], ".,"):
		return 0, "", fmt.Errorf("no digits after the decimal mark")
	}
	v, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	if err != nil {
		return 0, "", fmt.Errorf("too large")
	}
	return sign * v, unit, nil
}

// plainUnit spells a unit with plain letters: both ohm signs and both micro signs have two code points.
func plainUnit(s string) string {
	s = strings.NewReplacer("Ω", "ohm", "Ω", "ohm", "µ", "u", "μ", "u", "Ohm", "ohm", "OHM", "ohm", " ", "").Replace(s)
	if low := strings.ToLower(s); low == "uf" || low == "nf" || low == "pf" {
		return s[:0] + low[:1] + "F"
	}
	return s
}

// coilText reads a winding as typed: inductance and resistance in any order, a stroke or a space between them.
func coilText(flag, text string) (l, r float64, err error) {
	const hint = "give inductance and resistance with their units, a stroke between them, as 8mH/2ohm"
	parts := strings.FieldsFunc(text, func(x rune) bool { return x == '/' || x == ' ' || x == ';' })
	haveL, haveR := false, false
	for _, part := range parts {
		_, unit, err := numberWithUnit(part)
		_, isR := ohms[unit]
		switch _, isL := henrys[unit]; {
		case err != nil:
			return 0, 0, fail(ExitUsage, hint, "%s, got %q: %w", flag, part, err)
		case unit == "":
			return 0, 0, fail(ExitUsage, hint, "%s, got %q: it has no unit", flag, part)
		case !isL && !isR:
			return 0, 0, fail(ExitUsage, hint, "%s, got %q: unit %q is not known here", flag, part, unit)
		case isL && !haveL:
			if l, err = winding.parse(flag, part); err != nil {
				return 0, 0, err
			}
			haveL = true
		case !isL && !haveR:
			if r, err = wire.parse(flag, part); err != nil {
				return 0, 0, err
			}
			haveR = true
		default:
			return 0, 0, fail(ExitUsage, hint, "%s, got %q: the same is given twice", flag, text)
		}
	}
	if !haveL || !haveR {
		return 0, 0, fail(ExitUsage, hint, "%s, got %q: want both inductance and resistance", flag, text)
	}
	return l, r, nil
}

// ohmText writes a resistance for people.
func ohmText(r float64) string {
	switch {
	case math.IsInf(r, 1):
		return "none"
	case r >= 1e6:
		return figures(r/1e6) + " MΩ"
	case r >= 1e3:
		return figures(r/1e3) + " kΩ"
	}
	return figures(r) + " Ω"
}

// faradText writes a capacitance for people, as the trade does: in µF from 10 nF on.
func faradText(c float64) string {
	switch {
	case c >= 0.01e-6:
		return figures(c*1e6) + " µF"
	case c >= 1e-9:
		return figures(c*1e9) + " nF"
	}
	return figures(c*1e12) + " pF"
}

// voltText writes a voltage for people.
func voltText(v float64) string {
	switch {
	case v >= 1:
		return figures(v) + " V"
	case v >= 1e-3:
		return figures(v*1e3) + " mV"
	}
	return figures(v*1e6) + " µV"
}

// figures writes a number with up to three significant figures.
func figures(v float64) string {
	digits := 2 - int(math.Floor(math.Log10(math.Max(math.Abs(v), 1e-9))))
	s := strconv.FormatFloat(v, 'f', max(0, min(digits, 6)), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
