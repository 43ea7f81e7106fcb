package circuit

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// partLimit is by how much the sum of squares, in units of the noise, must fall for each value that a model has more: by chance
// it falls as chi-squared with one degree of freedom, above 15 once in 10,000 times.
const partLimit = 15

// badTone is the sum of the four squares of a tone, in units of the noise, at which it counts half: by chance it is chi-squared with four
// degrees of freedom, above 40 once in 20 million times.
const badTone = 40

// medianTone is the median of chi-squared with four degrees of freedom.
const medianTone = 3.357

// alikeLevels is the median over the tones of the squared distance of closed and open, in units of its noise, below which they are alike:
// by chance it is about 1.39, that of chi-squared with two degrees of freedom, and above 6 for six tones once in 5000 times, for twenty never.
const alikeLevels = 6

// alike tells whether closed and open are the same but for noise. The median stands tones gone bad.
func alike(tones []weighed) bool {
	var sum []float64
	for _, t := range tones {
		// The fixture's noise moves both alike. The floor stands for rounding where there is no noise.
		floor := rounding * cmplx.Abs(t.fixture.apart.Level-t.fixture.together.Level)
		v := square(t.Closed.Noise) + square(t.Open.Noise) + square(floor)
		sum = append(sum, norm(t.Closed.Level-t.Open.Level)/v)
	}
	return median(sum) < alikeLevels
}

// fit is a model fitted.
type fit struct {
	parts parts
	x, sd [partCount]float64
	cost  float64 // robust sum of squares
	cov   [partCount][partCount]float64
	scale float64 // what the squares were divided by
	sums  []float64
}

// left lists the tones that count less than half.
func (f fit) left(tones []weighed) (list []float64) {
	for i, s := range f.sums {
		if s > badTone*f.scale {
			list = append(list, tones[i].F)
		}
	}
	return list
}

// choose fits all models and returns the one to take, and all.
func choose(tones []weighed, alike bool) (fit, map[parts]fit) {
	var fits []fit
	for _, m := range models(alike) {
		fits = append(fits, begin(tones, m))
	}
	scale := math.Inf(1)
	for _, f := range fits {
		values := len(tones) * 4
		if alike {
			values /= 2
		}
		s := median(f.sums) / medianTone * float64(len(tones)*4) / float64(max(1, values-len(f.parts.list())))
		scale = math.Min(scale, s)
	}
	scale = math.Max(1, scale)
	best, all := 0, map[parts]fit{}
	penalty := func(f fit) float64 { return f.cost + partLimit*float64(len(f.parts.list())) }
	for i := range fits {
		fits[i] = again(tones, fits[i], scale)
		all[fits[i].parts] = fits[i]
		if penalty(fits[i]) < penalty(fits[best]) {
			best = i
		}
	}
	if !alike {
		return fits[best], all
	}
	// One resistance is a contact or a leak, whichever is the better conditioned; and a short that explains the levels about as well as
	// the best is taken: a condenser or a coil would have to be far from any that is met.
	short := all[rc]
	if short.x[partRc] < shortLimit && penalty(short) < penalty(fits[best])+partLimit {
		return short, all
	}
	if fits[best].parts == rc {
		return all[g], all
	}
	return fits[best], all
}

// again fits a model at the scale that was found, and sets its standard deviations.
func again(tones []weighed, f fit, scale float64) fit {
	f = descend(tones, f.parts, f.x, scale)
	f.deviations(tones)
	return f
}

// mixed fits the model of best, which has a coil, with losses of a law between those of a ring and of plates; without a condenser and
// with. It begins at the better of the two laws.
func mixed(tones []weighed, best fit, all map[parts]fit) (without, with fit) {
	base := best.parts&rc | coil
	from := func(p parts) fit {
		f := all[base|p|eddy]
		if other := all[base|p|flat]; other.cost < f.cost {
			f = other
		}
		f.parts = base | p | mix
		return again(tones, f, best.scale)
	}
	return from(bare), from(con)
}

