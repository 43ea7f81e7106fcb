package detect

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// humLevels fits the harmonics of base [Hz] by least squares, with the tone's level (f cycles per frame) free in each block of humBlock: the
// tone is projected out of samples and harmonics alike, block by block,
//
//	(H'H - sum H'T (T'T)^-1 T'H) a = H'x - sum H'T (T'T)^-1 T'x
//
// with cos and sin of each harmonic as the columns of H and those of the tone as T. Products of such columns are sums of exp(j w i), known
// in closed form; only H'x and T'x need the samples, which Goertzel's recurrence gives. Harmonics that are not so far apart from the tone [Hz]
// are left out.
func humLevels(x []float32, fs, f, base, apart float64) []complex128 {
	top := int(math.Min(humTop, 0.45*fs) / base)
	var use []int
	for k := 1; k <= top; k++ {
		if math.Abs(float64(k)*base-f*fs) > apart {
			use = append(use, k)
		}
	}
	block := int(humBlock * fs)
	blocks := len(x) / block
	x = x[:blocks*block]
	n := 2 * len(use)
	gram, rhs := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	w := make([]float64, len(use))
	for j, k := range use {
		w[j] = 2 * math.Pi * float64(k) * base / fs
	}
	for j := range use {
		for m := j; m < len(use); m++ {
			cc, cs, sc, ss := columns(w[j], w[m], 0, len(x))
			gram.SetSym(2*j, 2*m, cc)
			gram.SetSym(2*j, 2*m+1, cs)
			gram.SetSym(2*j+1, 2*m+1, ss)
			if m > j {
				gram.SetSym(2*j+1, 2*m, sc)
			}
		}
	}
	for j, z := range goertzel(x, w) {
		rhs.SetVec(2*j, real(z))
		rhs.SetVec(2*j+1, -imag(z))
	}
	wt := 2 * math.Pi * f
	th := mat.NewDense(2, n, nil) // T'H of a block
	both := mat.NewDense(n, n, nil)
	for from := 0; from < len(x); from += block {
		cc, cs, _, ss := columns(wt, wt, from, block)
		det := cc*ss - cs*cs
		if det < 1e-6*cc*ss {
			continue
		}
		for j := range use {
			a, b, c, d := columns(wt, w[j], from, block)
			th.Set(0, 2*j, a)
			th.Set(0, 2*j+1, b)
			th.Set(1, 2*j, c)
			th.Set(1, 2*j+1, d)
		}
		inv := mat.NewDense(2, 2, []float64{ss / det, -cs / det, -cs / det, cc / det})
		var part mat.Dense // (T'T)^-1 T'H
		part.Mul(inv, th)
		both.Mul(th.T(), &part)
		for j := range n {
			for m := j; m < n; m++ {
				gram.SetSym(j, m, gram.At(j, m)-both.At(j, m))
			}
		}
		z := goertzel(x[from:from+block], []float64{wt})[0] * cmplx.Rect(1, -math.Mod(wt*float64(from), 2*math.Pi))
		for j := range n {
			rhs.SetVec(j, rhs.AtVec(j)-part.At(0, j)*real(z)+part.At(1, j)*imag(z))
		}
	}
	var chol mat.Cholesky
	sol := mat.NewVecDense(n, nil)
	if !chol.Factorize(gram) || chol.SolveVecTo(sol, rhs) != nil {
		return nil
	}
	out := make([]complex128, top)
	for j, k := range use {
		out[k-1] = complex(sol.AtVec(2*j), -sol.AtVec(2*j+1))
	}
	return out
}

// columns returns the sums over n frames from the frame given of cos(ui) cos(vi), cos(ui) sin(vi), sin(ui) cos(vi) and sin(ui) sin(vi).
func columns(u, v float64, from, n int) (cc, cs, sc, ss float64) {
	plus, minus := turns(u+v, from, n), turns(u-v, from, n)
	return real(plus+minus) / 2, imag(plus-minus) / 2, imag(plus+minus) / 2, real(minus-plus) / 2
}

// turns returns the sum of exp(j w i) over n frames i from the frame given: exp(j w (from + (n-1)/2)) sin(w n/2) / sin(w/2), n where w is a
// whole number of turns (Dirichlet's kernel).
func turns(w float64, from, n int) complex128 {
	d := math.Sin(w / 2)
	if math.Abs(d) < 1e-12 {
		return complex(float64(n), 0)
	}
	return cmplx.Rect(math.Sin(w*float64(n)/2)/d, math.Mod(w*(float64(from)+float64(n-1)/2), 2*math.Pi))
}

// goertzel returns the sum of x[i] exp(-j w i) for each w (Goertzel, American Mathematical Monthly 65, 1958, from memory): with
// s[i] = x[i] + 2 cos(w) s[i-1] - s[i-2] it is exp(-j w (n-1)) (s[n-1] - exp(-j w) s[n-2]). Samples that are not finite count as 0.
func goertzel[T float32 | float64](x []T, w []float64) []complex128 {
	twice, s1, s2 := make([]float64, len(w)), make([]float64, len(w)), make([]float64, len(w))
	for j := range w {
		twice[j] = 2 * math.Cos(w[j])
	}
	for _, v := range x {
		if v-v != 0 {
			v = 0
		}
		for j, c := range twice {
			s1[j], s2[j] = float64(v)+c*s1[j]-s2[j], s1[j]
		}
	}
	out := make([]complex128, len(w))
	for j := range w {
		out[j] = cmplx.Rect(1, -math.Mod(w[j]*float64(len(x)-1), 2*math.Pi)) * (complex(s1[j], 0) - cmplx.Rect(s2[j], -w[j]))
	}
	return out
}

// hann weights the samples of x with a Hann window that begins and ends half a sample outside of them.
func hann(x []float64) {
	for i := range x {
		x[i] *= 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(x)))
	}
}
