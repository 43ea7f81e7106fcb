package corpus

import (
	"math"
	"math/cmplx"
)

// shapedFinder looks for a step of a known shape at a real-valued instant: on a grid of instants, then at the top of a parabola through the
// best and its neighbours. Four levels are unknown at each: in-phase and quadrature, before and after. The energy explained is
// v'Mv, with v the projections of x on the four functions, and M the inverse of the matrix of these among each other.
type shapedFinder struct {
	t    *trial
	step float64 // of the grid [frames]
	grid []gridPoint
}

// gridPoint is one instant tried.
type gridPoint struct {
	at       float64
	from, to int          // frames of the transition
	basis    [][4]float64 // the functions in it
	inverse  [4][4]float64
}

const (
	// gridReach is how far from the middle instants are tried for a step as strong as the noise [frames]: eight times the error of a sharp
	// one. For stronger ones it is less, as the error is, but at least leastReach.
	gridReach  = 48
	leastReach = 8
	// gridStep is how close they lie, at most [frames], the edges being sharp; slower ones need fewer.
	gridStep = 0.125
)

func newShapedFinder(t *trial, s Step) *shapedFinder {
	shape := s.Shape
	strength := cmplx.Abs(1-s.Left) * math.Pow(10, s.SNR/20)
	reach := math.Ceil(math.Max(leastReach, math.Min(gridReach, gridReach/strength)))
	f := &shapedFinder{t: t, step: math.Max(gridStep, math.Min(1, shape.reach/256))}
	n := len(t.x)
	for d := -reach; d <= reach; d += f.step {
		g := gridPoint{at: float64(n/2) + d}
		g.from = max(0, int(math.Floor(g.at-shape.reach)))
		g.to = min(n, int(math.Ceil(g.at+shape.reach))+1)
		var m [4][4]float64
		for i := range n {
			b := functions(t, shape, g.at, i)
			if i >= g.from && i < g.to {
				g.basis = append(g.basis, b)
			}
			for r := range 4 {
				for c := range 4 {
					m[r][c] += b[r] * b[c]
				}
			}
		}
		g.inverse = inverted(m)
		f.grid = append(f.grid, g)
	}
	return f
}

// functions returns what frame i holds of each unknown: Re and -Im of exp(jwi) times the shares of the levels before and after.
func functions(t *trial, shape *Shape, at float64, i int) [4]float64 {
	tone := complex(t.c[i], t.s[i])
	after := tone * shape.at(float64(i)-at)
	before := tone - after
	return [4]float64{real(before), -imag(before), real(after), -imag(after)}
}

func (f *shapedFinder) instant() float64 {
	best, at := math.Inf(-1), 1
	for i := 1; i < len(f.grid)-1; i++ {
		if e := f.explained(i); e > best {
			best, at = e, i
		}
	}
	lower, higher := f.explained(at-1), f.explained(at+1)
	shift := 0.0
	if bend := lower - 2*best + higher; bend < 0 {
		shift = math.Max(-1, math.Min(1, (lower-higher)/2/bend))
	}
	return f.grid[at].at + shift*f.step
}

func (f *shapedFinder) explained(i int) float64 {
	g, t := &f.grid[i], f.t
	n := len(t.x)
	v := [4]float64{t.xc[g.from], -t.xs[g.from], t.xc[n] - t.xc[g.to], -(t.xs[n] - t.xs[g.to])}
	for j, b := range g.basis {
		x := t.x[g.from+j]
		for r := range v {
			v[r] += b[r] * x
		}
	}
	e := 0.0
	for r := range v {
		for c := range v {
			e += v[r] * g.inverse[r][c] * v[c]
		}
	}
	return e
}

// inverted returns the inverse of a symmetric positive definite matrix, by elimination.
func inverted(m [4][4]float64) (inv [4][4]float64) {
	for i := range inv {
		inv[i][i] = 1
	}
	for i := range m {
		p := m[i][i]
		for c := range m {
			m[i][c] /= p
			inv[i][c] /= p
		}
		for r := range m {
			if q := m[r][i]; r != i {
				for c := range m {
					m[r][c] -= q * m[i][c]
					inv[r][c] -= q * inv[i][c]
				}
			}
		}
	}
	return inv
}
