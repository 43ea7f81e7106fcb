package timing

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// equation is one observation: sum a_j x_j = y, with the variance v that is expected of it.
type equation struct {
	a    []float64
	y, v float64
}

// solution is what least squares make of equations.
type solution struct {
	x []float64
	// residuals are y less what x says, over the standard deviation that was expected.
	residuals []float64
	// scale is the variance found, over that expected; df its degrees of freedom.
	scale, df float64
	// scatter and known are the variances of each unknown that come from the observations and from what was known before.
	scatter, known []float64
}

// squares solves the equations by weighted least squares. before holds the variance with which each unknown is known to be
// near 0 beforehand, +Inf where nothing is known. The scale of all v is estimated from the residuals together with a prior
// of tdcPriorDF degrees of freedom at 1: s² = (nu0 + sum r²/v) / (nu0 + n - p), with p the number of unknowns as far as the
// observations determine them, the trace of the hat matrix. ok is false when the equations do not determine the unknowns.
func squares(eqs []equation, before []float64) (s solution, ok bool) {
	k := len(before)
	known := mat.NewSymDense(k, nil)
	for j, v := range before {
		known.SetSym(j, j, 1/v)
	}
	s = solution{scale: 1, scatter: make([]float64, k), known: make([]float64, k), residuals: make([]float64, len(eqs))}
	var cov mat.SymDense
	var normal *mat.SymDense
	// What is known beforehand is not scaled, so the weights depend on the scale found: a few rounds settle it.
	for range 20 {
		normal = mat.NewSymDense(k, nil)
		right := mat.NewVecDense(k, nil)
		for _, e := range eqs {
			a := mat.NewVecDense(k, e.a)
			normal.SymRankOne(normal, 1/(e.v*s.scale), a)
			right.AddScaledVec(right, e.y/(e.v*s.scale), a)
		}
		var sum mat.SymDense
		sum.AddSym(normal, known)
		var chol mat.Cholesky
		if !chol.Factorize(&sum) || chol.Cond() > 1e14 {
			return solution{}, false
		}
		if chol.InverseTo(&cov) != nil {
			return solution{}, false
		}
		var x mat.VecDense
		x.MulVec(&cov, right)
		s.x = append([]float64(nil), x.RawVector().Data...)
		var chi float64
		for i, e := range eqs {
			r := e.y
			for j, a := range e.a {
				r -= a * s.x[j]
			}
			s.residuals[i] = r / math.Sqrt(e.v)
			chi += r * r / e.v
		}
		var hat mat.Dense
		hat.Mul(&cov, normal)
		s.df = tdcPriorDF + float64(len(eqs)) - mat.Trace(&hat)
		last := s.scale
		s.scale = (tdcPriorDF + chi) / s.df
		if math.Abs(s.scale-last) < 1e-9*last {
			break
		}
	}
	var half, whole mat.Dense
	half.Mul(&cov, normal)
	whole.Mul(&half, &cov)
	for j := range k {
		s.scatter[j] = whole.At(j, j)
		s.known[j] = max(0, cov.At(j, j)-whole.At(j, j))
	}
	return s, true
}
