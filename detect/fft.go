package detect

import (
	"math"
	"math/cmplx"
)

// transform is a plan of the discrete Fourier transform of n complex numbers, X[k] = sum x[i] exp(-2 pi i k/n), n a power of two from 4 on.
//
// It is the self-sorting form after Stockham (Cochran et al., "What is the fast Fourier transform?", Proc. IEEE 55 (1967), from memory) in
// steps of four: each step makes four times as many transforms of a quarter of the length, between two arrays. gonum's takes three
// times as long, and most of the time of a survey.
type transform struct {
	n     int
	turns [][3]complex128 // exp(-2 pi i k/n) for 1, 2 and 3 times k, k below n/4
	spare []complex128
}

func newTransform(n int) *transform {
	t := &transform{n: n, turns: make([][3]complex128, n/4), spare: make([]complex128, n)}
	for k := range t.turns {
		for j := range t.turns[k] {
			t.turns[k][j] = cmplx.Rect(1, -2*math.Pi*float64((j+1)*k)/float64(n))
		}
	}
	return t
}

// of transforms x, of length n, in its place.
func (t *transform) of(x []complex128) {
	from, to := x[:t.n], t.spare
	stride, n := 1, t.n // so many transforms, of this length
	for ; n >= 4; stride, n = 4*stride, n/4 {
		m := n / 4 * stride
		for p := 0; p < n/4; p++ {
			w := &t.turns[p*stride]
			a, b, c, d := from[p*stride:][:stride], from[p*stride+m:][:stride], from[p*stride+2*m:][:stride], from[p*stride+3*m:][:stride]
			y := to[4*p*stride:][:4*stride]
			y0, y1, y2, y3 := y[:stride], y[stride:][:stride], y[2*stride:][:stride], y[3*stride:][:stride]
			for q := range a {
				ac, bd := a[q]+c[q], b[q]+d[q]
				less, side := a[q]-c[q], b[q]-d[q]
				side = complex(imag(side), -real(side)) // -i times
				y0[q], y1[q], y2[q], y3[q] = ac+bd, w[0]*(less+side), w[1]*(ac-bd), w[2]*(less-side)
			}
		}
		from, to = to, from
	}
	if n == 2 {
		a, b, y := from[:stride], from[stride:][:stride], to[:2*stride]
		y0, y1 := y[:stride], y[stride:]
		for q := range a {
			y0[q], y1[q] = a[q]+b[q], a[q]-b[q]
		}
		from = to
	}
	copy(x, from)
}
