package timing

// Caveat is something that whoever uses a result must know: a code for programs, a message for people that says what to
// do next.
type Caveat struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// Estimate is a measured value with what is known of its uncertainty, in the unit of T.
type Estimate[T ~float64] struct {
	Value T
	// U is the standard uncertainty.
	U T
	// Interval holds the true value with probability Coverage.
	Interval [2]T
	Coverage float64
	// DF is the number of effective degrees of freedom behind U, +Inf where U is taken as known.
	DF float64
	// N is the number of passes behind the estimate. With 0 nothing was measured: all the figures are 0 and mean nothing.
	N       int
	Caveats []Caveat

	errors Distribution // of Value; where there is none, Student's of U and DF
}

// newEstimate returns a value from n passes with the errors given, which are in its unit and independent.
func newEstimate[T ~float64](value T, parts []Component, n int) Estimate[T] {
	u, df := Combine(parts)
	e := Estimate[T]{Value: value, U: T(u), Coverage: Coverage, DF: df, N: n, errors: Sum(parts)}
	half := T(e.errors.Quantile((1 + Coverage) / 2))
	e.Interval = [2]T{value - half, value + half}
	return e
}

// Known tells whether anything was measured.
func (e Estimate[T]) Known() bool { return e.N > 0 }

// less returns the estimate of how far the value lies above what is known.
func (e Estimate[T]) less(known T) Estimate[T] {
	e.Value -= known
	e.Interval[0] -= known
	e.Interval[1] -= known
	return e
}

// quantile returns the error of the value below which it lies with probability p, 0 < p < 1.
func (e Estimate[T]) quantile(p float64) T {
	if e.errors.u > 0 {
		return T(e.errors.Quantile(p))
	}
	return T(student(e.DF).Quantile(p)) * e.U
}

// below returns the probability that the true value lies below end, which may be infinite; U is above 0.
func (e Estimate[T]) below(end T) float64 {
	x := float64(end - e.Value)
	if e.errors.u > 0 {
		return e.errors.CDF(x)
	}
	return Sum([]Component{{U: float64(e.U), DF: e.DF}}).CDF(x)
}
