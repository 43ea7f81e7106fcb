package timing

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// series is what the passes of one cylinder in one phase say, in mm of plunger movement from top dead centre.
type series struct {
	passes  []pass
	reading float64 // variance of one reading by itself: width of its bracket and graduation

	// After the stops were corrected (see correct):
	mean     float64
	variance float64 // between passes, with n-1; 0 below two passes
}

// pass is one reading of a series.
type pass struct {
	at      float64 // middle of the bracket, or the one reading [mm of plunger movement]
	stopped bool    // read once, after stopping
	name    string  // for people: `3 ("2.31/2.28")`
}

func (s series) n() int { return len(s.passes) }

// stops returns how many passes were read after stopping.
func (s series) stops() int {
	n := 0
	for _, p := range s.passes {
		if p.stopped {
			n++
		}
	}
	return n
}

// newSeries takes the readings of one series. Readings without a value are left out.
func newSeries(d Dial, mark Length, readings []Reading) (series, error) {
	var s series
	q := float64(d.Graduation)
	for i, r := range readings {
		if r.None {
			continue
		}
		m, err := d.Movement(r.Mid(), mark)
		if err != nil {
			return series{}, err
		}
		s.passes = append(s.passes, pass{at: float64(m), stopped: !r.Bracket, name: r.name(i + 1)})
		// The opening lies anywhere in the bracket: w²/12; each of its ends is read to a graduation, so their middle to q²/24.
		w := float64(r.Width())
		s.reading += w * w / 12
		if r.Bracket {
			s.reading += q * q / 24
		} else {
			s.reading += q * q / 12
		}
	}
	if len(s.passes) > 0 {
		s.reading /= float64(len(s.passes))
	}
	return s, nil
}

// correct moves the readings taken after stopping by how late they are, and works out mean and variance.
func (s *series) correct(late float64) {
	y := s.values(late)
	s.mean, s.variance = 0, 0
	if len(y) > 0 {
		s.mean = stat.Mean(y, nil)
	}
	if len(y) > 1 {
		s.variance = stat.Variance(y, nil)
	}
}

// values returns the passes in their order, those read after stopping corrected.
func (s series) values(late float64) []float64 {
	y := make([]float64, len(s.passes))
	for i, p := range s.passes {
		y[i] = p.at
		if p.stopped {
			y[i] += late
		}
	}
	return y
}

// share returns the part of the passes that were read after stopping, 0..1.
func (s series) share() float64 {
	if len(s.passes) == 0 {
		return 0
	}
	return float64(s.stops()) / float64(len(s.passes))
}

// What is known of a hand and an engine before anything is measured: the scatter of single turns is 0.25° of crank in the
// middle of all engines, half or twice as much in one of three (an assumption, see package handturn). A scaled inverse
// chi-square distribution of the variance with these figures is near to that; it is worth two degrees of freedom. Without
// it an interval from one or two passes would be far too narrow or useless.
const (
	priorDF            = 2
	priorScatter Angle = 0.18
)

// Where the passes plainly say otherwise the prior yields: when their variance, of three degrees of freedom at least, is more
// than four times what was believed, the prior counts less in proportion. Engines that scatter by half a degree would
// otherwise have intervals that are too narrow.
const (
	yieldAbove   = 4
	leastToYield = 3
)

// pooled returns the standard deviation of single readings in the series own, in mm of plunger movement, and its degrees
// of freedom: the prior (kappa: mm of movement for a degree of crank) together with the scatter of all series, own
// included:
//
//	s_P² = [nu0 (sigma0² kappa² + v) + sum nu_g s_g²] / nu_P,   nu_P = nu0 + sum nu_g,   nu_g = n_g - 1
//
// where v is the variance of a reading by itself. The widths of the brackets are in s_g already and are not added again.
// spent is how many degrees of freedom went into measuring how late stops are.
func pooled(own series, all []series, kappa, spent float64) (sd, df float64) {
	sigma := float64(priorScatter) * kappa
	believed, weight := sigma*sigma+own.reading, float64(priorDF)
	var sum, measured float64
	for _, g := range all {
		if g.n() > 1 {
			sum += float64(g.n()-1) * g.variance
			measured += float64(g.n() - 1)
		}
	}
	measured -= spent
	if measured >= leastToYield {
		weight *= min(1, yieldAbove*believed*measured/sum)
	}
	df = weight + measured
	return math.Sqrt((weight*believed + sum) / df), df
}
