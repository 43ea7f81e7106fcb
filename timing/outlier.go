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
	n := float64(own.n())
	mean := stat.Mean(y, nil)
	squares := (n - 1) * stat.Variance(y, nil)
	rest := series{passes: own.passes[1:], reading: own.reading} // of which only how many they are is asked
	level := quantiles{p: 1 - outlierLevel/(2*n)}
	for i, p := range own.passes {
		// Mean and variance of the others come from those of all, so that many passes do not take their square in time.
		off := y[i] - mean
		far := off * n / (n - 1)
		rest.variance = max(0, squares-off*far) / (n - 2)
		sd, df := pooled(rest, without(all, at, rest), e.kappa, 0)
		if math.Abs(far) > level.student(df)*sd*math.Sqrt(1+1/(n-1)) {
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

// quantiles are those of Student's distributions at one probability; the last is kept, because the next is mostly the same.
type quantiles struct{ p, df, x float64 }

func (q *quantiles) student(df float64) float64 {
	if q.df != df {
		q.df, q.x = df, student(df).Quantile(q.p)
	}
	return q.x
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
