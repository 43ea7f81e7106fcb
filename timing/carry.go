package timing

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// CrankU holds the standard uncertainties of a crank's measures [mm], 0 or more; 0 where one is taken as known.
type CrankU struct{ Stroke, Rod, PinOffset Length }

// Known tells whether all the measures are taken as known.
func (u CrankU) Known() bool { return u == CrankU{} }

// Carried is the uncertainty of what a conversion gives.
type Carried[T ~float64] struct {
	// U is the standard uncertainty: the root mean square distance of the truth from the value given.
	U T
	// Interval holds the truth with the probability Coverage.
	Interval [2]T
	// Parts are what each uncertain input brings to U, the value's own first. Their squares add up to that of U.
	Parts []Part[T]
}

// Part is what one input brings to an uncertainty.
type Part[T ~float64] struct {
	Name string // "value", "stroke", "rod" or "pin offset"
	U    T
}

// CarryTravel returns the uncertainty of Angle(travel, side) for a travel of standard uncertainty u and a crank whose
// measures are uncertain by cu.
//
// Every input is taken for normal and for independent of the others, and is carried through the exact crank by itself: U is
// sqrt(sum E[(f(x_i) - f)²]) with the expectations by quadrature, and the ends of the interval are where the exact crank
// puts the ends of the input's, the distances of several inputs added as squares. Far from the dead centres that is the
// law of propagation, u(b) = u/slope (JCGM 100:2008, 5.1.2). Near them, where the slope vanishes and that law has no answer,
// it is the propagation of distributions (JCGM 101:2008). A travel below 0 counts as 0, one beyond the stroke as the
// stroke: the piston goes no further.
//
// Errors are those of Angle, and an uncertainty that is negative, not finite or so large that the crank might not turn.
func (c Crank) CarryTravel(travel, u Length, side Side, cu CrankU) (Carried[Angle], error) {
	at, err := c.Angle(travel, side)
	if err != nil {
		return Carried[Angle]{}, err
	}
	if err := checkU("value", u); err != nil {
		return Carried[Angle]{}, err
	}
	angle := func(c Crank, s Length) Angle {
		b, _ := c.Angle(min(max(s, 0), c.TrueStroke()), side) // never fails: within the stroke
		return b
	}
	inputs := []input[Angle]{{name: "value", u: float64(u), at: func(dx float64) Angle { return angle(c, travel+Length(dx)) }}}
	more, err := crankInputs(c, cu, func(c Crank) Angle { return angle(c, travel) })
	if err != nil {
		return Carried[Angle]{}, err
	}
	limit, after := c.Limits()
	if side == ATDC {
		limit = after
	}
	return carry(at, append(inputs, more...), 0, limit), nil
}

// CarryAngle returns the uncertainty of Travel(b) for an angle of standard uncertainty u and a crank whose measures are
// uncertain by cu, worked out as by CarryTravel. An angle beyond bottom dead centre counts as bottom dead centre. Errors are
// those of Travel, and an uncertainty that is negative, not finite or so large that the crank might not turn.
func (c Crank) CarryAngle(b, u Angle, cu CrankU) (Carried[Length], error) {
	at, err := c.Travel(b)
	if err != nil {
		return Carried[Length]{}, err
	}
	if err := checkU("value", u); err != nil {
		return Carried[Length]{}, err
	}
	travel := func(c Crank, b Angle) Length {
		before, after := c.Limits()
		s, _ := c.Travel(min(max(b, -after), before)) // never fails: within the limits
		return s
	}
	inputs := []input[Length]{{name: "value", u: float64(u), turns: -float64(b), at: func(dx float64) Length { return travel(c, b+Angle(dx)) }}}
	more, err := crankInputs(c, cu, func(c Crank) Length { return travel(c, b) })
	if err != nil {
		return Carried[Length]{}, err
	}
	return carry(at, append(inputs, more...), 0, c.TrueStroke()), nil
}

// NormalInterval returns the interval that holds a normally distributed value of standard uncertainty u with the probability
// Coverage.
func NormalInterval[T ~float64](value, u T) [2]T {
	half := T(normalFactor()) * u
	return [2]T{value - half, value + half}
}

// normalFactor returns the coverage factor of a normal distribution for Coverage, 1.96.
func normalFactor() float64 { return distuv.UnitNormal.Quantile((1 + Coverage) / 2) }

// input is one uncertain input of a conversion.
type input[T ~float64] struct {
	name  string
	u     float64
	at    func(dx float64) T // what the conversion gives when the input is larger by dx
	turns float64            // the dx at which it has a minimum; 0 when it has none but, perhaps, here
}

// farthest is how many standard uncertainties from its value an input is followed. Beyond lies a probability of 2e-9.
const farthest = 6

// crankInputs returns the crank's measures that are uncertain.
func crankInputs[T ~float64](c Crank, cu CrankU, give func(Crank) T) ([]input[T], error) {
	var out []input[T]
	for _, m := range []struct {
		name string
		u    Length
		make func(dx Length) (Crank, error)
	}{
		{"stroke", cu.Stroke, func(dx Length) (Crank, error) { return NewCrank(c.Stroke()+dx, c.Rod(), c.PinOffset()) }},
		{"rod", cu.Rod, func(dx Length) (Crank, error) { return NewCrank(c.Stroke(), c.Rod()+dx, c.PinOffset()) }},
		{"pin offset", cu.PinOffset, func(dx Length) (Crank, error) { return NewCrank(c.Stroke(), c.Rod(), c.PinOffset()+dx) }},
	} {
		if err := checkU(m.name, m.u); err != nil {
			return nil, err
		}
		for _, far := range []Length{-farthest, farthest} {
			if _, err := m.make(far * m.u); err != nil {
				return nil, wrong("uncertainty of the "+m.name, mm(m.u), "so little that the crank turns whatever it is, up to %d times that", farthest)
			}
		}
		if m.u > 0 {
			out = append(out, input[T]{name: m.name, u: float64(m.u), at: func(dx float64) T {
				changed, _ := m.make(Length(dx)) // never fails: between the ends that were tried
				return give(changed)
			}})
		}
	}
	return out, nil
}

func checkU[T ~float64](name string, u T) error {
	if !(u >= 0 && finite(float64(u))) {
		return wrong("uncertainty of the "+name, Quantity{Value: float64(u)}.String(), "a finite number, 0 or more")
	}
	return nil
}

// carry combines the inputs of a conversion that gives f, which lies from lo to hi.
func carry[T ~float64](f T, inputs []input[T], lo, hi T) Carried[T] {
	k := normalFactor()
	var sum, down, up float64
	out := Carried[T]{}
	for _, in := range inputs {
		square := 0.0
		// The trapezium rule over the normal density: for what is smooth better than any other, and good to 1e-4 at a bend.
		const step = 1.0 / 32
		for z := -float64(farthest); z <= farthest; z += step {
			d := float64(in.at(z*in.u) - f)
			square += step * distuv.UnitNormal.Prob(z) * d * d
		}
		out.Parts = append(out.Parts, Part[T]{in.name, T(math.Sqrt(square))})
		sum += square
		low, high := min(in.at(-k*in.u), in.at(k*in.u), f), max(in.at(-k*in.u), in.at(k*in.u), f)
		if math.Abs(in.turns) < k*in.u {
			low = min(low, in.at(in.turns))
		}
		down += float64((f - low) * (f - low))
		up += float64((high - f) * (high - f))
	}
	out.U = T(math.Sqrt(sum))
	out.Interval = [2]T{max(lo, f-T(math.Sqrt(down))), min(hi, f+T(math.Sqrt(up)))}
	return out
}
