package detect

import "math"

// summary adds up what was measured while the states stood still.
type summary struct {
	hops [2]int64
	amp2 [2]float64 // sums of |a|^2 for closed and open
	// Sums of sigma^2 and hops: soon after a change, while the offset and the level still settle, and later.
	soon, later struct {
		noise float64
		hops  int64
	}
	dist2 float64 // sum over the edges of |aC-aO|^2
	edges int

	rate    float64 // [frames/s]
	flutter int     // edges that flutter
	last    Kind    // of the newest edge
	repeats int     // edges of the same kind as the one before
	shape   shape
	// Hops in state Closed or Open, and those of them in which the level did not stand still.
	watched, restless int64

	outside int64     // frames in state Unknown or Lost
	before  []float64 // levels of the louder state just before it was left, the newest levelsKept
}

// add takes a quiet hop of state s and the mean square of its residual.
func (m *summary) add(s State, t *tracker, power float64) {
	i := idx(s)
	if t.age < 8 {
		return // still settling
	}
	m.hops[i]++
	m.amp2[i] += mag2(t.level[i])
	n := &m.soon
	if t.age > turnAge {
		n = &m.later
	}
	n.noise += math.Min(power, 4*t.noise2)
	n.hops++
}

// Levels is what a Detector has measured from its start on, averaged over the time in which the states stood still.
type Levels struct {
	Closed, Open float64 // amplitudes [full scale]
	Distance     float64 // |aC-aO| [full scale]
	Noise        float64 // sigma [full scale]
	Edges        int     // settled openings and closings
}

// Levels returns the levels measured up to now. A state that has not been seen has the level of the configuration.
func (d *Detector) Levels() Levels {
	m, p := &d.sum, d.cfg.Profile
	out := Levels{Closed: mag(p.Closed), Open: mag(p.Open), Noise: p.Noise, Edges: m.edges}
	if m.hops[closedIdx] > 0 {
		out.Closed = math.Sqrt(m.amp2[closedIdx] / float64(m.hops[closedIdx]))
	}
	if m.hops[openIdx] > 0 {
		out.Open = math.Sqrt(m.amp2[openIdx] / float64(m.hops[openIdx]))
	}
	switch {
	case m.later.hops > 0:
		out.Noise = math.Sqrt(m.later.noise / float64(m.later.hops))
	case m.soon.hops > 0:
		out.Noise = math.Sqrt(m.soon.noise / float64(m.soon.hops))
	}
	out.Distance = math.Abs(out.Closed - out.Open)
	if m.edges > 0 {
		out.Distance = math.Sqrt(m.dist2 / float64(m.edges))
	}
	return out
}

// Now returns the levels that are followed at this moment, and the noise; Edges as in Levels.
func (d *Detector) Now() Levels {
	t := &d.track
	c, o := t.level[closedIdx], t.level[openIdx]
	out := Levels{Closed: mag(c), Open: mag(o), Noise: math.Sqrt(t.noise2), Edges: d.sum.edges, Distance: math.Abs(mag(c) - mag(o))}
	if t.phased {
		out.Distance = mag(c - o)
	}
	return out
}

// EdgeModel returns the shape of the edges placed up to now.
func (d *Detector) EdgeModel() EdgeModel { return d.sum.shape.model() }
