package timing

import (
	"fmt"
	"math"
	"strings"
)

// Zero says where the dial's pointer is set to zero.
type Zero uint8

// The zeros.
const (
	ZeroTDC  Zero = iota // at top dead centre: a reading is the plunger's movement since then
	ZeroMark             // at the specified mark: a reading is positive before the mark, negative past it
)

// String returns "tdc" or "mark".
func (z Zero) String() string {
	if z == ZeroMark {
		return "mark"
	}
	return "tdc"
}

// Counting says which way the figures on the dial's face run.
type Counting uint8

// The directions. They matter only where counter and pointer are typed as they stand ("1+98"): a plain number is always
// the distance from zero.
const (
	CountsOut Counting = iota // figures rise as the plunger comes out, the piston going down
	CountsIn                  // figures rise as the plunger goes in, the piston coming up
)

// String returns "out" or "in".
func (c Counting) String() string {
	if c == CountsIn {
		return "in"
	}
	return "out"
}

// Dial is a dial gauge in the plug hole. Lengths are along its plunger. Fill the fields, or start from NewDial, and call
// Validate before use.
type Dial struct {
	Unit          Unit   // Millimetre or Inch: what the face shows and a bare number means
	Graduation    Length // one graduation, more than 0
	PerRevolution Length // movement in one turn of the pointer, a whole number of graduations
	Range         Length // movement from end to end, at least 10 graduations, at most 200 mm
	Zero          Zero
	Counting      Counting
	CounterAtZero int // what the revolution counter shows where the dial reads zero, 0 or more
	// Preload is how far the plunger is pressed in at top dead centre, up to Range: the plunger follows the piston down only
	// so far. 0 when it is not known: then Range alone is the limit.
	Preload Length

	// PlungerAngle is alpha, the angle of the plunger to the bore, and CrownSlope is beta, the slope of the piston crown where
	// the plunger stands, in the plane of plunger and bore; 0 for a crown square to the bore, alpha for one square to the
	// plunger. Both within ±60°.
	PlungerAngle, CrownSlope Angle
	// Standard uncertainties of the two angles, 0..20°.
	PlungerAngleU, CrownSlopeU Angle

	// What the dial may do wrong, each 0 up to Range: MaxError is the limit of error, plus or minus; Hysteresis and
	// Repeatability are whole widths.
	MaxError, Hysteresis, Repeatability Length
	// Local are the limits of error between two readings that lie within a tenth of a revolution, half a revolution and one
	// revolution, plus or minus, none above the next and none above MaxError; 0 stands for one that is not known (see
	// ErrorWithin).
	Local [3]Length
	// ExtensionGive is how far a thin, bent or loose extension of the plunger may give, plus or minus, 0 up to Range.
	ExtensionGive Length
}

// NewDial returns a millimetre dial of 0.01 mm graduation, 1 mm a revolution and the range given, zeroed at top dead
// centre, its plunger along the bore, with the default accuracy of its range.
func NewDial(rng Length) Dial {
	a, _ := DefaultAccuracy(rng)
	return Dial{
		Unit: Millimetre, Graduation: 0.01, PerRevolution: 1, Range: rng,
		MaxError: a.MaxError, Hysteresis: a.Hysteresis, Repeatability: a.Repeatability,
	}
}

// maxTilt is the largest angle of plunger or crown taken.
const maxTilt Angle = 60

// Validate returns a *FieldError for the first field out of its range.
func (d Dial) Validate() error {
	within := func(x, lo, hi float64) bool { return x >= lo && x <= hi }
	least := 10 * d.Graduation
	turns := float64(d.PerRevolution / d.Graduation)
	revolutions := float64(d.Range / d.PerRevolution)
	switch {
	case d.Unit != Millimetre && d.Unit != Inch:
		return wrong("unit", fmt.Sprintf("%q", d.Unit), "mm or in")
	case !within(float64(d.Graduation), 1e-4, 1):
		return wrong("graduation", mm(d.Graduation), "0.0001..1 mm")
	case !within(turns, 2, 1000) || math.Abs(turns-math.Round(turns)) > 1e-6:
		return wrong("per revolution", mm(d.PerRevolution), "a whole number, 2..1000, of graduations of %g mm", d.Graduation)
	case !within(float64(d.Range), float64(least), 200):
		return wrong("range", mm(d.Range), "%g..200 mm", least)
	case d.Zero > ZeroMark:
		return wrong("zeroed", fmt.Sprint(uint8(d.Zero)), "tdc or mark")
	case d.Counting > CountsIn:
		return wrong("counting", fmt.Sprint(uint8(d.Counting)), "out or in")
	case !within(float64(d.CounterAtZero), 0, revolutions+1):
		return wrong("counter at zero", fmt.Sprint(d.CounterAtZero), "0..%.0f, the revolutions in its range", math.Floor(revolutions+1))
	case !within(float64(d.Preload), 0, float64(d.Range)):
		return wrong("preload", mm(d.Preload), "0..%g mm, the dial's range", d.Range)
	case !within(math.Abs(float64(d.PlungerAngle)), 0, float64(maxTilt)):
		return wrong("plunger angle", deg(d.PlungerAngle), "-%g..%g°", maxTilt, maxTilt)
	case !within(math.Abs(float64(d.CrownSlope)), 0, float64(maxTilt)):
		return wrong("crown slope", deg(d.CrownSlope), "-%g..%g°", maxTilt, maxTilt)
	case !within(math.Abs(float64(d.PlungerAngle-d.CrownSlope)), 0, float64(maxTilt)):
		return wrong("crown slope", deg(d.CrownSlope), "within %g° of the plunger angle, %g°", maxTilt, d.PlungerAngle)
	case !within(float64(d.PlungerAngleU), 0, 20):
		return wrong("plunger angle uncertainty", deg(d.PlungerAngleU), "0..20°")
	case !within(float64(d.CrownSlopeU), 0, 20):
		return wrong("crown slope uncertainty", deg(d.CrownSlopeU), "0..20°")
	case !within(float64(d.MaxError), 0, float64(d.Range)):
		return wrong("max error", mm(d.MaxError), "0..%g mm", d.Range)
	case !within(float64(d.Hysteresis), 0, float64(d.Range)):
		return wrong("hysteresis", mm(d.Hysteresis), "0..%g mm", d.Range)
	case !within(float64(d.Repeatability), 0, float64(d.Range)):
		return wrong("repeatability", mm(d.Repeatability), "0..%g mm", d.Range)
	case !within(float64(d.ExtensionGive), 0, float64(d.Range)):
		return wrong("extension give", mm(d.ExtensionGive), "0..%g mm", d.Range)
	}
	return d.validateLocal()
}

