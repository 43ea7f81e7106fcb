package timing

import (
	"fmt"
	"math"
	"slices"
)

// Component is one line of an uncertainty budget.
type Component struct {
	Name  string
	U     float64 // standard uncertainty it brings to the result, in the result's unit; finite, 0 or more
	DF    float64 // degrees of freedom, more than 0; +Inf where U is taken as known, as for every Rectangular shape
	Shape Shape
	// Remedy says what would make it smaller; it may be empty.
	Remedy string
}

// Combine adds the components as independent ones, u² = sum u_i², and returns the effective degrees of freedom by the
// Welch-Satterthwaite formula, u⁴ / sum(u_i⁴/nu_i) (JCGM 100:2008, G.4.1). With no uncertainty at all they are +Inf.
func Combine(parts []Component) (u, df float64) {
	var sum, fourth float64
	for _, p := range parts {
		sum += p.U * p.U
		fourth += math.Pow(p.U, 4) / p.DF
	}
	if fourth == 0 {
		return math.Sqrt(sum), math.Inf(1)
	}
	return math.Sqrt(sum), sum * sum / fourth
}

// evidence is what the passes of one series came to.
type evidence struct {
	own    series
	sd, df float64 // of single readings, pooled [mm of plunger movement]
	lag    lag
	kappa  float64 // plunger movement for a degree of crank, see Setup.kappaAt [mm]
}

// typeA returns the standard uncertainty of the mean of n passes [mm of plunger movement] from their scatter. Where the lag of
// stops was measured, its uncertainty comes from the same scatter.
func (e evidence) typeA(n int) float64 {
	variance := 1 / float64(n)
	if e.lag.measured {
		variance += e.own.share() * e.own.share() / e.lag.weight
	}
	return e.sd * math.Sqrt(variance)
}

// alike returns the standard uncertainty [mm of plunger movement] that wide brackets leave which lie more alike than their
// widths would let them: then their ends fall on the same places in every pass, and however many there are, they tell the
// opening no finer than their width. Half of the variance that is missing is taken to be common to all passes: that is
// within a tenth of what the likelihood of the brackets gives, in which nothing but the range of each opening is used.
func (e evidence) alike(n int) float64 {
	if e.own.n() < 2 {
		return 0
	}
	return math.Sqrt(max(0, (e.own.reading-e.own.variance)/2-e.sd*e.sd/float64(n)))
}

// Parts of a budget that two results of one dial or of one hand do not have each for itself.
const (
	scatterOfPasses = "scatter of the passes"
	limitOfError    = "dial, limit of error"
	zeroOfDial      = "zero of the dial"
	plungerAngle    = "plunger angle"
	crownSlope      = "crown slope"
	assumedLag      = "lag after stopping, assumed"
)

// budget lists what would make the mean travel of n passes uncertain [mm of travel], df the degrees of freedom of their
// scatter. Only the scatter shrinks with more passes; what the dial does wrong is the same in each and is added once.
func (e evidence) budget(d Dial, n int, df float64) []Component {
	c := 1 / d.Ratio()
	known := math.Inf(1)
	parts := []Component{
		{scatterOfPasses, c * e.typeA(n), df, Bell,
			fmt.Sprintf("two more passes, which would make it about %.3f mm; a slower approach in smaller steps", c*e.typeA(n+2))},
		{limitOfError, c * float64(d.MaxError) / math.Sqrt(3), known, Rectangular, "the dial's own certificate, as max_error in its sheet"},
		{"dial, graduation", c * float64(d.Graduation) / math.Sqrt(12), known, Rectangular, "a dial of finer graduation"},
		{zeroOfDial, c * d.zeroU(), known, Bell, "several reversals at top dead centre; a dial of finer graduation"},
	}
	if u := e.alike(n); u > 0 {
		parts = append(parts, Component{"brackets that lie alike", c * u, known, Rectangular, "smaller steps, from another place in each pass"})
	}
	if d.ExtensionGive > 0 {
		parts = append(parts, Component{"extension, give", c * float64(d.ExtensionGive) / math.Sqrt(3), known, Rectangular, "a stiff, straight extension, well tightened"})
	}
	parts = append(parts, d.angles(e.own.mean)...)
	if share := e.own.share(); share > 0 && !e.lag.measured {
		parts = append(parts, Component{assumedLag, c * share * e.lag.half / math.Sqrt(3), known, Rectangular,
			"type last closed / first open, as 2.03/1.98"})
	}
	return parts
}

// angles lists what the angles of the plunger and of the crown make uncertain in a travel (or a difference of travels) that
// the plunger's movement y shows: travel = y cos(alpha-beta)/cos beta, differentiated by each. In a straight hole the crown
// does not matter, but on one that slopes the plunger's angle still does.
func (d Dial) angles(y float64) []Component {
	a, b, known := d.PlungerAngle.Radians(), d.CrownSlope.Radians(), math.Inf(1)
	parts := []Component{
		{plungerAngle, math.Abs(y*math.Sin(a-b)/math.Cos(b)) * d.PlungerAngleU.Radians(), known, Bell,
			"measure the angle of the plug hole, or compare with a degree wheel"},
		{crownSlope, math.Abs(y*math.Sin(a)) / (math.Cos(b) * math.Cos(b)) * d.CrownSlopeU.Radians(), known, Bell,
			"calibrate with a degree wheel, or with a dial in a straight hole"},
	}
	return slices.DeleteFunc(parts, func(p Component) bool { return p.U == 0 })
}

// zeroU returns the standard uncertainty of the dial's zero [mm of plunger movement]: it is set to a graduation, at a place
// found by the dial itself. Each width is that of a rectangle.
func (d Dial) zeroU() float64 {
	q, h, r := float64(d.Graduation), float64(d.Hysteresis), float64(d.Repeatability)
	return math.Sqrt((q*q + h*h + r*r) / 12)
}
