package detect

import "math"

// summary adds up what was measured while the states stood still.
type summary struct {
	hops  [2]int64
	amp2  [2]float64 // sums of |a|^2 for closed and open
	dist2 float64    // sum of |aC-aO|^2
	dists int64
	noise float64 // sum of sigma^2
	edges int
}

func (m *summary) add(s State, t *tracker, hop int) {
	i := idx(s)
	if t.age < 8 {
		return // still settling
	}
	m.hops[i]++
	m.amp2[i] += mag2(t.level[i])
	m.noise += t.noise2
	if t.phased {
		m.dist2 += mag2(t.level[0] - t.level[1])
		m.dists++
	}
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
	if n := m.hops[0] + m.hops[1]; n > 0 {
		out.Noise = math.Sqrt(m.noise / float64(n))
	}
	out.Distance = math.Abs(out.Closed - out.Open)
	if m.dists > 0 {
		out.Distance = math.Sqrt(m.dist2 / float64(m.dists))
	}
	return out
}
