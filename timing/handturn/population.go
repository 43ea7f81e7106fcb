package handturn

import (
	"math"
	"math/rand/v2"

	"breakcue/timing"
)

// Population says how much single turns scatter from engine to engine: the standard deviation of the crank angle at first
// break is lognormal, and cut off at three of its own (logarithmic) standard deviations. Everything else that Draw draws
// is the same in each population:
//
//   - Engine: stroke 48..90 mm, rod 1.8..2.2 strokes, specified either 1.5..3.5 mm (to 0.1 mm) or 15..28° (to 1°) before
//     top dead centre, tolerance ±0.1 mm. Invented, and meant to hold what small engines with contact breakers have (common
//     practice). The crank is known exactly.
//   - Dial: range 5 or 10 mm, graduation 0.01 mm, accuracy by JIS B 7503:2011. Its error where the points open is
//     anywhere within plus and minus the limit for the whole range, rectangular: so is a limit of error understood where nothing else is
//     known (JCGM 100:2008, 4.3.7). A real dial that just passes is often better. The error goes round with the pointer, by
//     up to 0.009 mm in half a turn, so readings near each other share it.
//   - Hysteresis and repeatability are as large as the standard lets them be.
//   - Zero: by reversal. The peak is read turning forward and turning back; there the plunger turns round, so the pointer
//     hangs anywhere in the hysteresis. The bezel is set to the graduation nearest to their mean.
//   - Plunger: straight; or inclined by what the sheet says, 0..25°, within ±2°, on a crown that slopes as the sheet says,
//     from -10° to the plunger's angle, within ±1..5°. Both rectangular, and the sheet says so: its standard uncertainties are the
//     half widths over sqrt 3.
//   - Hand, turning step by step: its typical step is lognormal with median 0.03 mm and geometric standard deviation 1.6 from
//     hand to hand, each step with 1.2 about that; the points part anywhere in the step. Assumed.
//   - Hand, stopping at the break: the reading is late by delay times creep. The creep is 0.1..0.3°/s (assumed: a careful
//     hand). The delay is a visual reaction of 0.231 s, 0.00055 s more for each year of age (Woods et al., Front. Hum.
//     Neurosci. 9:131, 2015) above a mean taken as 40 (from memory), ages 20..70, with a standard deviation of 0.04 s from pass to pass
//     (assumed); and 0..0.2 s, the same in all passes of a hand, until the crank really stands still (assumed).
//
// Where no distribution is named it is rectangular. Not in it: a bent or loose dial, a crank that is not what the sheet says, play, a
// drift from pass to pass, a reading misread or mistyped.
type Population struct {
	Median timing.Angle // median of the standard deviation of single turns [crank degrees], 0.01..0.5
	Spread float64      // its geometric standard deviation, 1 (all engines alike) or more, up to 2
}

// cut is how far from the median a scatter may be, in standard deviations of its logarithm.
const cut = 3

// Mode is how a hand reads the dial at the opening.
type Mode uint8

// The modes.
const (
	Brackets Mode = iota // last closed / first open
	Stops                // one reading after stopping
	Both                 // Stops and Brackets by turns, so that each series shows how late its stops are
)

// String returns "bracket", "stop" or "both".
func (m Mode) String() string {
	switch m {
	case Stops:
		return "stop"
	case Both:
		return "both"
	}
	return "bracket"
}

// Class is a way of measuring. A Setting has one series of passes that is judged, and perhaps others of the same engine, hand and
// dial, which only help to know the scatter.
type Class struct {
	Mode
	Inclined    bool  // the plunger
	Least, Most int   // passes of the series judged, 1 or more
	Others      []int // passes of each of the others
}

const tolerance timing.Length = 0.1

func between(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }

// Setting is one job drawn from a population: what is on the sheet, what was typed, and the truth.
type Setting struct {
	Setup  timing.Setup
	Passes [][]timing.Reading // the series judged comes first
	// Truth is the mean true travel at first break over many turns. The angle at first break is normal; its travel is averaged
	// by Gauss-Hermite quadrature, so the crank's curvature is in it.
	Truth timing.Length
	Sigma timing.Angle // standard deviation of single turns

	class     Class
	kappa     float64      // plunger movement for a degree of crank at the mark, by the sheet [mm]
	crownHalf timing.Angle // half width of what the sheet says of the crown's slope
}

