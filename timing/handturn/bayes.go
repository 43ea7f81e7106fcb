package handturn

import (
	"math"

	"breakcue/timing"
)

// belief is what is held of the scatter of single turns before any is seen: weights of standard deviations.
type belief struct {
	sigma  []float64 // [crank degrees]
	weight []float64
}

// known is the belief of an oracle.
func known(sigma timing.Angle) belief { return belief{[]float64{float64(sigma)}, []float64{1}} }

// typical returns the root of the mean square of the scatter.
func (b belief) typical() float64 {
	sum, weights := 0.0, 0.0
	for j, sigma := range b.sigma {
		sum += b.weight[j] * sigma * sigma
		weights += b.weight[j]
	}
	return math.Sqrt(sum / weights)
}

// sigmas is how many scatters stand for a distribution.
const sigmas = 31

// belief returns the population's own distribution.
func (p Population) belief() belief {
	if p.Spread == 1 {
		return known(p.Median)
	}
	var b belief
	for i := range sigmas {
		z := cut * (2*float64(i)/(sigmas-1) - 1)
		b.sigma = append(b.sigma, float64(p.Median)*math.Pow(p.Spread, z))
		b.weight = append(b.weight, math.Exp(-z*z/2))
	}
	return b
}

// censored holds the ranges in which the openings of a series lie [mm of plunger movement]: an opening in a bracket is
// not seen, only that it lies inside.
type censored struct{ lo, hi []float64 }

// censor returns a series as ranges. Rounding to a graduation, and repeatability, blur the ends of a bracket. A range of the same
// variance takes their place: the sum of rectangles of width w, q and r has w²+q²+r² over 12; where both ends of a bracket show
// the same, the opening has lain between two that were rounded to it, a parabola on q, with 0.6 q² over 12.
func censor(d timing.Dial, mark timing.Length, readings []timing.Reading) (censored, error) {
	var c censored
	for _, r := range readings {
		mid, err := d.Movement(r.Mid(), mark)
		if err != nil {
			return censored{}, err
		}
		w, q, rep := float64(r.Width()), float64(d.Graduation), float64(d.Repeatability)
		blur := q*q + rep*rep
		if r.Bracket && w == 0 {
			blur *= 0.6
		}
		half := math.Sqrt(w*w+blur) / 2
		c.lo, c.hi = append(c.lo, float64(mid)-half), append(c.hi, float64(mid)+half)
	}
	return c, nil
}

// mean returns the mean of the ranges' middles [mm].
func (c censored) mean() float64 {
	sum := 0.0
	for i := range c.lo {
		sum += (c.lo[i] + c.hi[i]) / 2
	}
	return sum / float64(len(c.lo))
}

// places is the number of places tried for the mean of a series, closer together in its middle.
const places = 81

// bend is how much: the places are the hyperbolic sines of an even grid from -bend to bend.
const bend = 5

// grid returns places for the mean [mm] and how much of the axis each stands for; typical is a
// typical standard deviation of a single turn [mm].
func (c censored) grid(typical float64) (mu, weight [places]float64, half float64) {
	n := float64(len(c.lo))
	mean := c.mean()
	// Only how far the grid reaches: sixteen times a guess of the mean's standard deviation.
	const nu = 4
	square := nu * typical * typical
	for i := range c.lo {
		off, w := (c.lo[i]+c.hi[i])/2-mean, c.hi[i]-c.lo[i]
		square += off*off + w*w/12
	}
	half = 16 * math.Sqrt(square/(nu+n)/n)
	for k := range mu {
		x := bend * (2*float64(k)/(places-1) - 1)
		mu[k] = mean + half*math.Sinh(x)/math.Sinh(bend)
		weight[k] = math.Cosh(x)
	}
	return mu, weight, half
}

// likelihood multiplies into out how likely the ranges are for each mean mu, with standard deviation s [mm].
func (c censored) likelihood(mu *[places]float64, s float64, out *[places]float64) {
	for k, m := range mu {
		l := 1.0
		for i := range c.lo {
			l *= phi((c.hi[i]-m)/s) - phi((c.lo[i]-m)/s)
		}
		out[k] = l
	}
}

