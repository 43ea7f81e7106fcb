package timing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// driftLevel is the probability that a series that does not drift is said to.
const driftLevel = 0.01

// leastToDrift is the number of passes from which on a drift can be seen.
const leastToDrift = 4

// drift says whether the passes of a series wander one way, more than chance: the slope of a straight line through them in
// their order, by Student's t with n-2 degrees of freedom. Then something creeps, and the mean is not that of one setting.
func drift(own series, late float64, d Dial) []Caveat {
	n := own.n()
	if n < leastToDrift {
		return nil
	}
	y := own.values(late)
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	start, slope := stat.LinearRegression(x, y, nil, false)
	var rest, spread float64
	for i := range x {
		r := y[i] - start - slope*x[i]
		rest += r * r
		off := x[i] - float64(n-1)/2
		spread += off * off
	}
	// Readings that are all on one line still are so only to a graduation.
	q := float64(d.Graduation)
	df := float64(n - 2)
	sd := math.Sqrt((rest/df + q*q/24) / spread)
	if math.Abs(slope) <= student(df).Quantile(1-driftLevel/2)*sd {
		return nil
	}
	way := "earlier"
	if slope < 0 {
		way = "later"
	}
	return []Caveat{{"drift", fmt.Sprintf(
		"from pass to pass the points open %.3f mm %s, more than chance: something creeps (the plate's screws, the dial's holder, the cam on its taper); find it and measure again",
		math.Abs(slope)/d.Ratio(), way)}}
}