// Draw draws a setting whose mean true travel differs from the specified one by the error given, -0.5..0.5 mm.
func (p Population) Draw(rng *rand.Rand, c Class, deviation timing.Length) (Setting, error) {
	s := Setting{class: c}
	stroke := between(rng, 48, 90)
	crank, err := timing.NewCrank(timing.Length(stroke), timing.Length(stroke*between(rng, 1.8, 2.2)), 0)
	if err != nil {
		return Setting{}, err
	}
	spec := timing.Spec{Tolerance: timing.Quantity{Value: float64(tolerance), Unit: timing.Millimetre}}
	if rng.IntN(2) == 0 {
		spec.Value = timing.Quantity{Value: math.Round(between(rng, 15, 35)) / 10, Unit: timing.Millimetre}
	} else {
		spec.Value = timing.Quantity{Value: math.Round(between(rng, 15, 28)), Unit: timing.Degree}
	}
	target, err := spec.Target(crank)
	if err != nil {
		return Setting{}, err
	}
	sheet := s.sheet(rng)
	// A short dial serves where it leaves 1 mm for preload and for turning on.
	if rng.IntN(2) == 0 && target.Travel*timing.Length(sheet.Ratio()) < 4 {
		short := timing.NewDial(5)
		sheet.Range, sheet.MaxError, sheet.Hysteresis, sheet.Repeatability = short.Range, short.MaxError, short.Hysteresis, short.Repeatability
	}
	if s.Setup, err = timing.NewSetup(crank, sheet, spec); err != nil {
		return Setting{}, err
	}
	slope, err := crank.Slope(target.Angle)
	if err != nil {
		return Setting{}, err
	}
	s.kappa = slope * sheet.Ratio()

	z := max(-cut, min(cut, rng.NormFloat64()))
	s.Sigma = p.Median * timing.Angle(math.Pow(p.Spread, z))
	opens, err := opening(crank, target.Travel+deviation, s.Sigma)
	if err != nil {
		return Setting{}, err
	}
	s.Truth = meanTravel(crank, opens, s.Sigma)
	g, h := s.newGauge(rng), newTurner(rng)
	for _, n := range append([]int{c.Least + rng.IntN(c.Most-c.Least+1)}, c.Others...) {
		passes, err := s.passes(rng, g, h, opens, n)
		if err != nil {
			return Setting{}, err
		}
		s.Passes = append(s.Passes, passes)
	}
	return s, nil
}

// Nodes and weights of Gauss-Hermite quadrature for a standard normal variable, 5 points: exact for polynomials up to the
// ninth degree (Abramowitz & Stegun, table 25.10, from memory, scaled by sqrt 2 and 1/sqrt pi). A travel is nearly a parabola.
var hermite = [5][2]float64{
	{-2.8569700138728056, 0.011257411327720691}, {-1.3556261799742659, 0.22207592200561266}, {0, 0.53333333333333333},
	{1.3556261799742659, 0.22207592200561266}, {2.8569700138728056, 0.011257411327720691},
}

// meanTravel returns the mean travel over turns that open at the angle opens on average, with standard deviation sigma.
func meanTravel(c timing.Crank, opens, sigma timing.Angle) timing.Length {
	sum := timing.Length(0)
	for _, node := range hermite {
		travel, err := c.Travel(opens + sigma*timing.Angle(node[0]))
		if err != nil {
			panic("handturn: " + err.Error()) // no angle of the population comes near bottom dead centre
		}
		sum += timing.Length(node[1]) * travel
	}
	return sum
}

// opening returns the mean angle of opening that gives a mean travel.
func opening(c timing.Crank, mean timing.Length, sigma timing.Angle) (timing.Angle, error) {
	opens, err := c.Angle(mean, timing.BTDC)
	for range 6 {
		if err != nil {
			return 0, err
		}
		var slope float64
		slope, err = c.Slope(opens)
		opens += timing.Angle(float64(mean-meanTravel(c, opens, sigma)) / slope)
	}
	return opens, err
}
