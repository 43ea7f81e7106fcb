package cue

// Pictures of the contacts, seen from the side: the arm that moves above, the one that is screwed down below, a point on
// each. They are drawn in a square from (0, 0) at the top left to (1, 1), so that they come out at any size.

// quad is an area with straight sides; its corners go round clockwise.
type quad [4][2]float64

func (q quad) holds(x, y float64) bool {
	for i, a := range q {
		b := q[(i+1)%len(q)]
		if (b[0]-a[0])*(y-a[1])-(b[1]-a[1])*(x-a[0]) < 0 {
			return false
		}
	}
	return true
}

// box is a quad with upright sides.
func box(x0, y0, x1, y1 float64) quad { return quad{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} }

var (
	// lower is the arm that is screwed down, with its point.
	lower = []quad{box(0, 0.87, 0.7, 1), box(0.22, 0.71, 0.48, 0.88)}

	// shut has the point of the upper arm on that of the lower one: there is no light between them.
	shut = append([]quad{
		box(0.08, 0.42, 1, 0.55), // the arm
		box(0.22, 0.54, 0.48, 0.72),
		box(0.86, 0.42, 1, 1), // what it turns on
	}, lower...)

	// apart has the upper arm swung up. The gap is far wider than on any engine, so that light is seen through
	// it from across the shop.
	apart = append([]quad{
		{{0.08, 0}, {1, 0.42}, {1, 0.55}, {0.08, 0.13}},
		box(0.22, 0.12, 0.48, 0.44),
		box(0.86, 0.42, 1, 1),
	}, lower...)

	// cross says that what is heard fits nothing.
	cross = []quad{
		{{0.18, 0}, {0.36, 0}, {0.82, 1}, {0.64, 1}},
		{{0.64, 0}, {0.82, 0}, {0.36, 1}, {0.18, 1}},
	}
)

// picture draws what is known of the points, w dots wide and h high.
func picture(s State, w, h int) dots {
	switch s {
	case Closed:
		return draw(shut, w, h)
	case Open:
		return draw(apart, w, h)
	case Lost:
		return draw(cross, w, h)
	}
	mark, _ := spell("?")
	g := newDots(w, h)
	k := max(1, min(w/mark.w, h/mark.h))
	m := mark.grown(k, k)
	for y := range m.h {
		for x := range m.w {
			g.set(x+(w-m.w)/2, y+(h-m.h)/2, m.at(x, y))
		}
	}
	return g
}

func draw(shapes []quad, w, h int) dots {
	d := newDots(w, h)
	for y := range d.h {
		for x := range d.w {
			for _, q := range shapes {
				if q.holds((float64(x)+0.5)/float64(w), (float64(y)+0.5)/float64(h)) {
					d.set(x, y, true)
				}
			}
		}
	}
	return d
}
