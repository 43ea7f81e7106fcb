package detect

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// humTwo learns the hum in a second of sound x with two tones, or one, whose levels nobody knows. It goes by blocks of twoBlock, in each of which the
// tones stand at levels of their own, and leaves out the blocks that fit worse than others: there one of the tones changes, and what that
// leaves over, all over the spectrum, would be taken for hum. Each pass fits the harmonics (as humLevels does), sorts the blocks anew, and reads the
// frequency and its slide off the blocks: by how much the hum of each is ahead.
type humTwo struct {
	fs    float64
	tones []float64 // [rad/frame]
	block int
	use   []int // harmonics
	keep  []bool
}

const (
	twoBlock     = 0.020 // [s], in which a harmonic 10 Hz off a tone can still be told from it
	twoPasses    = 5
	besidePasses = 3    // where the frequency is known
	twoLeast     = 0.3  // of the blocks are kept at least,
	twoAlike     = 1.3  // and those in which not much more than in these is left over, as a power
	twoStill     = 1e-3 // [Hz]
	twoSure      = 4.0  // standard deviations of a slide or a swelling that is no chance
)

// newHumTwo takes the tones [Hz].
func newHumTwo(fs float64, tones ...float64) *humTwo {
	f := &humTwo{fs: fs, block: int(twoBlock * fs)}
	for _, hz := range tones {
		f.tones = append(f.tones, 2*math.Pi*hz/fs)
	}
	return f
}

// all keeps all of n blocks.
func (f *humTwo) all(n int) {
	f.keep = make([]bool, n)
	for b := range f.keep {
		f.keep[b] = true
	}
}

// beside returns the harmonics of base [Hz] in x, whose hum is steady, by the blocks in which no tone changes: an edge in a block would leave some of
// the tone over, which a harmonic some Hz beside the tone takes up. nil: none.
func (f *humTwo) beside(x []float32, base float64) (a []complex128) {
	n := len(x) / f.block
	x = x[:n*f.block]
	f.all(n)
	for pass := range besidePasses {
		if a = f.fit(x, base); a == nil || pass == besidePasses-1 {
			break
		}
		was := f.keep
		f.read(x, Hum{Freq: base, Harmonics: a}, &humTrend{})
		if slices.Equal(was, f.keep) {
			break
		}
	}
	return a
}

// still returns x less both tones, and 0 for the blocks that fit worse than others.
func (f *humTwo) still(x []float32) []float32 {
	n := len(x) / f.block
	x = x[:n*f.block]
	out, rest := make([]float32, len(x)), make([]float64, n)
	y := make([]float64, f.block)
	for b := range n {
		from := b * f.block
		for i := range y {
			if y[i] = float64(x[from+i]); y[i]-y[i] != 0 {
				y[i] = 0
			}
		}
		p, ok := f.project(from)
		f.without(y, p, from, ok)
		rest[b] = dot(y, y)
		for i, v := range y {
			out[from+i] = float32(v)
		}
	}
	for b, kept := range f.best(rest) {
		if !kept {
			clear(out[b*f.block : (b+1)*f.block])
		}
	}
	return out
}

// best tells which blocks are to be kept by what was left over in each.
func (f *humTwo) best(rest []float64) []bool {
	keep := make([]bool, len(rest))
	if len(rest) > 0 {
		order := slices.Clone(rest)
		slices.Sort(order)
		for b := range keep {
			keep[b] = rest[b] <= twoAlike*order[int(twoLeast*float64(len(order)-1))]
		}
	}
	return keep
}

// learn returns the hum of about base [Hz] in x, with its phases at the first sample; false where it cannot be fitted.
func (f *humTwo) learn(x []float32, base float64) (h Hum, ok bool) {
	n := len(x) / f.block
	x = x[:n*f.block]
	f.all(n)
	middle := float64(len(x)) / 2 / f.fs
	t := humTrend{freq: base}
	for pass := range twoPasses {
		even := x
		if t.slide != 0 || t.swell != 0 {
			even = t.steady(x, f.fs)
		}
		first := t.freq - t.slide*middle
		a := f.fit(even, first)
		if a == nil {
			return Hum{}, false
		}
		h = Hum{Freq: first, Harmonics: a, slide: t.slide, swell: t.swell / (1 - t.swell*middle)}
		if pass == twoPasses-1 || !f.read(even, h, &t) {
			break
		}
	}
	return h, true
}

