package cue

// dots is a picture in black and white. On the screen a dot is one column wide and half a row high, which makes it about
// square.
type dots struct {
	w, h int
	on   []bool
}

func newDots(w, h int) dots {
	w, h = max(w, 0), max(h, 0)
	return dots{w: w, h: h, on: make([]bool, w*h)}
}

// at tells whether a dot is set; outside nothing is.
func (d dots) at(x, y int) bool {
	return x >= 0 && y >= 0 && x < d.w && y < d.h && d.on[y*d.w+x]
}

func (d dots) set(x, y int, on bool) {
	if x >= 0 && y >= 0 && x < d.w && y < d.h {
		d.on[y*d.w+x] = on
	}
}

// grown is d with each dot kx wide and ky high.
func (d dots) grown(kx, ky int) dots {
	g := newDots(d.w*kx, d.h*ky)
	for y := range g.h {
		for x := range g.w {
			g.set(x, y, d.at(x/kx, y/ky))
		}
	}
	return g
}

// fit grows d as far as it fits into columns and rows of the screen, with dots up to twice as wide as high and the other
// way round; ok is false where not even the smallest fits. Where coarse is set only whole rows are used.
func (d dots) fit(columns, rows int, coarse bool) (g dots, ok bool) {
	if d.w == 0 || d.h == 0 {
		return dots{}, false
	}
	kx, ky := columns/d.w, 2*rows/d.h
	if coarse {
		ky -= ky % 2
	}
	if kx < 1 || ky < 1 {
		return dots{}, false
	}
	kx, ky = min(kx, 2*ky), min(ky, 2*kx)
	return d.grown(kx, ky), true
}

// rows is how many rows of the screen d takes.
func (d dots) rows() int { return (d.h + 1) / 2 }
