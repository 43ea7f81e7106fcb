package timing

// GapEffect is what a change of the points gap does to the timing.
type GapEffect struct {
	Gap    Length `json:"gap_mm"`    // as specified, at full lift
	Change Length `json:"change_mm"` // by which the gap is wider
	// Crank and Travel are how much earlier the points then open, at least and at most; a gap narrower by Change opens them later
	// by about as much.
	Crank  [2]Angle  `json:"crank_deg"`
	Travel [2]Length `json:"travel_mm"`
}

// A gap wider by 0.05 mm lets the points open 1 to 3 degrees of cam earlier (common practice: no published source).
const gapChange Length = 0.05

var gapCam = [2]Angle{1, 3}

// gapEffect works out what the gap does at a mark. It is an error when the crank is not known or cannot reach so far.
func (b Breaker) gapEffect(c Crank, mark Angle) (GapEffect, error) {
	e := GapEffect{Gap: b.Gap, Change: gapChange}
	at, err := c.Travel(mark)
	if err != nil {
		return GapEffect{}, err
	}
	for i, cam := range gapCam {
		e.Crank[i] = cam / Angle(b.CamRatio)
		earlier, err := c.Travel(mark + e.Crank[i])
		if err != nil {
			return GapEffect{}, err
		}
		e.Travel[i] = earlier - at
	}
	return e, nil
}
