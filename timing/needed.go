package timing

// MostPasses is how many passes a series is thought to have at most.
const MostPasses = 50

// Needed returns how many more passes would settle the verdict, should their mean and their scatter stay what they are: 0
// when it is settled. ok is false when no number of passes would (up to 50 in all), because the rest of the uncertainty is
// too large for this tolerance, or the error too near an end of it; and when nothing was measured.
func (s Setup) Needed(r Result) (more int, ok bool) {
	if r.Verdict != CannotTell {
		return 0, true
	}
	settled := func(more int) bool {
		n := r.Error.N + more
		e := newEstimate(r.Error.Value, r.evidence.budget(s.Dial, n, r.evidence.df+float64(more)), n)
		return Decide(e, s.Target.Low, s.Target.High) != CannotTell
	}
	low, high := 0, MostPasses-r.Error.N // more of them would not settle it; would
	if !r.Error.Known() || high < 1 || !settled(high) {
		return 0, false
	}
	for high-low > 1 {
		if middle := (low + high) / 2; settled(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high, true
}
