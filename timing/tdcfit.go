package timing

import (
	"fmt"
	"math"
)

// Top is top dead centre found by fitting the curve of the crank to wheel and dial readings on both sides of it.
type Top struct {
	TDC  Estimate[Angle]  // what the wheel reads at top dead centre [degrees], 0..360; its interval may run beyond
	Peak Estimate[Length] // what the dial reads there [mm of plunger movement, larger = piston lower]
	// Lost is the play between crank and piston, the whole of it, along the plunger; nil when no reading tells of it.
	Lost *Estimate[Length]
	// Residuals are the dial readings less the curve [mm], in the order of the points.
	Residuals []Length
	Budget    []Component // what makes TDC uncertain [degrees]
}

// minTopPoints is the smallest number of points taken: below four nothing is left over to show how well they fit.
const minTopPoints = 4

// topRound is over how many degrees to either side of top dead centre the play changes sides.
const topRound Angle = 1

// FitTop fits the exact curve of the crank to points on both sides of top dead centre by weighted least squares:
//
//	dial = z + ratio · travel(b) + t L,   b = TDC - wheel
//
// with three unknowns: the wheel's reading at TDC, the dial's reading z there, and L, half of what running clearances hold the
// piston back, known beforehand to be near 0 (lostMotion, hysteresis). t is 1 with the piston rising to the reading, -1 with
// it falling: a point before top dead centre taken turning forwards, or one after it taken turning backwards, has 1. So with
// points taken one way only, L shifts TDC and stays in its uncertainty; taken both ways it is found and drops out. A reading
// scatters by
//
//	v = (q² + r²)/12 + peakScatter² + (wheelScatter² + step²/12) (ratio · slope)²
//
// and the scatter found is pooled with this (see squares). The points may be unequally spaced; far from the top they say
// more. falls tells that the wheel's figures fall as the crank turns forwards; step is as in FindHeights.
//
// It is an error when there are fewer than four points, when they do not span the top, when the dial readings do not grow to
// both sides, or when the fit finds no end.
func FitTop(c Crank, d Dial, points []TopPoint, falls bool, step Angle) (Top, error) {
	if err := c.checkKnown(); err != nil {
		return Top{}, err
	}
	if err := d.Validate(); err != nil {
		return Top{}, err
	}
	if len(points) < minTopPoints {
		return Top{}, wrong("points", fmt.Sprint(len(points)), "at least %d, on both sides of top dead centre", minTopPoints)
	}
	step, err := checkStep(step, func(yield func(Angle) bool) {
		for _, p := range points {
			if !yield(p.Wheel) {
				return
			}
		}
	})
	if err != nil {
		return Top{}, err
	}
	f := topFit{crank: c, dial: d, points: points, sign: 1, step: float64(step)}
	if falls {
		f.sign = -1
	}
	// Angles run from the first point, so that a wheel that passes 360° does not matter.
	for _, p := range points {
		f.wheel = append(f.wheel, float64(halfTurn(p.Wheel-points[0].Wheel)))
	}
	x, err := f.start()
	if err != nil {
		return Top{}, err
	}
	s, err := f.iterate(x)
	if err != nil {
		return Top{}, err
	}
	t, err := f.result(s)
	if err != nil {
		return Top{}, err
	}
	return t, f.fits(t, s.scale)
}

// topFit is a fit under way. The unknowns are, in this order, TDC [degrees from the first point], z and L [mm].
type topFit struct {
	crank  Crank
	dial   Dial
	points []TopPoint
	wheel  []float64 // from the first point
	sign   float64
	step   float64
}

// start returns a first guess: near the top the curve is a parabola whose curvature c the crank gives, so
// dial - c wheel² is a straight line, z + c TDC² - 2 c TDC wheel.
func (f topFit) start() ([]float64, error) {
	eqs := make([]equation, len(f.points))
	unit, err := f.crank.Travel(1)
	if err != nil {
		return nil, err
	}
	c := f.dial.Ratio() * float64(unit)
	for i, p := range f.points {
		if !finite(float64(p.Dial)) {
			return nil, wrong("dial", mm(p.Dial), "a number")
		}
		w := f.wheel[i]
		eqs[i] = equation{a: []float64{1, w}, y: float64(p.Dial) - c*w*w, v: 1}
	}
	s, ok := squares(eqs, []float64{math.Inf(1), math.Inf(1)})
	if !ok {
		return nil, wrong("points", "all at one place of the wheel", "points on both sides of top dead centre")
	}
	tdc := -s.x[1] / (2 * c)
	if err := f.spans(tdc); err != nil {
		return nil, err
	}
	return []float64{tdc, s.x[0] - c*tdc*tdc, 0}, nil
}

func (f topFit) noTop() error {
	return wrong("points", "dial readings that do not grow to both sides as those of this crank do",
		"how far the piston stands below its top, which grows to both sides of top dead centre")
}

// fits checks that the curve explains the readings: what is left over must be small beside how far they differ, or no more
// than wheel and dial explain.
func (f topFit) fits(t Top, scale float64) error {
	var mean, spread, left float64
	n := float64(len(f.points))
	for _, p := range f.points {
		mean += float64(p.Dial) / n
	}
	for i, p := range f.points {
		spread += math.Pow(float64(p.Dial)-mean, 2)
		left += math.Pow(float64(t.Residuals[i]), 2)
	}
	if !(left <= 0.3*spread || scale <= 30) {
		return f.noTop()
	}
	return nil
}