// Ratio returns the plunger's movement for each millimetre of piston travel, cos beta / cos(alpha-beta): the tip slides on
// a crown of slope beta while the plunger, rigidly guided, moves along alpha.
func (d Dial) Ratio() float64 {
	return math.Cos(d.CrownSlope.Radians()) / math.Cos((d.PlungerAngle - d.CrownSlope).Radians())
}

// Movement returns the plunger's movement from top dead centre, y, at a reading. mark is the specified travel, used only by
// a dial zeroed there. It is an error when the reading lies outside what the dial can show, 0..Reach from top dead centre, by
// more than it may have been rounded: a reading to the nearest graduation at either end is taken for that end.
func (d Dial) Movement(reading, mark Length) (Length, error) {
	zero := d.zeroAt(mark)
	y := reading + zero
	rounding := d.Graduation/2 + 1e-9
	if !(y >= -rounding && y <= d.Reach()+rounding) {
		least, _, _ := strings.Cut(d.Format(-zero), " ")
		return 0, wrong("reading", d.Format(reading), "%s..%s (what the dial can show, zeroed at %s%s%s)",
			least, d.Format(d.Reach()-zero), d.where(), d.pressed(), d.bareUnit())
	}
	return min(max(0, y), d.Reach()), nil
}

// Travel returns the piston's travel before top dead centre at a reading; arguments and errors are those of Movement.
func (d Dial) Travel(reading, mark Length) (Length, error) {
	y, err := d.Movement(reading, mark)
	return y / Length(d.Ratio()), err
}

// Reading returns what the dial must show, not rounded, at a travel before top dead centre. It is an error when the dial
// cannot show it. mark is as in Movement.
func (d Dial) Reading(travel, mark Length) (Length, error) {
	if err := d.follows(travel, travel); err != nil {
		return 0, err
	}
	return travel*Length(d.Ratio()) - d.zeroAt(mark), nil
}

// follows returns an error when the dial cannot follow the piston down to a travel; it tells what it takes to follow as far as
// wanted, which is no less.
func (d Dial) follows(travel, wanted Length) error {
	ratio := Length(d.Ratio())
	if y := travel * ratio; y >= 0 && y <= d.Reach() {
		return nil
	}
	return wrong("travel", fmt.Sprintf("%.4g mm", travel), "0..%.3f mm (what the dial can follow%s)%s",
		d.Reach()/ratio, d.pressed(), d.needed(wanted*ratio))
}

// Reach returns how far the plunger can come out from top dead centre: Preload, or Range where that is not known.
func (d Dial) Reach() Length {
	if d.Preload > 0 {
		return d.Preload
	}
	return d.Range
}

// pressed says in a message that the preload is the limit; needed says what preload would do for a movement y.
func (d Dial) pressed() string {
	if d.Preload > 0 {
		return ", pressed in " + d.Format(d.Preload) + " at top dead centre"
	}
	return ""
}

func (d Dial) needed(y Length) string {
	least := Length(math.Ceil(float64(y)*100-1e-6) / 100)
	switch {
	case !(y >= 0):
		return ""
	case least <= d.Range:
		return fmt.Sprintf("; press it in by at least %.2f mm at top dead centre", least)
	}
	return fmt.Sprintf("; that takes a dial with a range of %.2f mm or more", least)
}

// Format returns a reading in the dial's own unit, rounded to a tenth of a graduation: "1.98 mm".
func (d Dial) Format(reading Length) string {
	u := d.Unit
	if u.Length() == 0 {
		u = Millimetre
	}
	places := 3
	if q := float64(d.Graduation / u.Length()); q > 0 {
		places = min(6, max(0, 1-int(math.Floor(math.Log10(q)+1e-9))))
	}
	v := math.Round(float64(reading/u.Length())*math.Pow10(places)) / math.Pow10(places)
	return Quantity{Value: v + 0, Unit: u}.String()
}

// zeroAt returns the plunger's movement from top dead centre to the place where the dial reads zero.
func (d Dial) zeroAt(mark Length) Length {
	if d.Zero == ZeroMark {
		return mark * Length(d.Ratio())
	}
	return 0
}

// bareUnit reminds people with a dial in inches, who often say thou, how a number without a unit is taken.
func (d Dial) bareUnit() string {
	if d.Unit == Inch {
		return "; a number without a unit is taken in inches, write 78thou for thousandths"
	}
	return ""
}

// where names the place of zero for people.
func (d Dial) where() string {
	if d.Zero == ZeroMark {
		return "the mark"
	}
	return "top dead centre"
}
