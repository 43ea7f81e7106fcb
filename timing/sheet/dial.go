package sheet

import (
	"math"

	"breakcue/timing"
)

// Dial is a dial sheet, checked.
type Dial struct {
	Name string // empty when the sheet leaves it out
	timing.Dial
	// Unchecked tells that the sheet gives no limit of error, so that this dial is taken to be a good one of its range.
	Unchecked bool
}

// Standard uncertainties taken when the sheet of an inclined dial leaves them out: a plunger's angle estimated by eye or
// with a protractor, and a crown's slope from a drawing or a feel (both common practice).
const (
	defaultPlungerAngleU timing.Angle = 1
	defaultCrownSlopeU   timing.Angle = 3
)

// LoadDial reads the dial sheet at path.
func LoadDial(path string) (Dial, error) {
	data, err := Read(path)
	if err != nil {
		return Dial{}, err
	}
	return ParseDial(path, data)
}

// ParseDial reads a dial sheet; file is its name for errors, each of which is an *Error (several are joined).
func ParseDial(file string, data []byte) (Dial, error) {
	d, err := parse(file, data)
	if err != nil {
		return Dial{}, err
	}
	out := d.readDial()
	if err := d.finish(); err != nil {
		return Dial{}, err
	}
	return out, nil
}

// readDial reads every key of a dial sheet.
func (d *document) readDial() Dial {
	var out Dial
	out.Name = d.text("name", "a name", true)
	d.scale(&out)
	d.plunger(&out)
	d.accuracy(&out)
	d.validate(out)
	return out
}

// scale reads what is on the face, and where it is set to zero.
func (d *document) scale(out *Dial) {
	out.Unit = timing.Millimetre
	if d.text("unit", `"mm" or "in"`, false, "mm", "in") == "in" {
		out.Unit = timing.Inch
	}
	out.Graduation, _ = d.length("graduation", "one graduation of the face such as 0.01, 0.0001..1 mm", false, out.Unit, 1e-4, 1)
	out.PerRevolution, _ = d.length("per_revolution", "the travel in one turn of the pointer such as 1.0, up to 100 mm", false,
		out.Unit, 1e-4, 100)
	out.Range, _ = d.length("range", "the travel from end to end such as 10, up to 200 mm", false, out.Unit, 1e-3, 200)
	if d.text("zeroed", `"tdc" or "mark"`, false, "tdc", "mark") == "mark" {
		out.Zero = timing.ZeroMark
	}
	if d.text("counting", `"in" or "out": figures rise as the plunger goes that way`, false, "in", "out") == "in" {
		out.Counting = timing.CountsIn
	}
	out.Preload, _ = d.length("preload", "how far the plunger is pressed in at top dead centre such as 5, more than 0, up to the range",
		true, out.Unit, 1e-3, 200)
	const counter = "a whole number of revolutions, 0 or more"
	if n, ok := d.number("counter_at_zero", counter, true); ok {
		if n != math.Trunc(n) || n < 0 || n > 1000 {
			d.wrong("counter_at_zero", "got %g, want %s", n, counter)
			return
		}
		out.CounterAtZero = int(n)
	}
}

// validate notes every field out of its range. What hangs on the face and on the range can only be told when these are right.
// Each field that is wrong is then left out, so that the next one shows.
func (d *document) validate(out Dial) {
	leaveOut := map[string]func(){
		"counter_at_zero":            func() { out.CounterAtZero = 0 },
		"preload":                    func() { out.Preload = 0 },
		"plunger_angle":              func() { out.PlungerAngle, out.CrownSlope = 0, 0 },
		"crown_slope":                func() { out.CrownSlope = out.PlungerAngle },
		"plunger_angle_uncertainty":  func() { out.PlungerAngleU = 0 },
		"crown_slope_uncertainty":    func() { out.CrownSlopeU = 0 },
		"max_error":                  func() { out.MaxError, out.Local = 0, [3]timing.Length{} },
		"hysteresis":                 func() { out.Hysteresis = 0 },
		"repeatability":              func() { out.Repeatability = 0 },
		"extension_give":             func() { out.ExtensionGive = 0 },
		"max_error_tenth_revolution": func() { out.Local[0] = 0 },
		"max_error_half_revolution":  func() { out.Local[1] = 0 },
		"max_error_revolution":       func() { out.Local[2] = 0 },
	}
	if d.isWrong("unit", "graduation", "per_revolution", "range") {
		return
	}
	for key, leave := range leaveOut {
		if d.isWrong(key) {
			leave()
		}
	}
	for err := out.Validate(); err != nil; err = out.Validate() {
		key := d.wrongField(err, keyOf)
		leave, ok := leaveOut[key]
		if !ok {
			return
		}
		leave()
		delete(leaveOut, key)
	}
}

// plunger reads how the plunger stands in the bore. An inclined one needs the slope of the crown: published conversions
// disagree because each takes another slope for granted.
func (d *document) plunger(out *Dial) {
	const want = `an angle such as "20 deg", -60..60 deg`
	out.PlungerAngle, _ = d.angle("plunger_angle", want, true)
	inclined := out.PlungerAngle != 0
	out.CrownSlope, _ = d.angle("crown_slope", want+
		" (0 for a crown square to the bore, the plunger's angle for one square to the plunger): an inclined plunger needs it", !inclined)
	for key, u := range map[string]struct {
		to    *timing.Angle
		value timing.Angle
	}{
		"plunger_angle_uncertainty": {&out.PlungerAngleU, defaultPlungerAngleU},
		"crown_slope_uncertainty":   {&out.CrownSlopeU, defaultCrownSlopeU},
	} {
		var given bool
		if *u.to, given = d.angle(key, `a standard uncertainty such as "1 deg", 0..20 deg`, true); !given && inclined {
			*u.to = u.value
		}
	}
}

// accuracy reads what the dial may do wrong, by default that of a good dial of its range.
func (d *document) accuracy(out *Dial) {
	def, known := timing.DefaultAccuracy(out.Range)
	for _, a := range []struct {
		key   string
		to    *timing.Length
		value timing.Length
	}{
		{"max_error", &out.MaxError, def.MaxError},
		{"hysteresis", &out.Hysteresis, def.Hysteresis},
		{"repeatability", &out.Repeatability, def.Repeatability},
	} {
		var given bool
		want := "a length such as 0.015, 0 up to the range; a dial of more than 20 mm needs it"
		if *a.to, given = d.length(a.key, want, known, out.Unit, 0, 200); !given {
			*a.to = a.value
		}
	}
	_, checked := d.values["max_error"]
	out.Unchecked = !checked
	for i, key := range []string{"max_error_tenth_revolution", "max_error_half_revolution", "max_error_revolution"} {
		out.Local[i], _ = d.length(key, "the limit of error within that movement such as 0.005, more than 0, up to max_error", true, out.Unit, 1e-6, 200)
	}
	out.ExtensionGive, _ = d.length("extension_give", "how far the extension may give, plus or minus, such as 0.01, 0 up to the range",
		true, out.Unit, 0, 200)
}
