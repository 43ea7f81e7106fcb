package timing

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// studentT is Student's distribution with df degrees of freedom, which is the normal one for very many.
type studentT struct{ df float64 }

// student returns Student's distribution with df degrees of freedom, more than 0.
func student(df float64) studentT { return studentT{df} }

// mostWhole is the largest whole number of degrees of freedom whose sum is quicker than the library.
const mostWhole = 60

// CDF returns the probability of at most t, which is finite. For a whole number of degrees of freedom, which the passes
// give, it is a finite sum (Abramowitz and Stegun, 26.7.3 and 26.7.4): a verdict asks some hundreds of times, and the
// library takes a microsecond each time.
func (s studentT) CDF(t float64) float64 {
	switch {
	case s.df > manyDF:
		return distuv.UnitNormal.CDF(t)
	case s.df != math.Trunc(s.df) || s.df > mostWhole:
		return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: s.df}.CDF(t)
	}
	// Both series are sums of powers of cos² theta, with tan theta = t/sqrt(nu).
	cos2 := s.df / (s.df + t*t)
	sin := t / math.Sqrt(s.df+t*t)
	term, sum := 1.0, 1.0
	if int(s.df)%2 == 0 {
		for k := 2.0; k < s.df; k += 2 {
			term *= (k - 1) / k * cos2
			sum += term
		}
		return 0.5 + sin*sum/2
	}
	theta := math.Atan(t / math.Sqrt(s.df))
	if s.df == 1 {
		return 0.5 + theta/math.Pi
	}
	for k := 3.0; k < s.df; k += 2 {
		term *= (k - 1) / k * cos2
		sum += term
	}
	return 0.5 + (theta+sin*math.Sqrt(cos2)*sum)/math.Pi
}

// Quantile returns the value below which one lies with probability p, 0 < p < 1.
func (s studentT) Quantile(p float64) float64 {
	if s.df > manyDF {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: s.df}.Quantile(p)
}