// begin fits a model from the best of a few places: coils of 0.3..30 mH with condensers of 0.02..0.6 uF hold what is met.
func begin(tones []weighed, p parts) fit {
	var starts []fit
	ls, cs, gs := []float64{0}, []float64{0}, []float64{0}
	if p.has(partG) {
		gs = []float64{1e-5, 1e-3, 1e-2}
	}
	if p.has(partC) {
		cs = []float64{.02e-6, .06e-6, .13e-6, .22e-6, .35e-6, .6e-6}
	}
	if p.has(partL) {
		ls = []float64{.3e-3, .7e-3, 1.3e-3, 2.2e-3, 3.5e-3, 6e-3, 10e-3, 30e-3}
	}
	for _, l := range ls {
		for _, c := range cs {
			for _, leak := range gs {
				x := [partCount]float64{partC: c, partG: leak}
				if p.has(partRc) {
					x[partRc] = 0.3
				}
				if p.has(partL) {
					x[partL], x[partR] = math.Log(l), 1
				}
				if p.has(partE) {
					x[partE] = 0.2
				}
				if p.has(partP) {
					x[partM] = 1
				}
				starts = append(starts, fit{x: x, cost: cost(tones, p, x, 1, nil)})
			}
		}
	}
	slices.SortStableFunc(starts, func(a, b fit) int { return cmp.Compare(a.cost, b.cost) })
	var best fit
	for i, s := range starts[:min(3, len(starts))] {
		if f := approach(tones, p, s.x); i == 0 || f.cost < best.cost {
			best = f
		}
	}
	return best
}

// cost is the robust sum of squares over the tones, sum of b ln(1+s/b), with s the squares of one tone over scale and b = badTone (Cauchy's
// loss). The squares of each tone go to sums where that is not nil.
func cost(tones []weighed, p parts, x [partCount]float64, scale float64, sums []float64) float64 {
	var total float64
	for i := range tones {
		r := tones[i].residuals(&x, p, nil)
		s := norm(r[0]) + norm(r[1])
		if sums != nil {
			sums[i] = s
		}
		total += badTone * math.Log1p(s/scale/badTone)
	}
	return total
}

// approach descends from afar: at first every tone is far off, none may count as bad, so that the scale comes down by and by.
func approach(tones []weighed, p parts, x [partCount]float64) fit {
	f := fit{x: x, sums: make([]float64, len(tones))}
	cost(tones, p, x, 1, f.sums)
	for scale := median(f.sums) / medianTone; scale > 1; scale = min(scale/10, median(f.sums)/medianTone) {
		f = descend(tones, p, f.x, scale)
	}
	return descend(tones, p, f.x, 1)
}

// descend is the method of Levenberg and Marquardt; values that cannot be negative stop at 0.
func descend(tones []weighed, p parts, x [partCount]float64, scale float64) fit {
	list := p.list()
	sums := make([]float64, len(tones))
	now, damp := cost(tones, p, x, scale, sums), 1e-3
	for round := 0; round < 100 && damp < 1e10 && len(list) > 0; round++ {
		a, b := normal(tones, p, list, x, scale)
		next, ok := step(a, b, list, x, damp)
		then := math.Inf(1)
		if ok {
			then = cost(tones, p, next, scale, nil)
		}
		if !(then < now) {
			damp *= 10
			continue
		}
		gain := now - then
		x, now, damp = next, then, math.Max(damp/10, 1e-12)
		// A sum of squares that is larger by 1e-4 than the least is a hundredth of a standard deviation from it.
		if gain < 1e-4*max(1, now/100) {
			break
		}
	}
	now = cost(tones, p, x, scale, sums)
	return fit{parts: p, x: x, cost: now, scale: scale, sums: sums}
}