// fit returns the harmonics of base [Hz] that explain the blocks that are kept best; nil: none.
func (f *humTwo) fit(x []float32, base float64) []complex128 {
	top := int(math.Min(humTop, 0.45*f.fs) / base)
	f.use = f.use[:0]
	var w []float64
	for k := 1; k <= top; k++ {
		u := 2 * math.Pi * float64(k) * base / f.fs
		near := func(tone float64) bool { return math.Abs(u-tone) <= 2*math.Pi*humNearTone/f.fs }
		if !slices.ContainsFunc(f.tones, near) {
			f.use, w = append(f.use, k), append(w, u)
		}
	}
	n := 2 * len(w)
	gram, rhs := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	th, plus := mat.NewDense(2*len(f.tones), n, nil), make([]complex128, 2*top+1)
	var sum []float64
	for b, kept := range f.keep {
		if !kept {
			continue
		}
		from := b * f.block
		for k := range plus { // products of harmonics have sums and differences of their frequencies
			plus[k] = turns(2*math.Pi*float64(k)*base/f.fs, from, f.block)
		}
		p, ok := f.project(from)
		if !ok {
			continue
		}
		for i, u := range f.tones {
			for j, v := range w {
				cc, cs, sc, ss := columns(u, v, from, f.block)
				th.Set(2*i, 2*j, cc)
				th.Set(2*i, 2*j+1, cs)
				th.Set(2*i+1, 2*j, sc)
				th.Set(2*i+1, 2*j+1, ss)
			}
		}
		var part mat.Dense // (T'T)^-1 T'H
		if p.SolveTo(&part, th) != nil {
			return nil
		}
		g, t, q := gram.RawSymmetric().Data, th.RawMatrix().Data, part.RawMatrix().Data
		for j, kj := range f.use {
			for m, km := range f.use[j:] {
				m += j
				s, d := plus[kj+km], plus[km-kj] // d is of v-u
				g[2*j*n+2*m] += real(s+d) / 2
				g[2*j*n+2*m+1] += imag(s+d) / 2
				g[(2*j+1)*n+2*m+1] += real(d-s) / 2
				if m > j {
					g[(2*j+1)*n+2*m] += imag(s-d) / 2
				}
			}
		}
		for i := range 2 * len(f.tones) {
			row := q[i*n : (i+1)*n]
			for j := range n {
				a := t[i*n+j]
				for m := j; m < n; m++ {
					g[j*n+m] -= a * row[m]
				}
			}
		}
		xt := f.tonesOf(x, from)
		sum = sum[:0]
		for j, z := range goertzel(x[from:from+f.block], w) {
			z *= cmplx.Rect(1, -math.Mod(w[j]*float64(from), 2*math.Pi))
			sum = append(sum, real(z), -imag(z))
		}
		for j := range n {
			v := sum[j]
			for i := range 2 * len(f.tones) {
				v -= q[i*n+j] * xt.AtVec(i)
			}
			rhs.SetVec(j, rhs.AtVec(j)+v)
		}
	}
	var chol mat.Cholesky
	sol := mat.NewVecDense(n, nil)
	if !chol.Factorize(gram) || chol.SolveVecTo(sol, rhs) != nil {
		return nil
	}
	out := make([]complex128, top)
	for j, k := range f.use {
		out[k-1] = complex(sol.AtVec(2*j), -sol.AtVec(2*j+1))
	}
	return out
}

// project returns T'T of the block that begins at a frame, with cos and sin of the tones as the columns of T.
func (f *humTwo) project(from int) (c *mat.Cholesky, ok bool) {
	tt := mat.NewSymDense(2*len(f.tones), nil)
	for i, u := range f.tones {
		for m, v := range f.tones[i:] {
			cc, cs, sc, ss := columns(u, v, from, f.block)
			m += i
			tt.SetSym(2*i, 2*m, cc)
			tt.SetSym(2*i, 2*m+1, cs)
			tt.SetSym(2*i+1, 2*m+1, ss)
			if m > i {
				tt.SetSym(2*i+1, 2*m, sc)
			}
		}
	}
	c = &mat.Cholesky{}
	return c, c.Factorize(tt)
}

// tonesOf returns T'x of the block.
func (f *humTwo) tonesOf(x []float32, from int) *mat.VecDense {
	return tonesIn(x[from:from+f.block], f.tones, from)
}

