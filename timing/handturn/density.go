package handturn

// density is a probability on an even grid: p[i] is the mass of the cell from from+i*dx to from+(i+1)*dx.
type density struct {
	from, dx float64
	p        []float64
}

// cells is how many cells a density has.
const cells = 512

// scale sets the whole mass to 1.
func (d density) scale() {
	sum := 0.0
	for _, p := range d.p {
		sum += p
	}
	for i := range d.p {
		d.p[i] /= sum
	}
}

// below returns the masses below each edge between cells.
func (d density) below() []float64 {
	out := make([]float64, len(d.p)+1)
	for i, p := range d.p {
		out[i+1] = out[i] + p
	}
	return out
}

// plus returns the density of the variable plus one that lies, with equal chances, anywhere in one of the ranges. What
// leaves the grid is lost at its ends.
func (d density) plus(ranges ...[2]float64) density {
	below := d.below()
	n := float64(len(d.p))
	// area is the integral of the cumulative mass up to x, in cells.
	areas := make([]float64, len(below))
	for i := 1; i < len(below); i++ {
		areas[i] = areas[i-1] + (below[i-1]+below[i])/2
	}
	area := func(x float64) float64 {
		switch {
		case x <= 0:
			return 0
		case x >= n:
			return areas[len(areas)-1] + (x-n)*below[len(below)-1]
		}
		i := int(x)
		f := x - float64(i)
		return areas[i] + f*(below[i]+f/2*(below[i+1]-below[i]))
	}
	out := density{d.from, d.dx, make([]float64, len(d.p))}
	for _, r := range ranges {
		lo, hi := min(r[0], r[1])/d.dx, max(r[0], r[1])/d.dx
		if hi-lo < 1e-3 { // a range so narrow is a place
			lo, hi = (lo+hi)/2-5e-4, (lo+hi)/2+5e-4
		}
		cum := func(x float64) float64 { return (area(x-lo) - area(x-hi)) / (hi - lo) }
		last := cum(0)
		for i := range out.p {
			next := cum(float64(i + 1))
			out.p[i] += (next - last) / float64(len(ranges))
			last = next
		}
	}
	return out
}

// central returns the interval that holds the mass given, 0..1, with as much left over at either side.
func (d density) central(mass float64) (lo, hi float64) {
	return d.quantile((1 - mass) / 2), d.quantile((1 + mass) / 2)
}

// quantile returns where the mass below is q, 0..1.
func (d density) quantile(q float64) float64 {
	sum := 0.0
	for i, p := range d.p {
		if sum+p >= q {
			return d.from + d.dx*(float64(i)+(q-sum)/p)
		}
		sum += p
	}
	return d.from + d.dx*float64(len(d.p))
}
