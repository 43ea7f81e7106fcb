package timing

import "math"

// Crank is a slider-crank whose piston pin runs on a line that may miss the crank's centre by the pin offset.
// Make one with NewCrank; the zero Crank stands for a crank that is not known.
//
// With theta the crank's angle past its top position in the direction of rotation, the pin's height over the crank's
// centre is h(theta) = r cos theta + sqrt(l^2 - (r sin theta - e)^2) (for e = 0: Heywood, Internal Combustion Engine
// Fundamentals, 1988, ch. 2, equation number from memory). It is greatest at sin theta = e/(l+r), where crank and rod
// are in line: top dead centre.
type Crank struct {
	r, l, e    float64
	tdc        float64 // theta at top dead centre [rad]
	hTDC, hBDC float64 // pin heights [mm]
	travel     float64 // between the dead centres [mm]
	beforeBDC  Angle   // angle from bottom dead centre forward to top dead centre
}

// Side tells on which side of top dead centre a piston position is meant.
type Side uint8

// The sides.
const (
	BTDC Side = iota // before top dead centre
	ATDC             // after top dead centre
)

// maxCrank is the largest stroke, rod or offset taken [mm]: more is a slip of the unit.
const maxCrank = 10000

// slack is how far a travel or an angle may lie beyond its limit, as a part of it, and still count as the limit: what was
// rounded on its way through another unit or a table comes back.
const slack = 1e-12

// NewCrank returns a crank. stroke is twice the crank radius, rod the length between centres, both more than 0 and at
// most 10 m; a positive pinOffset moves top dead centre after the crank's top position in the direction of rotation.
// The rod must be longer than crank radius and offset together, or the crank cannot turn.
func NewCrank(stroke, rod, pinOffset Length) (Crank, error) {
	if !(stroke/2 > 0 && stroke <= maxCrank) {
		return Crank{}, wrong("stroke", mm(stroke), "more than 0, up to %d mm", maxCrank)
	}
	if !(rod > 0 && rod <= maxCrank) {
		return Crank{}, wrong("rod", mm(rod), "more than 0, up to %d mm", maxCrank)
	}
	if !(math.Abs(float64(pinOffset)) <= maxCrank) {
		return Crank{}, wrong("pin offset", mm(pinOffset), "-%d..%d mm", maxCrank, maxCrank)
	}
	r, l, e := float64(stroke)/2, float64(rod), float64(pinOffset)
	if !(l > r+math.Abs(e)) {
		return Crank{}, wrong("rod", mm(rod)+" between centres", "more than %g mm (half the stroke and the pin offset together)", r+math.Abs(e))
	}
	c := Crank{r: r, l: l, e: e, tdc: math.Asin(e / (l + r))}
	c.hTDC = math.Sqrt((l + r - e) * (l + r + e))
	c.hBDC = math.Sqrt((l - r - e) * (l - r + e))
	c.travel = 2 * r
	if e != 0 {
		c.travel = 4 * l * r / (c.hTDC + c.hBDC)
	}
	c.beforeBDC = c.TDC() - c.BDC() + 360
	return c, nil
}

// Known tells whether the crank was made by NewCrank.
func (c Crank) Known() bool { return c.r > 0 }

// Stroke returns twice the crank radius.
func (c Crank) Stroke() Length { return Length(2 * c.r) }

// Rod returns the rod's length between centres.
func (c Crank) Rod() Length { return Length(c.l) }

// PinOffset returns the pin offset.
func (c Crank) PinOffset() Length { return Length(c.e) }

// TrueStroke returns the piston's travel between its dead centres: exactly Stroke without pin offset, a little more with
// one, sqrt((l+r)^2-e^2) - sqrt((l-r)^2-e^2) = 4 l r / (h(TDC) + h(BDC)).
func (c Crank) TrueStroke() Length { return Length(c.travel) }

// TDC returns the crank's angle past its top position at top dead centre, asin(e/(l+r)).
func (c Crank) TDC() Angle { return degrees(c.tdc) }

// BDC returns the crank's angle past its top position at bottom dead centre, 180° + asin(e/(l-r)).
func (c Crank) BDC() Angle { return 180 + degrees(math.Asin(c.e/(c.l-c.r))) }

// HeightTDC returns the pin's height over the crank's centre at top dead centre.
func (c Crank) HeightTDC() Length { return Length(c.hTDC) }

// HeightBDC returns the pin's height over the crank's centre at bottom dead centre.
func (c Crank) HeightBDC() Length { return Length(c.hBDC) }

// Limits returns the angles from bottom dead centre forward to top dead centre, and from there on to bottom dead centre:
// 180° each without pin offset.
func (c Crank) Limits() (before, after Angle) { return c.beforeBDC, 360 - c.beforeBDC }