// normal returns the weighted normal equations: J'J and J'r.
func normal(tones []weighed, p parts, list []part, x [partCount]float64, scale float64) (*mat.SymDense, []float64) {
	a, b := mat.NewSymDense(len(list), nil), make([]float64, len(list))
	var d [partCount][2]complex128
	for i := range tones {
		r := tones[i].residuals(&x, p, &d)
		w := 1 / (1 + (norm(r[0])+norm(r[1]))/scale/badTone) / scale
		for j, pj := range list {
			b[j] += w * (dot(d[pj][0], r[0]) + dot(d[pj][1], r[1]))
			for k, pk := range list[:j+1] {
				a.SetSym(j, k, a.At(j, k)+w*(dot(d[pj][0], d[pk][0])+dot(d[pj][1], d[pk][1])))
			}
		}
	}
	return a, b
}

// step solves (A + damp*diag(A)) s = b and returns x-s; it tells false where there is no such step.
func step(a *mat.SymDense, b []float64, list []part, x [partCount]float64, damp float64) ([partCount]float64, bool) {
	n := len(list)
	unit, s := units(a), mat.NewVecDense(n, nil)
	m, rhs := scaled(a, unit), mat.NewVecDense(n, nil)
	for j := range n {
		m.SetSym(j, j, 1+damp)
		rhs.SetVec(j, b[j]/unit[j])
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) || chol.SolveVecTo(s, rhs) != nil {
		return x, false
	}
	for j, p := range list {
		x[p] -= s.AtVec(j) / unit[j]
		switch p {
		case partL:
			x[p] = min(max(x[p], math.Log(1e-7)), math.Log(10))
		case partRc:
			// Noise may make it a little negative; held at 0 its mean would be too large.
		case partM:
			x[p] = min(max(x[p], 0), 1)
		default:
			x[p] = math.Max(0, x[p])
		}
		if math.IsNaN(x[p]) {
			return x, false
		}
	}
	return x, true
}

// deviations sets the standard deviations and covariances, from the inverse of the normal equations. A value that changes nothing
// where the others are is left out of them; its own is infinite, and so are all where there is no inverse.
func (f *fit) deviations(tones []weighed) {
	list := f.parts.list()
	for _, p := range list {
		f.sd[p] = math.Inf(1)
	}
	if len(list) == 0 {
		return
	}
	a, _ := normal(tones, f.parts, list, f.x, f.scale)
	for j := len(list) - 1; j >= 0; j-- {
		if a.At(j, j) == 0 {
			list = slices.Delete(list, j, j+1)
		}
	}
	if len(list) == 0 {
		return
	}
	a, _ = normal(tones, f.parts, list, f.x, f.scale)
	if m := slices.Index(list, partM); m >= 0 {
		// It lies in 0..1 whatever was heard: variance 1/12.
		a.SetSym(m, m, a.At(m, m)+12)
	}
	unit := units(a)
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !chol.Factorize(scaled(a, unit)) || chol.InverseTo(&inverse) != nil {
		return
	}
	for j, p := range list {
		f.sd[p] = math.Sqrt(inverse.At(j, j)) / unit[j]
		for k, pk := range list {
			f.cov[p][pk] = inverse.At(j, k) / (unit[j] * unit[k])
		}
	}
}

// units returns the square roots of the diagonal, 1 where it is 0, and scaled divides by them: values differ by a factor of 1e10.
func units(a *mat.SymDense) []float64 {
	u := make([]float64, a.SymmetricDim())
	for j := range u {
		if u[j] = math.Sqrt(a.At(j, j)); !(u[j] > 0) {
			u[j] = 1
		}
	}
	return u
}

func scaled(a *mat.SymDense, unit []float64) *mat.SymDense {
	m := mat.NewSymDense(len(unit), nil)
	for j := range unit {
		for k := range j + 1 {
			m.SetSym(j, k, a.At(j, k)/(unit[j]*unit[k]))
		}
	}
	return m
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

func dot(a, b complex128) float64 { return real(a)*real(b) + imag(a)*imag(b) }
