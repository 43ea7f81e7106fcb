package timing

// Verdict says what a measured error means for a tolerance.
type Verdict uint8

// The verdicts. CannotTell is the zero value.
const (
	CannotTell     Verdict = iota // the uncertainty reaches across an end of the tolerance, or there is one pass only
	InTolerance                   // proven inside
	OutOfTolerance                // proven outside
)

// String returns "in_tolerance", "out" or "cannot_tell".
func (v Verdict) String() string {
	switch v {
	case InTolerance:
		return "in_tolerance"
	case OutOfTolerance:
		return "out"
	}
	return "cannot_tell"
}

// confidence is the one-sided probability behind a verdict.
const confidence = 0.95

// Decide gives the verdict on an error whose tolerance runs from low to high (ISO 14253-1:2017: conformity is proven only
// inside the zone shrunk by a guard band, and non-conformity only outside the zone widened by it; the band is 1.65 u
// for 95 %, from memory; here the one-sided quantile of the estimate's own distribution stands for it, which is Student's
// where the degrees of freedom are few). Fewer than two passes never prove conformity: a second turn might have told otherwise.
func Decide(e Estimate[Length], low, high Length) Verdict {
	if !e.Known() {
		return CannotTell
	}
	guard := e.quantile(confidence)
	switch {
	case e.Value > high+guard || e.Value < low-guard:
		return OutOfTolerance
	case e.N >= 2 && e.Value >= low+guard && e.Value <= high-guard:
		return InTolerance
	}
	return CannotTell
}

// Probability returns the probability that the true error lies between low and high, 0..1 (JCGM 106:2012, 7.2), from
// the estimate's distribution. Ends may be infinite. Without a pass it is 0 and means
// nothing.
func Probability(e Estimate[Length], low, high Length) float64 {
	if !e.Known() {
		return 0
	}
	if e.U == 0 {
		if e.Value >= low && e.Value <= high {
			return 1
		}
		return 0
	}
	return max(0, e.below(high)-e.below(low)) // rounding might make it less
}
