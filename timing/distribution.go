package timing

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Shape says how an error is distributed.
type Shape uint8

// The shapes.
const (
	Bell        Shape = iota // normal; Student's with as many degrees of freedom as its standard uncertainty has
	Rectangular              // anywhere between two limits, sqrt 3 standard uncertainties to either side
)

// String returns "normal" or "rectangular".
func (s Shape) String() string {
	if s == Rectangular {
		return "rectangular"
	}
	return "normal"
}

// Distribution is that of the sum of independent errors around 0. It propagates whole distributions, as JCGM 101:2008
// does by Monte Carlo, but by quadrature: limits of error, which have no tails, make an interval narrower than a normal
// distribution of the same standard uncertainty would. Make one with Sum; the zero Distribution is 0 for certain.
type Distribution struct {
	u     float64 // standard uncertainty
	scale float64 // of the part that follows Student's distribution
	df    float64
	// The other part lies on an even number of steps of the width given around 0, evenly within a step: below[i] is the
	// probability of lying under the upper end of step i.
	width float64
	below []float64
}

// cells is how many steps there are to either side of 0 while the other part is worked out. finest is how many steps at
// most are kept for one scale of Student's part, which smooths them.
const (
	cells  = 64
	finest = 4
)

// Sum returns the distribution of the sum of the components, which are independent. Those with few degrees of freedom are
// taken together as one that follows Student's distribution with the effective degrees of freedom (see Combine).
func Sum(parts []Component) Distribution {
	var d Distribution
	var few []Component
	var halves []float64
	var normal float64
	for _, p := range parts {
		d.u = math.Hypot(d.u, p.U)
		switch {
		case p.U == 0:
		case p.Shape == Rectangular:
			halves = append(halves, p.U*math.Sqrt(3))
		case p.DF > manyDF:
			normal = math.Hypot(normal, p.U)
		default:
			few = append(few, p)
		}
	}
	d.scale, d.df = Combine(few)
	switch {
	case len(halves) > 0 || normal > 0 && d.scale > 0:
		d.spread(normal, halves)
	case normal > 0:
		d.scale, d.df = normal, math.Inf(1)
	}
	return d
}

// manyDF is the number of degrees of freedom above which Student's distribution is taken as the normal one.
const manyDF = 1e6

// spread lays out the sum of a normal error and of rectangular ones of the half widths given.
func (d *Distribution) spread(normal float64, halves []float64) {
	slices.Sort(halves)
	slices.Reverse(halves) // the widest first: it is exact
	span := 5 * normal
	for _, a := range halves {
		span += a
	}
	d.width = span / cells
	cdf := make([]float64, 2*cells+1) // at the ends of the steps
	for i := range cdf {
		x := float64(i-cells) * d.width
		switch {
		case normal > 0:
			cdf[i] = distuv.UnitNormal.CDF(x / normal)
		default:
			cdf[i] = min(max(0, (x+halves[0])/(2*halves[0])), 1)
		}
	}
	if normal == 0 {
		halves = halves[1:]
	}
	for _, a := range halves {
		cdf = d.widen(cdf, a)
	}
	// What Student's part smooths need not be laid out so finely.
	take := min(max(1, int(d.scale/(finest*d.width))), cells/4)
	for cells%take != 0 {
		take--
	}
	d.width *= float64(take)
	for i := take; i < len(cdf); i += take {
		d.below = append(d.below, cdf[i])
	}
}

// widen returns the distribution function after adding a rectangular error of half width a: the mean of the function
// within a to either side, of which it is taken as straight within each step.
func (d *Distribution) widen(cdf []float64, a float64) []float64 {
	area := make([]float64, len(cdf)) // under the function, up to the end of a step [steps]
	for i := 1; i < len(cdf); i++ {
		area[i] = area[i-1] + (cdf[i-1]+cdf[i])/2
	}
	last := len(cdf) - 1
	upTo := func(at float64) float64 { // [steps from the first end]
		switch {
		case at <= 0:
			return 0
		case at >= float64(last):
			return area[last] + at - float64(last)
		}
		i := int(at)
		f := at - float64(i)
		return area[i] + f*cdf[i] + f*f*(cdf[i+1]-cdf[i])/2
	}
	half := a / d.width
	out := make([]float64, len(cdf))
	for i := range out {
		out[i] = (upTo(float64(i)+half) - upTo(float64(i)-half)) / (2 * half)
	}
	return out
}

// CDF returns the probability that the error is at most x, 0..1; x may be infinite.
func (d Distribution) CDF(x float64) float64 {
	switch {
	case d.u == 0 || math.IsInf(x, 0):
		if x < 0 {
			return 0
		}
		return 1
	case d.below == nil:
		return student(d.df).CDF(x / d.scale)
	case d.scale < d.width/4: // the other part alone
		return d.laid(x)
	}
	// Each step counts as if it stood in its middle; how far it reaches to either side is left to the other part's scale.
	t, sum, before := student(d.df), 0.0, 0.0
	scale := math.Hypot(d.scale, d.width/math.Sqrt(12))
	half := len(d.below) / 2
	for i, b := range d.below {
		middle := (float64(i-half) + 0.5) * d.width
		sum += (b - before) * t.CDF((x-middle)/scale)
		before = b
	}
	return min(max(0, sum+(1-before)*t.CDF((x-float64(half)*d.width)/scale)), 1)
}

// laid returns the probability that the part that is no Student's lies under x.
func (d Distribution) laid(x float64) float64 {
	at := x/d.width + float64(len(d.below)/2) // [steps from the first end]
	switch {
	case at <= 0:
		return 0
	case at >= float64(len(d.below)):
		return 1
	}
	i := int(at)
	before := 0.0
	if i > 0 {
		before = d.below[i-1]
	}
	return before + (at-float64(i))*(d.below[i]-before)
}

// Quantile returns the error below which the true one lies with probability p, 0 < p < 1. It panics on other p.
func (d Distribution) Quantile(p float64) float64 {
	if !(p > 0 && p < 1) {
		panic(fmt.Sprintf("timing: probability, got %g, want more than 0 and less than 1", p))
	}
	switch {
	case d.u == 0 || p == 0.5:
		return 0
	case p < 0.5:
		return -d.Quantile(1 - p) // it is even around 0
	case d.below == nil:
		return student(d.df).Quantile(p) * d.scale
	}
	// The normal twin's quantile is near. Should the true one not lie around it, it lies in the wider range.
	share := d.scale / d.u
	near := student(d.df/(share*share*share*share)).Quantile(p) * d.u
	if x, ok := d.solve(p, 0.85*near, 1.1*near); ok {
		return x
	}
	x, _ := d.solve(p, 0, student(d.df).Quantile(p)*d.scale+5*d.u)
	return x
}

// solve returns the quantile of a probability of more than a half, if it lies between low and high, by the method of false
// position in its Illinois form (Dowell and Jarratt, BIT 11, 1971, from memory).
func (d Distribution) solve(p, low, high float64) (x float64, ok bool) {
	below, above := d.CDF(low)-p, d.CDF(high)-p
	if below > 0 || above < 0 {
		return 0, false
	}
	side := 0
	for high-low > 1e-7*d.u {
		x := high - above*(high-low)/(above-below)
		switch f := d.CDF(x) - p; {
		case math.Abs(f) < 1e-8:
			return x, true
		case f < 0:
			low, below = x, f
			if side < 0 {
				above /= 2
			}
			side = -1
		default:
			high, above = x, f
			if side > 0 {
				below /= 2
			}
			side = 1
		}
	}
	return (low + high) / 2, true
}