// posterior returns the distribution of the mean of own [mm of plunger movement times unit], flat before, with the belief
// about the scatter tried on own and on others. room is what the grid leaves free beside it [the same unit].
func (b belief) posterior(own censored, others []censored, kappa, unit, room float64) density {
	typical := kappa * b.typical()
	mu, _, half := own.grid(typical)
	var sum, l [places]float64
	for j, sigma := range b.sigma {
		w := b.weight[j]
		for _, o := range others {
			mu, weight, _ := o.grid(typical)
			o.likelihood(&mu, sigma*kappa, &l)
			marginal := 0.0
			for k := range l {
				marginal += l[k] * weight[k]
			}
			w *= marginal
		}
		own.likelihood(&mu, sigma*kappa, &l)
		for k := range l {
			sum[k] += w * l[k]
		}
	}
	middle := mu[places/2] * unit
	reach := half*unit + room
	d := density{middle - reach, 2 * reach / cells, make([]float64, cells)}
	for i := range d.p {
		x := (d.from+d.dx*(float64(i)+0.5))/unit - mu[places/2]
		d.p[i] = between4(&sum, (math.Asinh(x/half*math.Sinh(bend))/bend+1)*(places-1)/2)
	}
	d.scale()
	return d
}

// between4 returns y at a place between its indices by the cubic through the four around it (Catmull and Rom), 0 beyond them.
func between4(y *[places]float64, at float64) float64 {
	i := int(math.Floor(at))
	if i < 1 || i > places-3 {
		return 0
	}
	f := at - float64(i)
	a, b, c, d := y[i-1], y[i], y[i+1], y[i+2]
	return max(0, b+f/2*(c-a+f*(2*a-5*b+4*c-d+f*(3*(b-c)+d-a))))
}

// reference returns what somebody holds of the mean true travel after the readings who holds b of the scatter before, and knows how the
// population's dials, plungers and hands go wrong [mm]. It knows no way to make use of Both.
func (s Setting) reference(b belief) (density, error) {
	d, mark := s.Setup.Dial, s.Setup.Target.Travel
	var all []censored
	for _, p := range s.Passes {
		c, err := censor(d, mark, p)
		if err != nil {
			return density{}, err
		}
		all = append(all, c)
	}
	shifts := s.shifts(all[0].mean())
	room := 0.0
	for _, sum := range shifts {
		most := 0.0
		for _, r := range sum {
			most = max(most, math.Abs(r[0]), math.Abs(r[1]))
		}
		room += most
	}
	p := b.posterior(all[0], all[1:], s.kappa, 1/d.Ratio(), room)
	for _, sum := range shifts {
		p = p.plus(sum...)
	}
	return p, nil
}

// shifts returns what must be added to the mean reading, as a travel [mm], to get the mean true travel: a sum of variables, each anywhere in one
// of its ranges, as Population says. movement is the mean reading.
func (s Setting) shifts(movement float64) [][][2]float64 {
	d := s.Setup.Dial
	c := 1 / d.Ratio()
	limit, bezel := c*float64(d.MaxError), c*float64(d.Graduation)/2
	held := c * float64(d.Hysteresis) / 2
	// The two peaks of the zero; a rectangle of the variance of the mean of two and two.
	peaks := c * math.Hypot(float64(d.Hysteresis), float64(d.Repeatability)) / 2 / math.Sqrt2
	out := [][][2]float64{{{-limit, limit}}, {{-bezel, bezel}}, {{-held - peaks, -held + peaks}}}
	const parts = 9
	middle := func(i int) float64 { return (2*float64(i)+1)/parts - 1 }
	if s.class.Inclined {
		travel := func(dial timing.Dial, slope timing.Angle) float64 {
			dial.CrownSlope += slope
			return movement / dial.Ratio()
		}
		var ranges [][2]float64
		for i := range parts {
			dial := d
			dial.PlungerAngle += timing.Angle(middle(i)) * angleHalf
			ranges = append(ranges, [2]float64{travel(dial, -s.crownHalf) - movement*c, travel(dial, s.crownHalf) - movement*c})
		}
		out = append(out, ranges)
	}
	if s.class.Mode == Stops {
		var ranges [][2]float64
		age := perYear * (float64(oldest+youngest)/2 - meanAge)
		for i := range parts {
			creep := (creepMost+creepLeast)/2 + middle(i)*(creepMost-creepLeast)/2
			ranges = append(ranges, [2]float64{c * s.kappa * creep * (reaction + age), c * s.kappa * creep * (reaction + age + stopMost)})
		}
		out = append(out, ranges)
		years := c * s.kappa * (creepLeast + creepMost) / 2 * perYear * (oldest - youngest) / 2
		out = append(out, [][2]float64{{-years, years}})
	}
	return out
}
