package timing

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Reversal is top dead centre found by the dial alone: the crank is rocked over the top, and the reading is noted at which the
// pointer stands and turns round.
type Reversal struct {
	// Reading is what the dial shows at top dead centre, from its zero [mm of plunger movement, larger = piston lower].
	Reading Estimate[Length]
	// Difference is the mean of the readings turning forwards less that turning backwards; nil unless there are both.
	Difference *Length
	// LeftOpen is how far to either side of top dead centre the pointer seems to stand: the angle that this way leaves open.
	LeftOpen Angle
	// Budget lists what makes Reading uncertain [mm of plunger movement].
	Budget []Component
}

// FindReversal works top dead centre out from the readings at which the pointer turned round, turning forwards and turning
// backwards; one of the lists may be empty. Readings are distances from the dial's zero, as ParseDistance returns them.
//
// With both directions the reading is the middle of the two means, and hysteresis, which moves them apart, drops out; the
// scatter of single readings is pooled with what is known of dials beforehand:
//
//	s² = [nu0 s0² + sum (n_g-1) s_g²] / (nu0 + sum (n_g-1)),   s0² = (q² + r²)/12 + peakScatter²,   nu0 = 4
//	u² = s² (1/n_f + 1/n_b)/4 + (q²/12) exp(-4 pi² (s² - q²/12)/q²)
//
// The last term is what averaging leaves of reading to whole graduations q: all of q²/12 when the readings are all alike,
// nothing when they scatter over several graduations (the variance of the first harmonic of the rounding error). With one
// direction u² = s²/n + h²/12 + the same, h being the dial's hysteresis.
//
// It is an error when there is no reading, or one that is no number or farther from the others than half the dial's range.
func FindReversal(c Crank, d Dial, forwards, backwards []Length) (Reversal, error) {
	if err := c.checkKnown(); err != nil {
		return Reversal{}, err
	}
	if err := d.Validate(); err != nil {
		return Reversal{}, err
	}
	all := slices.Concat(forwards, backwards)
	if len(all) == 0 {
		return Reversal{}, wrong("readings at the reversal", "none", "at least one, better three turning forwards and three turning backwards")
	}
	for _, y := range all {
		if !finite(float64(y)) || math.Abs(float64(y-all[0])) > float64(d.Range)/2 {
			return Reversal{}, wrong("reading at the reversal", d.Format(y), "all within half the dial's range of each other: the pointer turns round at the same place each time")
		}
	}
	var r Reversal
	q, h, rep := float64(d.Graduation), float64(d.Hysteresis), float64(d.Repeatability)
	prior := (q*q+rep*rep)/12 + float64(peakScatter*peakScatter)
	sum, df := tdcPriorDF*prior, float64(tdcPriorDF)
	var mean, share float64 // share: the variance of the mean, over s²
	groups := 0.0
	means := make([]float64, 2)
	for i, group := range [][]Length{forwards, backwards} {
		if len(group) == 0 {
			continue
		}
		y := make([]float64, len(group))
		for j := range group {
			y[j] = float64(group[j])
		}
		means[i] = stat.Mean(y, nil)
		mean += means[i]
		share += 1 / float64(len(y))
		groups++
		if len(y) > 1 {
			sum += float64(len(y)-1) * stat.Variance(y, nil)
			df += float64(len(y) - 1)
		}
	}
	s2 := sum / df
	r.Budget = []Component{
		{Name: "scatter of the readings", U: math.Sqrt(s2*share) / groups, DF: df, Remedy: "more readings, as many forwards as backwards"},
		{Name: "graduation", U: q / math.Sqrt(12) * math.Exp(-2*math.Pi*math.Pi*max(0, s2-q*q/12)/(q*q)), DF: math.Inf(1), Shape: Rectangular,
			Remedy: "reading between the graduations; a dial of finer graduation"},
	}
	if groups == 1 {
		r.Budget = append(r.Budget, Component{Name: "hysteresis, one direction only", U: h / math.Sqrt(12), DF: math.Inf(1), Shape: Rectangular,
			Remedy: "readings turning the other way too"})
	} else {
		diff := Length(means[0] - means[1])
		r.Difference = &diff
	}
	r.Reading = newEstimate(Length(mean/groups), r.Budget, len(all))
	r.Reading.Caveats = r.caveats(d, forwards, backwards, math.Sqrt(s2))
	var err error
	r.LeftOpen, err = c.standstill(d)
	return r, err
}

// standstill returns how far to either side of top dead centre the pointer seems to stand: until it has moved by half a
// graduation, after the hysteresis is taken up.
func (c Crank) standstill(d Dial) (Angle, error) {
	seen := (d.Graduation/2 + d.Hysteresis) / Length(d.Ratio())
	before, err := c.Angle(min(seen, c.TrueStroke()), BTDC)
	if err != nil {
		return 0, err
	}
	after, err := c.Angle(min(seen, c.TrueStroke()), ATDC)
	return max(before, after), err
}

// caveats says what the readings leave open; s is the standard deviation of one.
func (r Reversal) caveats(d Dial, forwards, backwards []Length, s float64) []Caveat {
	var out []Caveat
	switch {
	case len(backwards) == 0:
		out = append(out, Caveat{"one_direction", "all readings were taken turning forwards: rock over the top backwards too, then hysteresis drops out"})
	case len(forwards) == 0:
		out = append(out, Caveat{"one_direction", "all readings were taken turning backwards: rock over the top forwards too, then hysteresis drops out"})
	}
	if len(forwards) < 2 && len(backwards) < 2 {
		out = append(out, Caveat{"no_repeat", "no direction was read twice, so nothing shows how well the readings repeat; take three each way"})
	}
	if r.Difference != nil {
		u := s * math.Sqrt(1/float64(len(forwards))+1/float64(len(backwards)))
		if apart := math.Abs(float64(*r.Difference)); apart > float64(d.Hysteresis)+3*u {
			out = append(out, Caveat{"directions_differ", fmt.Sprintf(
				"forwards and backwards differ by %s, more than the dial's hysteresis of %s explains: look for a loose holder or extension, or a plunger that binds",
				d.Format(Length(apart)), d.Format(d.Hysteresis))})
		}
	}
	for i, group := range [][]Length{forwards, backwards} {
		sorted := slices.Sorted(slices.Values(group))
		if len(sorted) < 3 {
			continue
		}
		mid := sorted[len(sorted)/2]
		for _, y := range group {
			if math.Abs(float64(y-mid)) > max(5*float64(d.Graduation), 8*float64(peakScatter)) {
				out = append(out, Caveat{"outlier", fmt.Sprintf("the reading %s turning %s lies %s from the others; if it was a slip, leave it out and say so",
					d.Format(y), [2]string{"forwards", "backwards"}[i], d.Format(Length(math.Abs(float64(y-mid)))))})
			}
		}
	}
	return out
}
