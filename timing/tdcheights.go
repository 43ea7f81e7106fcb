package timing

import (
	"fmt"
	"math"
)

// Heights is top dead centre found by equal heights with a degree wheel.
type Heights struct {
	// TDC is what the wheel reads at top dead centre [degrees], 0..360; its interval may run beyond.
	TDC Estimate[Angle]
	// Pairs tell what each pair says.
	Pairs []HeightTDC
	// Falls tells that the wheel's figures fall as the crank turns forwards.
	Falls bool
	// Lost is the play between crank and piston found from readings taken both ways, the whole of it, along the plunger; nil when
	// there are not both.
	Lost *Length
	// Budget lists what makes TDC uncertain [degrees].
	Budget []Component
}

// HeightTDC is what one pair says.
type HeightTDC struct {
	Middle Angle // of the two wheel readings, 0..360
	// PinOffset is how far the middle lies after top dead centre because of the pin offset, 0 without one.
	PinOffset Angle
	TDC       Angle // Middle less PinOffset, in the wheel's own direction, 0..360
	// Apart is how far the two readings lie apart, Expected what the crank makes of the height.
	Apart, Expected Angle
}

// heightDoubt is how much more or less than expected they may lie apart before a slip of one reading must be reckoned with.
const heightDoubt Angle = 2

// slipped returns by how much one of the two readings may have slipped, 0 when they lie apart as they should. A slip of one
// alone moves the middle by half of it; a wrong stroke, which would move it not at all, looks the same.
func (h HeightTDC) slipped() Angle {
	if off := h.Apart - h.Expected; off > heightDoubt || off < -heightDoubt {
		return Angle(math.Abs(float64(off)))
	}
	return 0
}

// heightNear is how near to half a turn two readings may lie apart: there the wheel's direction cannot be told.
const heightNear Angle = 20

// heightSlip is how much more or less than expected they may lie apart, before it must be a slip.
const heightSlip Angle = 15

// FindHeights works top dead centre out from pairs of equal heights. With b and a the angles of the crank at that height
// before and after top dead centre, which differ when the pin is offset, and m the middle of the two wheel readings,
//
//	TDC = m - (a - b)/2 - t L/slope
//
// L is half of what running clearances hold the piston back, t = 1 for a pair taken turning forwards, -1 backwards, 0 with
// the piston rising to both readings. Taken one way only, L is not known and stays in the uncertainty; taken both ways it
// drops out, and so it does with the piston rising to both. The pairs are weighted by what is expected of them,
//
//	v = (wheelScatter² + step²/12)/2 + (q² + r²)/12/(2 slope²)
//
// with off²/12 more where the readings lie off by more than 2° from how far apart the crank says: up to half of that may be
// the slip of one of them,
//
// and the scatter found is pooled with this (see squares). Pairs at one height show the same step of the wheel again and
// again: what that leaves is added.
//
// step is what the wheel can be read to [degrees], 0: the finest step that the readings need. It is an error when there is no
// pair, when a height is not above 0 or beyond the stroke or so near half a turn that the wheel's direction cannot be told,
// when two readings lie apart by 15° more or less than the crank says, or when the pairs do not all run the same way.
func FindHeights(c Crank, d Dial, pairs []HeightPair, step Angle) (Heights, error) {
	if err := c.checkKnown(); err != nil {
		return Heights{}, err
	}
	if err := d.Validate(); err != nil {
		return Heights{}, err
	}
	if len(pairs) == 0 {
		return Heights{}, wrong("equal heights", "none", "at least one pair, better three at different heights")
	}
	step, err := checkStep(step, func(yield func(Angle) bool) {
		for _, p := range pairs {
			if !yield(p.Before) || !yield(p.After) {
				return
			}
		}
	})
	if err != nil {
		return Heights{}, err
	}
	var h Heights
	eqs := make([]equation, len(pairs))
	first := Angle(0)
	for i, p := range pairs {
		one, sign, slope, err := c.heightTDC(d, p)
		if err != nil {
			return Heights{}, err
		}
		if i == 0 {
			first, h.Falls = one.TDC, sign < 0
		} else if h.Falls != (sign < 0) {
			return Heights{}, wrong("equal heights", fmt.Sprintf("%g° and %g°", p.Before, p.After),
				"the reading before top dead centre first, as in the pairs before: here the wheel's figures run the other way")
		}
		shift := map[Turning]float64{TurnedForwards: 1, TurnedBackwards: -1}[p.Turning] * float64(sign) / slope
		q, r := float64(d.Graduation), float64(d.Repeatability)
		v := (float64(wheelScatter*wheelScatter)+float64(step*step)/12)/2 + (q*q+r*r)/12/(2*slope*slope)
		if off := float64(one.slipped()); off > 0 {
			v += off * off / 12
		}
		eqs[i] = equation{a: []float64{1, shift}, y: float64(halfTurn(one.TDC - first)), v: v}
		h.Pairs = append(h.Pairs, one)
	}
	lost := float64(lostMotion) * d.Ratio()
	s, ok := squares(eqs, []float64{math.Inf(1), lost*lost + float64(d.Hysteresis*d.Hysteresis)/12})
	if !ok {
		return Heights{}, wrong("equal heights", fmt.Sprintf("%d pairs", len(pairs)), "pairs that determine top dead centre")
	}
	h.Budget = []Component{
		{Name: "scatter of wheel and dial", U: math.Sqrt(s.scatter[0]), DF: s.df, Remedy: "more pairs, at greater heights; a larger wheel"},
		{Name: "play between crank and piston", U: math.Sqrt(s.known[0]), DF: math.Inf(1), Remedy: "readings with the piston rising to each, or pairs taken both ways"},
		{Name: "steps of the wheel at the same heights", U: repeatedSteps(pairs, step, s.scale), DF: math.Inf(1), Remedy: "pairs at other heights"},
	}
	h.TDC = newEstimate(turn(first+Angle(s.x[0])), h.Budget, len(pairs))
	if bothWays(pairs) {
		l := Length(2 * s.x[1])
		h.Lost = &l
	}
	h.TDC.Caveats = h.caveats(c, d, pairs, s)
	return h, nil
}