// spans checks that there are points on both sides of tdc.
func (f topFit) spans(tdc float64) error {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, w := range f.wheel {
		lo, hi = min(lo, w), max(hi, w)
	}
	if !(tdc > lo && tdc < hi) {
		return wrong("points", "all on one side of top dead centre", "some before it and some after it")
	}
	return nil
}

// equations linearises the curve about x.
func (f topFit) equations(x []float64) ([]equation, error) {
	k := f.dial.Ratio()
	q, r := float64(f.dial.Graduation), float64(f.dial.Repeatability)
	noise := (q*q+r*r)/12 + float64(peakScatter*peakScatter)
	wheel := float64(wheelScatter*wheelScatter) + f.step*f.step/12
	eqs := make([]equation, len(f.points))
	for i, p := range f.points {
		b := Angle(f.sign * (x[0] - f.wheel[i]))
		travel, err := f.crank.Travel(b)
		if err != nil {
			return nil, err
		}
		slope, err := f.crank.Slope(b)
		if err != nil {
			return nil, err
		}
		// With the piston rising the sign is 1, and it changes smoothly about the top.
		t := min(max(float64(b/topRound), -1), 1)
		switch p.Turning {
		case TurnedBackwards:
			t = -t
		case TurnedRising:
			t = 1
		}
		a := []float64{f.sign * k * slope, 1, t}
		// y is such that the unknowns themselves, not their changes, solve the equation: so L is known to be near 0.
		eqs[i] = equation{a: a, y: float64(p.Dial) - k*float64(travel) + a[0]*x[0], v: noise + wheel*k*k*slope*slope}
	}
	return eqs, nil
}

// iterate runs Gauss-Newton from x.
func (f topFit) iterate(x []float64) (solution, error) {
	lost := float64(lostMotion) * f.dial.Ratio()
	before := []float64{math.Inf(1), math.Inf(1), lost*lost + float64(f.dial.Hysteresis*f.dial.Hysteresis)/12}
	const rounds, longest, still = 100, 10, 1e-9 // degrees
	for range rounds {
		eqs, err := f.equations(x)
		if err != nil {
			return solution{}, f.noTop()
		}
		s, ok := squares(eqs, before)
		if !ok {
			return solution{}, f.noTop()
		}
		move := s.x[0] - x[0]
		x = append([]float64(nil), s.x...)
		x[0] += min(max(move, -longest), longest) - move
		if math.Abs(move) < still {
			return s, f.spans(x[0])
		}
	}
	return solution{}, wrong("points", "readings that fit no place of top dead centre", "readings of this crank; check them, the stroke and the rod")
}

// result puts the solution into words and numbers.
func (f topFit) result(s solution) (Top, error) {
	n := len(f.points)
	eqs, err := f.equations(s.x)
	if err != nil {
		return Top{}, err
	}
	t := Top{Budget: []Component{
		{Name: "scatter of wheel and dial", U: math.Sqrt(s.scatter[0]), DF: s.df, Remedy: "more points, farther from the top; a larger wheel"},
		{Name: "play between crank and piston", U: math.Sqrt(s.known[0]), DF: math.Inf(1), Remedy: "points with the piston rising to each, or taken both ways"},
	}}
	var caveats []Caveat
	for i, p := range f.points {
		r := Length(s.residuals[i] * math.Sqrt(eqs[i].v))
		t.Residuals = append(t.Residuals, r)
		if math.Abs(s.residuals[i]) > 4*math.Sqrt(s.scale) || math.Abs(s.residuals[i]) > 6 {
			caveats = append(caveats, Caveat{"outlier", fmt.Sprintf("the point at %g° lies %s off the curve; if it was a slip, leave it out and say so",
				p.Wheel, f.dial.Format(Length(math.Abs(float64(r)))))})
		}
	}
	if s.scale > 6 {
		caveats = append(caveats, Caveat{"bad_fit", fmt.Sprintf("the readings scatter about the curve %.0f times as much as wheel and dial explain: check stroke, rod and which way the wheel's figures run",
			math.Sqrt(s.scale))})
	}
	if t.Budget[1].U > 0.5*math.Hypot(t.Budget[0].U, t.Budget[1].U) {
		caveats = append(caveats, Caveat{"one_way", "the play between crank and piston is much of this: come up to each with the piston rising, or take some turning forwards and some turning backwards on both sides"})
	}
	t.TDC = newEstimate(turn(f.points[0].Wheel+Angle(s.x[0])), t.Budget, n)
	t.TDC.Caveats = caveats
	peak := []Component{
		{Name: "scatter", U: math.Sqrt(s.scatter[1]), DF: s.df},
		{Name: "play", U: math.Sqrt(s.known[1]), DF: math.Inf(1)},
	}
	t.Peak = newEstimate(Length(s.x[1]), peak, n)
	// The readings tell of the play where they say more than what was known before.
	if s.scatter[2] > s.known[2] {
		lost := newEstimate(Length(2*s.x[2]), []Component{{U: 2 * math.Sqrt(s.scatter[2]), DF: s.df}, {U: 2 * math.Sqrt(s.known[2]), DF: math.Inf(1)}}, n)
		t.Lost = &lost
	}
	return t, nil
}