func tonesIn[T float32 | float64](x []T, w []float64, from int) *mat.VecDense {
	out := mat.NewVecDense(2*len(w), nil)
	for i, z := range goertzel(x, w) {
		z *= cmplx.Rect(1, -math.Mod(w[i]*float64(from), 2*math.Pi))
		out.SetVec(2*i, real(z))
		out.SetVec(2*i+1, -imag(z))
	}
	return out
}

// read sorts the blocks of x by what the hum h and two tones leave over, and puts the trend right by the blocks that are kept. It is false where
// another pass would change nothing worth it.
func (f *humTwo) read(x []float32, h Hum, t *humTrend) (news bool) {
	table := make([]float64, humBins+1)
	h.fill(table)
	n := len(f.keep)
	rest, ahead, size := make([]float64, n), make([]float64, n), make([]float64, n)
	r, hum, slope := make([]float64, f.block), make([]float64, f.block), make([]float64, f.block)
	for b := range n {
		from := b * f.block
		for i := range r {
			_, phase := math.Modf(h.Freq * float64(from+i) / f.fs)
			at := phase * humBins
			k := int(at)
			hum[i] = table[k] + (at-float64(k))*(table[k+1]-table[k])
			slope[i] = (table[k+1] - table[k]) * humBins
			if r[i] = float64(x[from+i]) - hum[i]; r[i]-r[i] != 0 {
				r[i] = 0
			}
		}
		p, ok := f.project(from)
		for _, y := range [][]float64{r, hum, slope} {
			f.without(y, p, from, ok)
		}
		rest[b] = dot(r, r)
		ahead[b] = dot(r, slope) / (dot(slope, slope) + 1e-30)
		size[b] = dot(r, hum) / (dot(hum, hum) + 1e-30)
	}
	was, before := f.keep, *t
	f.keep = f.best(rest)
	freq, slide, sure := f.curve(ahead)
	t.freq += clamp(freq, humReach)
	if bend := t.slide + slide; sure && math.Abs(bend) < humMaxSlide && math.Abs(bend) > humTrendSlide {
		t.slide = bend
	}
	grows, _, _ := f.curve(size)
	if sw := t.swell + grows; math.Abs(grows) > humTrendSwell && math.Abs(sw) < humMaxSwell {
		t.swell = sw
	}
	return !slices.Equal(was, f.keep) || t.slide != before.slide || t.swell != before.swell || math.Abs(freq) > twoStill
}

// without takes the two tones out of a block y.
func (f *humTwo) without(y []float64, p *mat.Cholesky, from int, ok bool) {
	var level mat.VecDense
	if !ok || p.SolveVecTo(&level, tonesIn(y, f.tones, from)) != nil {
		return
	}
	for i, w := range f.tones {
		z := cmplx.Rect(1, math.Mod(w*float64(from), 2*math.Pi)) * complex(level.AtVec(2*i), -level.AtVec(2*i+1))
		turn := cmplx.Rect(1, w)
		for k := range y {
			y[k] -= real(z)
			z *= turn
		}
	}
}

// curve fits a parabola to the values of the blocks kept: its slope in the middle [1/s] and the growth of that [1/s^2]; sure tells that the latter is
// no chance.
func (f *humTwo) curve(y []float64) (slope, bend float64, sure bool) {
	m := mat.NewSymDense(3, nil)
	rhs := mat.NewVecDense(3, nil)
	row := func(b int) [3]float64 {
		s := (float64(b) + 0.5 - float64(len(y))/2) * float64(f.block) / f.fs
		return [3]float64{1, s, s * s / 2}
	}
	count := 0
	for b, kept := range f.keep {
		if kept {
			v := row(b)
			for i := range v {
				for j := i; j < 3; j++ {
					m.SetSym(i, j, m.At(i, j)+v[i]*v[j])
				}
				rhs.SetVec(i, rhs.AtVec(i)+v[i]*y[b])
			}
			count++
		}
	}
	var chol mat.Cholesky
	var u mat.VecDense
	var inv mat.SymDense
	if count < 6 || !chol.Factorize(m) || chol.SolveVecTo(&u, rhs) != nil || chol.InverseTo(&inv) != nil {
		return 0, 0, false
	}
	left := 0.0
	for b, kept := range f.keep {
		if v := row(b); kept {
			e := y[b] - v[0]*u.AtVec(0) - v[1]*u.AtVec(1) - v[2]*u.AtVec(2)
			left += e * e
		}
	}
	sigma := math.Sqrt(left / float64(count-3) * inv.At(2, 2))
	return u.AtVec(1), u.AtVec(2), math.Abs(u.AtVec(2)) > twoSure*sigma
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}
