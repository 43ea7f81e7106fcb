package timing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// outlierLevel is the probability that a series without any outlier has one named: a needless look costs little.
const outlierLevel = 0.05

// outliers says which passes lie too far from the others of their series to be chance: each against the mean of the others,
// by Student's t with the scatter of all others, that of other series and the prior included (an externally studentised
// residual; Bonferroni's bound over the passes). They are named, never dropped: who was at the engine knows best.
func outliers(at int, all []series, e evidence, d Dial) []Caveat {
	own := all[at]
	y := own.values(e.lag.late)
	if own.n() < 2 {
		return nil
	}
	if own.n() == 2 {
		// Of two nobody can say which is wrong; the scatter they would be judged by is the others'.
		sd, df := pooled(series{reading: own.reading}, without(all, at, series{}), e.kappa, 0)
		if far := math.Abs(y[0] - y[1]); far > student(df).Quantile(1-outlierLevel/2)*sd*math.Sqrt2 {
			return []Caveat{{"passes_apart", fmt.Sprintf("the two passes lie %s apart, more than chance; make a third, it will show which of them is wrong",
				travelWords(far, d))}}
		}
		return nil
	}
	var out []Caveat
	for i, p := range own.passes {
		others := append(append([]float64(nil), y[:i]...), y[i+1:]...)
		rest := series{passes: make([]pass, len(others)), reading: own.reading, variance: stat.Variance(others, nil)}
		sd, df := pooled(rest, without(all, at, rest), e.kappa, 0)
		far := y[i] - stat.Mean(others, nil)
		if math.Abs(far) > student(df).Quantile(1-outlierLevel/float64(2*own.n()))*sd*math.Sqrt(1+1/float64(len(others))) {
			way := "earlier"
			if far < 0 {
				way = "later"
			}
			out = append(out, Caveat{"outlier", fmt.Sprintf(
				"pass %s lies %s %s than the mean of the others, more than chance; it still counts: if you know what went wrong, take it out, else make more passes",
				p.name, travelWords(math.Abs(far), d), way)})
		}
	}
	return out
}

// without returns all with the series at an index replaced.
func without(all []series, at int, by series) []series {
	out := append([]series(nil), all...)
	out[at] = by
	return out
}

// travelWords turns plunger movement into travel for people.
func travelWords(movement float64, d Dial) string {
	return fmt.Sprintf("%.2f mm", movement/d.Ratio())
}
