package timing

// A reading taken after stopping shows where the hand stood when it had stopped, past the opening. How far is measured
// where the same hand has made brackets too, which hold the opening between their ends; otherwise it is assumed: a visual
// reaction of 0.23 s (Woods et al., Front. Hum. Neurosci. 9:131, 2015) and a tenth of a second more until the hand has
// stopped, give or take a tenth, at a careful hand's creep of 0.2° of crank a second, give or take 0.1° (both common practice).
const (
	stopDelay, stopDelayHalf = 0.23 + 0.1, 0.1 // [s]
	creep, creepHalf         = 0.2, 0.1        // [degrees/s]

	stopLag     Angle = stopDelay * creep
	stopLagHalf Angle = stopDelay*creepHalf + stopDelayHalf*creep
)

// leastToMeasure is how many stops and how many brackets are needed to measure the lag, in series that have both. One of
// each says less than the assumption does.
const leastToMeasure = 2

// lag is how late readings taken after stopping are [mm of plunger movement].
type lag struct {
	late float64
	// measured tells that it was: then its variance is that of single readings over weight. Otherwise it lies anywhere within
	// half to either side of late.
	measured       bool
	weight         float64
	half           float64
	stops, bracket int // that it was measured from
}

// lagOf returns how late stops are in all series of a hand: where it can be measured, the mean of brackets less the mean of
// stops, within each series and over all of them by least squares.
func lagOf(all []series, kappa float64) lag {
	out := lag{late: float64(stopLag) * kappa, half: float64(stopLagHalf) * kappa}
	var sum, weight float64
	var stops, brackets int
	for _, s := range all {
		n := s.stops()
		if n == 0 || n == s.n() {
			continue
		}
		stops, brackets = stops+n, brackets+s.n()-n
		var stop, bracket float64
		for _, p := range s.passes {
			if p.stopped {
				stop += p.at
			} else {
				bracket += p.at
			}
		}
		w := 1 / (1/float64(n) + 1/float64(s.n()-n))
		sum += w * (bracket/float64(s.n()-n) - stop/float64(n))
		weight += w
	}
	if stops < leastToMeasure || brackets < leastToMeasure {
		return out
	}
	return lag{late: sum / weight, measured: true, weight: weight, stops: stops, bracket: brackets}
}
