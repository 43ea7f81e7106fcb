package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
)

// part is a value that may be fitted.
type part uint8

const (
	partRc part = iota // contact [ohm]
	partG              // leak [S]
	partC              // condenser [F]
	partL              // ln of the coil's inductance [H]
	partR              // coil's wire [ohm]
	partE              // eddy losses: tangent of the loss angle at 1 kHz
	partM              // how much of the losses is that of plates, the rest that of a ring, 0..1
	partCount
	partP = partCount // no value: partM stays 1, where it stays 0 without
)

// lossAt is the angular frequency of the loss angle [rad/s].
const lossAt = 2 * math.Pi * 1000

// parts is a set of them: a model.
type parts uint8

func (p parts) has(i part) bool   { return p&(1<<i) != 0 }
func (p parts) with(i part) parts { return p | 1<<i }
func (p parts) list() (list []part) {
	for i := range partCount {
		if p.has(i) {
			list = append(list, i)
		}
	}
	return list
}

// The models are made of these.
const (
	bare = parts(0)
	rc   = parts(1 << partRc)
	g    = parts(1 << partG)
	con  = parts(1 << partC)
	coil = parts(1<<partL | 1<<partR)
	eddy = parts(1 << partE)
	flat = parts(1<<partE | 1<<partP)
	mix  = parts(1<<partE | 1<<partM)
)

// models are tried in this order, each with the contact too. Where closed and open are alike only the open level is looked at; the
// contact is then a model of its own, a short. A leak beside a coil is not looked for: a coil of some ohms hides it.
func models(alike bool) []parts {
	list := []parts{bare, g, con, g | con, coil, coil | eddy, coil | flat, coil | con, coil | eddy | con, coil | flat | con}
	if alike {
		return append(list, rc)
	}
	for i := range list {
		list[i] |= rc
	}
	return list
}

// weighed is a tone with what makes the noise of its two levels independent and of standard deviation 1 a part: the inverse of the Cholesky
// factor of their covariance. Fixture noise is common to both levels, so they are correlated.
type weighed struct {
	Tone
	fixture      Fixture
	w            float64 // angular frequency [rad/s]
	cc, oo       float64
	oc           complex128
	closedUnused bool // closed and open are alike
}

// rounding is the noise, relative to the span of the levels, of levels that have no other: their weights stay finite.
const rounding = 1e-10

func weigh(t Tone) (weighed, error) {
	w := weighed{Tone: t, fixture: t.Fixture, w: 2 * math.Pi * t.F}
	if t.Fixture.q == 0 {
		_, err := t.Fixture.Impedance(t.Closed)
		return w, err
	}
	if err := (Circuit{Load: 1}).check(t.F); err != nil {
		return w, err
	}
	if err := t.Closed.check("points closed"); err != nil {
		return w, err
	}
	if err := t.Open.check("points open"); err != nil {
		return w, err
	}
	f := t.Fixture
	// Nothing passive is a million times louder than the references; squares of what is would overflow.
	if far := max(cmplx.Abs(f.place(t.Closed.Level)), cmplx.Abs(f.place(t.Open.Level))); !(far < 1e6) {
		return w, fmt.Errorf("circuit: levels of points, got %.3g times those of the references, want less than a million times", far)
	}
	pc, po := f.partials(f.place(t.Closed.Level)), f.partials(f.place(t.Open.Level))
	floor := rounding * cmplx.Abs(f.apart.Level-f.together.Level)
	vc, vo := square(t.Closed.Noise)+square(floor), square(t.Open.Noise)+square(floor)
	var co complex128
	for i := range pc {
		v := square(f.noise(Reference(i)))
		vc += v * square(cmplx.Abs(pc[i]))
		vo += v * square(cmplx.Abs(po[i]))
		co += complex(v, 0) * po[i] * cmplx.Conj(pc[i])
	}
	// L = [l11 0; l21 l22], residuals times its inverse.
	l11 := math.Sqrt(vc)
	l21 := co / complex(l11, 0)
	l22 := math.Sqrt(math.Max(vo-square(cmplx.Abs(l21)), square(floor)))
	w.cc, w.oo, w.oc = 1/l11, 1/l22, -l21/complex(l11*l22, 0)
	return w, nil
}

// closedOff leaves the level of closed points out, and gives the other its own weight again.
func (w *weighed) closedOff() {
	w.closedUnused = true
	// The variance of the open level alone, from the inverse factor: vo = |l21|^2 + l22^2.
	l22 := 1 / w.oo
	l21 := -w.oc * complex(l22/w.cc, 0)
	w.oo = 1 / math.Hypot(l22, cmplx.Abs(l21))
	w.cc, w.oc = 0, 0
}

// residuals returns the two weighted residuals of a tone, and where want is set their derivatives by each part.
func (w *weighed) residuals(x *[partCount]float64, p parts, d *[partCount][2]complex128) [2]complex128 {
	f := w.fixture
	y := complex(0, w.w*x[partC])
	var dl, dr, de, dm complex128 // of the admittance of condenser and coil
	if p.has(partL) {
		jwl, bend := complex(0, w.w*math.Exp(x[partL])), complex(0, w.w/lossAt)
		loss := bend * complex(x[partE], 0) // jwL/Eddy
		// jwL in parallel with lossAt*L/tan: 1/(1/(jwL) + tan/(lossAt*L)) = jwL/(1 + j*tan*w/lossAt).
		share := 1 / (1 + loss)
		slope := -share * share
		if m := complex(x[partM], 0); m != 0 || p.has(partM) {
			flat, bent := plates(3 * loss)
			dm = jwl * (flat - share)
			share += m * (flat - share)
			slope += m * (3*bent - slope)
		}
		zc := complex(x[partR], 0) + jwl*share
		y += 1 / zc
		dr = -1 / (zc * zc)
		dl = dr * jwl * share
		de = dr * jwl * slope * bend
		dm *= dr
	}
	open := y + complex(x[partG], 0)
	contact := complex(x[partRc], 0)
	n, dd := contact, 1+contact*y
	if w.closedUnused && p.has(partRc) {
		// The points never opened: what is heard is the contact.
		if d != nil {
			*d = [partCount][2]complex128{partRc: w.white(0, -f.slope(n, dd))}
		}
		return w.white(0, w.Open.Level-f.level(n, dd))
	}
	rc := w.Closed.Level - f.level(n, dd)
	ro := w.Open.Level - f.level(1, open)
	if d != nil {
		sc, so := -f.slope(n, dd), -f.slope(1, open)
		byY := func(dy complex128) [2]complex128 { return w.white(sc*-contact*contact*dy, so*-dy) }
		d[partRc] = w.white(sc, 0)
		d[partG] = w.white(0, -so)
		d[partC] = byY(complex(0, w.w))
		d[partL], d[partR], d[partE], d[partM] = byY(dl), byY(dr), byY(de), byY(dm)
	}
	return w.white(rc, ro)
}

func (w *weighed) white(c, o complex128) [2]complex128 {
	return [2]complex128{complex(w.cc, 0) * c, w.oc*c + complex(w.oo, 0)*o}
}

func norm(z complex128) float64 { return square(real(z)) + square(imag(z)) }
func square(x float64) float64  { return x * x }