// Travel returns the piston's travel at the angle b before top dead centre (negative: after it), h(TDC) - h(TDC-b), at
// most TrueStroke. It is an error when b lies beyond bottom dead centre on either side (see Limits) or is not a number;
// by a part in 10^12 beyond it counts as bottom dead centre.
//
// The form used, 4 (l+r) r sin^2(b/2) / (h(TDC) - r cos theta + sqrt(l^2-(r sin theta-e)^2)), subtracts no nearly equal
// numbers, so it is as exact near top dead centre as elsewhere.
func (c Crank) Travel(b Angle) (Length, error) {
	b, err := c.checkAngle(b)
	if err != nil {
		return 0, err
	}
	theta := c.tdc - b.Radians()
	sin, cos := math.Sincos(theta)
	half := math.Sin(b.Radians() / 2)
	s := 4 * (c.l + c.r) * c.r * half * half / (c.hTDC - c.r*cos + c.drop(sin))
	return Length(min(s, c.travel)), nil
}

// Slope returns how fast travel grows with the angle b before top dead centre [mm per degree]; it is negative after top
// dead centre. Errors are those of Travel.
func (c Crank) Slope(b Angle) (float64, error) {
	b, err := c.checkAngle(b)
	if err != nil {
		return 0, err
	}
	// psi is the rod's angle to the bore; at top dead centre it is that of the crank. The slope is r sin(psi-theta)/cos psi;
	// psi-TDC comes from the difference of two sines, written as a product so that nothing cancels.
	x := b.Radians()
	psi := math.Asin((c.e - c.r*math.Sin(c.tdc-x)) / c.l)
	turn := 2 * math.Asin(c.r/c.l*math.Cos(c.tdc-x/2)*math.Sin(x/2)/math.Cos((psi+c.tdc)/2))
	return c.r * math.Sin(x+turn) / math.Cos(psi) * (math.Pi / 180), nil
}

// Angle returns the crank angle at which the piston stands the travel below its top, before or after top dead centre, from
// 0 up to the limit of that side (see Limits). It is an error when travel is negative, beyond TrueStroke or not a number; by
// a part in 10^12 beyond it counts as TrueStroke.
//
// It is a closed form: the triangle of crank, rod and the line from the crank's centre to the pin, d long, gives the angle
// phi at the centre, from its half-angle formula, and the offset turns that line by gamma. l+r-d and d-(l-r) are taken from
// the distances to the two dead centres, so that nothing cancels near either.
func (c Crank) Angle(travel Length, side Side) (Angle, error) {
	if err := c.checkKnown(); err != nil {
		return 0, err
	}
	if !(travel >= 0 && float64(travel) <= c.travel*(1+slack)) {
		return 0, wrong("travel", mm(travel), "0..%.4f mm (the stroke)", inside(c.travel))
	}
	limit, after := c.Limits()
	if side == ATDC {
		limit = after
	}
	s, top, bottom := float64(travel), c.l+c.r, c.l-c.r
	if s >= c.travel {
		return limit, nil
	}
	rest := c.travel - s
	below := s * (2*c.hTDC - s)       // top squared, less d squared
	above := rest * (2*c.hBDC + rest) // d squared, less bottom squared
	d := math.Sqrt(bottom*bottom + above)
	phi := 2 * math.Atan2(math.Sqrt(below/(top+d)*(d+bottom)), math.Sqrt(above/(d+bottom)*(d+top)))
	gamma := math.Atan2(s*c.e/top, top-s*c.hTDC/top)
	if side == ATDC {
		gamma = -gamma
	}
	return min(max(0, degrees(phi-gamma)), limit), nil
}

// drop returns the rod's extent along the bore at a crank angle with the given sine.
func (c Crank) drop(sin float64) float64 {
	u := c.r*sin - c.e
	return math.Sqrt((c.l - u) * (c.l + u))
}

func (c Crank) checkKnown() error {
	if !c.Known() {
		return wrong("crank", "none", "stroke and rod length")
	}
	return nil
}

// checkAngle returns b, brought back to the limit that it exceeds by no more than slack.
func (c Crank) checkAngle(b Angle) (Angle, error) {
	if err := c.checkKnown(); err != nil {
		return 0, err
	}
	before, after := c.Limits()
	if !(b >= -after*(1+slack) && b <= before*(1+slack)) {
		return 0, wrong("angle before top dead centre", deg(b), "%.4f..%.4f°", -inside(float64(after)), inside(float64(before)))
	}
	return min(max(-after, b), before), nil
}

// inside rounds a limit of 0 or more down to four decimals, so that what a message allows is taken when typed.
func inside(limit float64) float64 { return math.Floor(limit*1e4*(1+slack)) / 1e4 }
