package timing

import "math"

// TDCWay is a way to find top dead centre.
type TDCWay uint8

// The ways.
const (
	// ByHighest takes the highest reading of the dial, or better where its pointer turns round (FindReversal): good for travels,
	// because near the top the piston hardly moves (Crank.ZeroSlip).
	ByHighest TDCWay = iota
	// ByHeights takes the middle between equal heights on both sides with a degree wheel (FindHeights, FitTop): needed for angles.
	ByHeights
)

// String returns "highest" or "heights".
func (w TDCWay) String() string {
	if w == ByHeights {
		return "heights"
	}
	return "highest"
}

// TDCWay returns the way that a specification needs when it is set as it is given: one in degrees by a degree wheel, whose
// zero must stand at top dead centre to a fraction of a degree, one in travel by the dial, for which the highest reading is
// good enough. One in degrees can be set as a travel instead, exactly, if stroke and rod are known; then ByHighest will do,
// and RodEffect tells what a wrong rod costs.
func (s Spec) TDCWay() TDCWay {
	if s.Value.Unit == Degree {
		return ByHeights
	}
	return ByHighest
}

// Slip is what it does to all travels when the dial was set to zero with the piston a little beside top dead centre: they
// come out too small, never too large, by the travel at that angle, which grows with its square.
type Slip struct {
	Most Length // at the largest angle
	// Mean and U are mean and standard deviation when every angle up to the largest is as likely as any other: 1/3 and
	// sqrt(4/45) of Most.
	Mean, U  Length
	Interval [2]Length // holds it with probability Coverage; one-sided, from 0
}

// ZeroSlip returns the Slip for a zero set up to off [degrees of crank, 0..30] to either side of top dead centre.
//
// Near the top travel = Most (b/off)². With b rectangular over -off..off its mean is Most/3, its variance Most² (1/5 - 1/9),
// and it stays below Coverage² Most with probability Coverage.
func (c Crank) ZeroSlip(off Angle) (Slip, error) {
	if err := c.checkKnown(); err != nil {
		return Slip{}, err
	}
	if !(off >= 0 && off <= 30) {
		return Slip{}, wrong("angle beside top dead centre", deg(off), "0..30°")
	}
	before, err := c.Travel(off)
	if err != nil {
		return Slip{}, err
	}
	after, err := c.Travel(-off)
	if err != nil {
		return Slip{}, err
	}
	most := max(before, after)
	return Slip{Most: most, Mean: most / 3, U: most * Length(math.Sqrt(4.0/45)), Interval: [2]Length{0, most * Coverage * Coverage}}, nil
}

// RodEffect returns by how many degrees of crank a timing set as travel lies off at the angle b before top dead centre when
// the rod is really longer than this crank's by more [mm]; positive is early. It is an error when such a crank cannot be, or
// when b is no angle before top dead centre.
func (c Crank) RodEffect(b Angle, more Length) (Angle, error) {
	travel, err := c.Travel(b)
	if err != nil {
		return 0, err
	}
	real, err := NewCrank(c.Stroke(), c.Rod()+more, c.PinOffset())
	if err != nil {
		return 0, err
	}
	got, err := real.Angle(min(travel, real.TrueStroke()), BTDC)
	return got - b, err
}

// What is taken of a hand that finds top dead centre, before anything is measured; a knowledge worth tdcPriorDF degrees of
// freedom (all three: common practice, tried on simulated readings).
const (
	tdcPriorDF = 4
	// peakScatter is the standard deviation with which a dial shows the same piston position twice: oil film, tip, rocking piston.
	peakScatter Length = 0.0025
	// wheelScatter is the standard deviation with which a degree wheel shows the same crank position twice: parallax, wire.
	wheelScatter Angle = 0.09
)

// lostMotion is the standard deviation of what running clearances of rod, pins and dial hold the piston back, half of the
// whole play [mm of travel]: worn bearings have some hundredths together (common practice). The sign of the direction
// in which the piston moves is that of the shift.
const lostMotion Length = 0.015
