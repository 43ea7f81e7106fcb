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
}

// Known tells whether anything was measured.
func (e Estimate[T]) Known() bool { return e.N > 0 }
