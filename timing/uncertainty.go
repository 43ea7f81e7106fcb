package timing

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Component is one line of an uncertainty budget.
type Component struct {
	Name  string
	U     float64 // standard uncertainty it brings to the result, in the result's unit
	DF    float64 // degrees of freedom, +Inf where U is taken as known
	Shape Shape
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

// What is known of a hand and an engine before anything is measured, from simulated series of passes: a single turn
// scatters by about 0.3° of crank, a knowledge worth 4 degrees of freedom. Without it an interval from one or two passes
// would be far too narrow or useless.
const (
	priorDF            = 4
	priorScatter Angle = 0.30
)

// What a reading taken after stopping may be late by: a visual reaction of 0.23 s (Woods et al., Front. Hum. Neurosci. 9:131,
// 2015) at 0.3° of crank a second, the upper end of a careful hand's creep (common practice).
const stopLag Angle = 0.23 * 0.3

// series is what the passes of one cylinder in one phase say, in mm of plunger movement from top dead centre.
type series struct {
	n        int
	mean     float64
	variance float64 // between passes, with n-1; 0 below two passes
	reading  float64 // variance of one reading by itself: width of its bracket and graduation
	stops    int     // passes read after stopping
}

// newSeries takes the readings of one series. Readings without a value must have been left out.
func newSeries(d Dial, mark Length, readings []Reading) (series, error) {
	s := series{n: len(readings)}
	if s.n == 0 {
		return s, nil
	}
	q := float64(d.Graduation)
	y := make([]float64, s.n)
	for i, r := range readings {
		m, err := d.Movement(r.Mid(), mark)
		if err != nil {
			return series{}, err
		}
		y[i] = float64(m)
		// The opening lies anywhere in the bracket: w²/12; each of its ends is read to a graduation, so their middle to q²/24.
		w := float64(r.Width())
		s.reading += w * w / 12
		if r.Bracket {
			s.reading += q * q / 24
		} else {
			s.reading += q * q / 12
			s.stops++
		}
	}
	s.reading /= float64(s.n)
	s.mean = stat.Mean(y, nil)
	if s.n > 1 {
		s.variance = stat.Variance(y, nil)
	}
	return s, nil
}

// pooled returns the standard deviation of single readings in the series own, in mm of plunger movement, and its degrees
// of freedom: the prior (kappa: mm of movement for a degree of crank) together with the scatter of all series, own
// included:
//
//	s_P² = [nu0 (sigma0² kappa² + v) + sum nu_g s_g²] / nu_P,   nu_P = nu0 + sum nu_g,   nu_g = n_g - 1
//
// where v is the variance of a reading by itself. The widths of the brackets are in s_g already and are not added again.
func pooled(own series, all []series, kappa float64) (sd, df float64) {
	sigma := float64(priorScatter) * kappa
	sum, df := priorDF*(sigma*sigma+own.reading), priorDF
	for _, g := range all {
		if g.n > 1 {
			sum += float64(g.n-1) * g.variance
			df += float64(g.n - 1)
		}
	}
	return math.Sqrt(sum / df), df
}

// budget lists what makes the mean travel of a series uncertain [mm of travel]. Only the scatter shrinks with more passes;
// what the dial does wrong is the same in each and is added once.
func budget(d Dial, own series, all []series, kappa float64) []Component {
	sd, df := pooled(own, all, kappa)
	c := 1 / d.Ratio()
	a, b := d.PlungerAngle.Radians(), d.CrownSlope.Radians()
	q, known := float64(d.Graduation), math.Inf(1)
	parts := []Component{
		{"scatter of the passes", c * sd / math.Sqrt(float64(own.n)), df, Bell},
		{"dial, limit of error", c * float64(d.MaxError) / math.Sqrt(3), known, Bell},
		{"dial, graduation", c * q / math.Sqrt(12), known, Bell},
		{"zero of the dial", c * d.zeroU(), known, Bell},
		// travel = y cos(alpha-beta)/cos beta, differentiated by each angle.
		{"plunger angle", own.mean * math.Abs(math.Sin(a-b)/math.Cos(b)) * d.PlungerAngleU.Radians(), known, Bell},
		{"crown slope", own.mean * math.Abs(math.Sin(a)) / (math.Cos(b) * math.Cos(b)) * d.CrownSlopeU.Radians(), known, Bell},
	}
	if own.stops > 0 {
		lag := c * kappa * float64(stopLag) * float64(own.stops) / float64(own.n)
		parts = append(parts, Component{"lag of readings after stopping", lag / math.Sqrt(3), known, Rectangular})
	}
	return parts
}

// zeroU returns the standard uncertainty of the dial's zero [mm of plunger movement]: it is set to a graduation, at a place
// found by the dial itself. Each width is that of a rectangle.
func (d Dial) zeroU() float64 {
	q, h, r := float64(d.Graduation), float64(d.Hysteresis), float64(d.Repeatability)
	return math.Sqrt((q*q + h*h + r*r) / 12)
}
