package detect

import "math"

// accumulator sums the residual e[n] = x[n] - Re(a exp(j w n)) of a hop against the tone:
// the deviation of the true level from a is 2/H * sum e[n] exp(-j w n) (a lock-in of H frames).
//
// Samples that fit neither state (spikes) are summed apart: a few of them are left out, many are a level of their own.
type accumulator struct {
	n              int // frames in all
	weight         int // frames that counted
	e1, ec, es, e2 float64

	wild              int
	w1, wc, ws, wild2 float64
}

// add takes the residual e of a frame; wild when it fits neither state.
func (a *accumulator) add(e float64, at turn, wild bool) {
	a.n++
	if wild {
		a.wild++
		a.w1 += e
		a.wc += e * at.c
		a.ws += e * at.s
		a.wild2 += e * e
		return
	}
	a.weight++
	a.e1 += e
	a.ec += e * at.c
	a.es += e * at.s
	a.e2 += e * e
}

// close ends the hop: it counts the wild samples in when they are more than a quarter.
func (a *accumulator) close() {
	if 4*a.wild > a.n {
		a.weight += a.wild
		a.e1 += a.w1
		a.ec += a.wc
		a.es += a.ws
		a.e2 += a.wild2
	}
}

func (a *accumulator) gap() { a.n++ }

// deviation returns the deviation of the level, in the phase reference of the hop's first frame.
func (a *accumulator) deviation() complex128 {
	if a.weight == 0 {
		return 0
	}
	g := 2 / float64(a.weight)
	return complex(g*a.ec, -g*a.es)
}

// mean returns the mean of the residual.
func (a *accumulator) mean() float64 {
	if a.weight == 0 {
		return 0
	}
	return a.e1 / float64(a.weight)
}

// power returns the mean square of the residual.
func (a *accumulator) power() float64 {
	if a.weight == 0 {
		return 0
	}
	return a.e2 / float64(a.weight)
}

// window4 keeps the deviations of the last four hops.
type window4 struct {
	dev [settleWindow]complex128
	n   int
}

func (w *window4) push(d complex128) {
	copy(w.dev[:], w.dev[1:])
	w.dev[settleWindow-1] = d
	w.n++
}

// halves returns the mean deviation of the later and of the earlier half of the window.
func (w *window4) halves() (late, early complex128) {
	return 0.5 * (w.dev[2] + w.dev[3]), 0.5 * (w.dev[0] + w.dev[1])
}

// ring keeps the newest samples of the channel.
type ring struct {
	buf  []float32
	mask int64
	end  int64 // absolute frame after the newest
	from int64 // oldest absolute frame that may be read
}

func newRing(least int) ring {
	n := 1
	for n < least {
		n *= 2
	}
	return ring{buf: make([]float32, n), mask: int64(n - 1)}
}

func (r *ring) reset(n int64) { r.end, r.from = n, n }

func (r *ring) push(x float32) {
	r.buf[r.end&r.mask] = x
	r.pushed(r.end + 1)
}

// pushed tells that the frames before end have been put in their places.
func (r *ring) pushed(end int64) {
	r.end = end
	r.from = max(r.from, end-int64(len(r.buf)))
}

func (r *ring) at(n int64) float64 { return float64(r.buf[n&r.mask]) }

// mag is |z|. Levels are far from where squares overflow.
func mag(z complex128) float64 { return math.Sqrt(mag2(z)) }