// heightTDC works one pair out. sign is 1 where the wheel's figures rise as the crank turns forwards, -1 where they fall;
// slope is that of the dial at this height [mm per degree], a mean of both sides.
func (c Crank) heightTDC(d Dial, p HeightPair) (one HeightTDC, sign Angle, slope float64, err error) {
	travel := p.Height / Length(d.Ratio())
	if !(travel > 0 && travel < c.TrueStroke()) {
		return one, 0, 0, wrong("height", d.Format(p.Height), "more than 0, below %.2f mm: how far the piston stands below its top", float64(c.TrueStroke())*d.Ratio())
	}
	b, err := c.Angle(travel, BTDC)
	if err != nil {
		return one, 0, 0, err
	}
	a, err := c.Angle(travel, ATDC)
	if err != nil {
		return one, 0, 0, err
	}
	one.Expected, one.PinOffset = a+b, (a-b)/2
	if math.Abs(float64(one.Expected-180)) < float64(heightNear) {
		return one, 0, 0, wrong("height", d.Format(p.Height), "one nearer to the top: here both ways round the wheel are about half a turn")
	}
	sign, one.Apart = 1, turn(p.After-p.Before)
	if other := 360 - one.Apart; math.Abs(float64(other-one.Expected)) < math.Abs(float64(one.Apart-one.Expected)) {
		sign, one.Apart = -1, other
	}
	if off := math.Abs(float64(one.Apart - one.Expected)); !(off <= float64(heightSlip)) {
		return one, 0, 0, wrong("equal heights", fmt.Sprintf("%g° and %g°, %.1f° apart", p.Before, p.After, one.Apart),
			"about %.1f° apart, which is what the crank makes of %s", one.Expected, d.Format(p.Height))
	}
	one.Middle = turn(p.Before + sign*one.Apart/2)
	one.TDC = turn(one.Middle - sign*one.PinOffset)
	before, err := c.Slope(b)
	if err != nil {
		return one, 0, 0, err
	}
	after, err := c.Slope(-a)
	return one, sign, d.Ratio() * (before - after) / 2, err
}

// checkStep returns step, or the one that the readings need when it is 0.
func checkStep(step Angle, readings func(yield func(Angle) bool)) (Angle, error) {
	var all []Angle
	for a := range readings {
		if !finite(float64(a)) {
			return 0, wrong("degree wheel", deg(a), "a number")
		}
		all = append(all, a)
	}
	if step == 0 {
		step = wheelStep(all)
	}
	if !(step > 0 && step <= 5) {
		return 0, wrong("step of the degree wheel", deg(step), "more than 0, up to 5°")
	}
	return step, nil
}

// repeatedSteps returns the standard uncertainty [degrees] that reading the wheel to steps leaves because fewer different
// heights were taken than pairs; scale is as in solution. As in FindReversal, scatter over several steps averages it out.
func repeatedSteps(pairs []HeightPair, step Angle, scale float64) float64 {
	heights := map[Length]bool{}
	for _, p := range pairs {
		heights[p.Height] = true
	}
	more := 1/float64(len(heights)) - 1/float64(len(pairs))
	scatter := float64(wheelScatter) * math.Sqrt(scale)
	return float64(step) / math.Sqrt(24) * math.Sqrt(more) * math.Exp(-2*math.Pi*math.Pi*scatter*scatter/float64(step*step))
}

// bothWays tells whether there are pairs taken turning forwards and pairs taken turning backwards.
func bothWays(pairs []HeightPair) bool {
	var seen [3]bool
	for _, p := range pairs {
		seen[min(int(p.Turning), 2)] = true
	}
	return seen[TurnedForwards] && seen[TurnedBackwards]
}

// caveats says what the pairs leave open.
func (h Heights) caveats(c Crank, d Dial, pairs []HeightPair, s solution) []Caveat {
	var out []Caveat
	if len(pairs) == 1 {
		out = append(out, Caveat{"one_pair", "one pair alone shows no repeatability; take two more, at other heights"})
	}
	if h.Budget[1].U > 0.5*float64(h.TDC.U) {
		out = append(out, Caveat{"one_way", "the play between crank and piston is much of this: come up to both readings with the piston rising (forwards " +
			"before top dead centre, backwards after it), or take pairs turning forwards and others turning backwards"})
	}
	for i, r := range s.residuals {
		if math.Abs(r) > 4*math.Sqrt(s.scale) || math.Abs(r) > 6 {
			out = append(out, Caveat{"outlier", fmt.Sprintf("the pair at %s lies %.2f° from the others; if it was a slip, leave it out and say so",
				d.Format(pairs[i].Height), math.Abs(float64(halfTurn(h.Pairs[i].TDC-h.TDC.Value))))})
		}
	}
	for i, p := range h.Pairs {
		if off := p.slipped(); off > 0 {
			out = append(out, Caveat{"apart", fmt.Sprintf("at %s the readings lie %.1f° apart, the crank says %.1f°: take this pair again, "+
				"a slip of one reading alone puts TDC off by %.1f°; if it stays so, check stroke, rod and the dial's zero",
				d.Format(pairs[i].Height), p.Apart, p.Expected, off/2)})
		}
	}
	return out
}
