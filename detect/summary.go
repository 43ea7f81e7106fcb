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
	slide             slide

	opened  int64 // frame of the newest opening
	longest int64 // of the openings that ended [frames]

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
	m.slide.add(i, t, m.rate)
	n := &m.soon
	if t.age > turnAge {
		n = &m.later
	}
	n.noise += math.Min(power, 4*t.noise2)
	n.hops++
}

// slide watches whether the louder level stands still while nothing changes. What swells, wavers or dies away slides all the time.
type slide struct {
	state, age, hops int
	least, most      float64 // levels in the present window
	looked, slid     int     // windows of slideTime, and those in which the level slid
}

const (
	slideTime    = 0.05 // [s]; the first such time after a change does not count: a gain control comes down in it
	slideBy      = 0.06 // of the level (0.5 dB)
	wanderSigmas = 5.0  // and so many standard deviations that noise gives the level that is followed
)

func (s *slide) add(state int, t *tracker, rate float64) {
	if state != s.state || t.age < s.age {
		s.hops = 0
	}
	s.state, s.age = state, t.age
	now := mag(t.level[state])
	window := int(math.Ceil(slideTime * rate / t.hop))
	s.hops++
	switch {
	case now < mag(t.level[1-state]) || s.hops < window:
		return
	case s.hops == window:
		s.least, s.most = now, now
		return
	}
	s.least, s.most = min(s.least, now), max(s.most, now)
	if s.hops < 2*window {
		return
	}
	s.hops = window - 1
	s.looked++
	if sigma := math.Sqrt(t.noise2 / t.hop * t.followGain); s.most-s.least > slideBy*now+wanderSigmas*sigma {
		s.slid++
	}
}

// Levels is what a Detector has measured from its start on, averaged over the time in which the states stood still.
type Levels struct {
	Closed, Open float64 // amplitudes [full scale]
	Distance     float64 // |aC-aO| [full scale]
	Noise        float64 // sigma [full scale]
	Edges        int     // settled openings and closings
	// Repeats counts the edges that followed one of their own kind: one between them was missed, or one of them is none.
	Repeats int
	// Undone counts the changes that a second look took back, spikes left out.
	Undone int
}

// Levels returns the levels measured up to now. A state that has not been seen has the level of the configuration.
func (d *Detector) Levels() Levels {
	m, p := &d.sum, d.cfg.Profile
	out := Levels{Closed: mag(p.Closed), Open: mag(p.Open), Noise: p.Noise, Edges: m.edges, Repeats: m.repeats, Undone: d.contacts.undone}
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
	if r := d.cable.passed; d.cable.learnt && r != 0 { // chatter leaves any level as that of open points
		out.Open, out.Distance = out.Closed*mag(r), out.Closed*mag(1-r)
	}
	return out
}

// EdgeModel returns the shape of the edges placed up to now.
func (d *Detector) EdgeModel() EdgeModel { return d.sum.shape.model() }
