package timing

// Since returns how much farther before top dead centre the points open in a result of s than they did in one of an earlier
// session. The two are not of one Evaluate: another day, perhaps another hand, and the dial set to zero anew.
// So whatever is in the budget of either counts as independent of the other: scatter, zero, graduation, give, brackets that lie
// alike, and the lag of stops, assumed or measured. (The lag of one hand is alike on both days; then this counts too much of it,
// never too little.)
//
// Only with sameDial, the dial of s in the same hole both times, what it does wrong in both alike falls out, as in Difference: of its limit of
// error only what it may be between two near places is left, and of the angles of plunger and crown only their effect on the
// difference. An unknown result gives an unknown difference.
func (s Setup) Since(now, then Result, sameDial bool) Estimate[Length] {
	if !now.Error.Known() || !then.Error.Known() {
		return Estimate[Length]{}
	}
	parts := both(now, then)
	if sameDial {
		parts = append(both(now, then, limitOfError, plungerAngle, crownSlope), s.Dial.near(now.evidence.own.mean-then.evidence.own.mean)...)
	}
	return newEstimate(now.Travel.Value-then.Travel.Value, parts, min(now.Error.N, then.Error.N))
}
