package timing

import (
	"math"
	"slices"
)

// Zeroing says what became of the dial between two results.
type Zeroing uint8

// The possibilities.
const (
	SameZero   Zeroing = iota // the dial was not touched, as between as found and as left
	ZeroedAnew                // it was set to zero again, as on the next cylinder
)

// Difference returns how much farther before top dead centre the points open in one result than in the other, both of one
// Evaluate of s. What is wrong in both alike cancels: of the dial's error only what it may be between two near places is left, of
// the angles of plunger and crown only their effect on the difference, and of its zero nothing if it was not set anew. An
// unknown result gives an unknown difference.
func (s Setup) Difference(to, from Result, z Zeroing) Estimate[Length] {
	if !to.Error.Known() || !from.Error.Known() {
		return Estimate[Length]{}
	}
	a, b := to.evidence, from.evidence
	c := 1 / s.Dial.Ratio()
	common := []string{scatterOfPasses, assumedLag, limitOfError, plungerAngle, crownSlope}
	if z == SameZero {
		common = append(common, zeroOfDial)
	}
	parts := both(to, from, common...)
	// Scatter and lag are known from the same passes, so they are worked out for the two together.
	share := a.own.share() - b.own.share()
	variance := a.sd*a.sd/float64(a.own.n()) + b.sd*b.sd/float64(b.own.n())
	if a.lag.measured {
		variance += share * share * (a.sd*a.sd + b.sd*b.sd) / 2 / a.lag.weight
	} else {
		parts = append(parts, Component{Name: assumedLag, U: c * math.Abs(share) * a.lag.half / math.Sqrt(3), DF: math.Inf(1), Shape: Rectangular})
	}
	parts = append(parts, Component{Name: scatterOfPasses, U: c * math.Sqrt(variance), DF: a.df})
	parts = append(parts, s.Dial.near(a.own.mean-b.own.mean)...)
	return newEstimate(to.Travel.Value-from.Travel.Value, parts, min(to.Error.N, from.Error.N))
}

// both returns what is in the budgets of two results, each part for itself, without those named.
func both(a, b Result, without ...string) []Component {
	return slices.DeleteFunc(slices.Concat(a.Budget, b.Budget), func(p Component) bool { return slices.Contains(without, p.Name) })
}

// near lists what one dial makes uncertain in the difference of two travels that the plunger's movement y shows [mm of
// travel]: its limit of error between two near places, and the effect of the angles on the difference.
func (d Dial) near(y float64) []Component {
	within := float64(d.ErrorWithin(Length(y))) / d.Ratio()
	return append(d.angles(y),
		Component{Name: "dial, limit of error between near places", U: within / math.Sqrt(3), DF: math.Inf(1), Shape: Rectangular})
}

// Spread is how far the cylinders of an engine lie apart.
type Spread struct {
	Early, Late int // indices of the earliest and the latest result
	// Difference is how much farther before top dead centre the earliest opens than the latest.
	Difference Estimate[Length]
	// Verdict and InTolerance are about Target.Spread; of no meaning when none is specified. The verdict looks at every two
	// cylinders, and the probability is that of the two that are least likely to be within it.
	Verdict     Verdict
	InTolerance float64
}

// Spread compares results of different cylinders in the same phase, all of one Evaluate. The spread is in tolerance when
// every two cylinders are proven within it of each other, and out when some two are proven not to be. ok is false when fewer
// than two were measured.
func (s Setup) Spread(results []Result) (out Spread, ok bool) {
	proven := true
	for i, early := range results {
		for j, late := range results {
			// Of two alike the first counts as the earlier one.
			if i == j || !early.Error.Known() || !late.Error.Known() || early.Error.Value < late.Error.Value ||
				early.Error.Value == late.Error.Value && i > j {
				continue
			}
			d := s.Difference(early, late, ZeroedAnew)
			v, within := Decide(d, -s.Target.Spread, s.Target.Spread), Probability(d, -s.Target.Spread, s.Target.Spread)
			if v == OutOfTolerance {
				out.Verdict = OutOfTolerance
			}
			proven = proven && v == InTolerance
			if !ok || d.Value > out.Difference.Value {
				out.Early, out.Late, out.Difference = i, j, d
			}
			if !ok || within < out.InTolerance {
				out.InTolerance = within
			}
			ok = true
		}
	}
	if ok && proven {
		out.Verdict = InTolerance
	}
	return out, ok
}
