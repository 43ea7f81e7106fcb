package timing

import (
	"fmt"
	"math"
)

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

// GapShift is what a gap that was changed did to the timing. The figures are those of Coverage: from as little to as much as the
// feelers and the common practice of GapEffect allow.
type GapShift struct {
	Change Length `json:"change_mm"` // by which the gap became wider; negative: narrower
	// Crank and Travel are how much earlier the points open by it, at least and at most; negative is later.
	Crank  [2]Angle  `json:"crank_deg"`
	Travel [2]Length `json:"travel_mm"`
}

// A gap is known from feelers to 0.02 mm either way (common practice: no published source): anything within is as likely. The error of
// the difference of two such has the density of a triangle, of which Coverage lies within the ends times 1 - sqrt(1 - Coverage).
const feelerLimit Length = 0.02

// FeelersApart is how far two gaps must differ before feelers tell that they do, with Coverage.
func FeelersApart() Length { return 2 * feelerLimit * Length(1-math.Sqrt(1-Coverage)) }

// GapShift works out what a gap that was found wider or narrower than it was left did to the timing at a mark. It is an error when a
// gap is not finite, when the crank is not known or cannot reach so far, and when the points would not open before top dead centre.
func (b Breaker) GapShift(c Crank, mark Angle, found, left Length) (GapShift, error) {
	for _, gap := range []Length{found, left} {
		if !finite(float64(gap)) {
			return GapShift{}, wrong("gap", mm(gap), "a finite length")
		}
	}
	s := GapShift{Change: left - found}
	at, err := c.Travel(mark)
	if err != nil {
		return GapShift{}, err
	}
	for i, change := range []Length{s.Change - FeelersApart(), s.Change + FeelersApart()} {
		cam := gapCam[0]
		if (change > 0) == (i == 1) { // the end that lies farther from none
			cam = gapCam[1]
		}
		s.Crank[i] = Angle(change/gapChange) * cam / Angle(b.CamRatio)
		if mark+s.Crank[i] < 0 {
			return GapShift{}, wrong("change of the gap", mm(s.Change), "one after which the points still open before top dead centre")
		}
		opens, err := c.Travel(mark + s.Crank[i])
		if err != nil {
			return GapShift{}, err
		}
		s.Travel[i] = opens - at
	}
	return s, nil
}

// Words say what the shift is: "opens the points about 0.8° to 5.9° of crank later (0.09 to 0.57 mm of travel)".
func (s GapShift) Words() string {
	degrees := func(x float64) string { return degreesWords(Angle(x)) }
	length := func(x float64) string { return lengthWords(Length(x)) }
	lo, hi := float64(s.Crank[0]), float64(s.Crank[1])
	from, to := float64(s.Travel[0]), float64(s.Travel[1])
	switch {
	case lo >= 0:
		return fmt.Sprintf("opens the points about %s of crank earlier (%s of travel)", rangeWords(lo, hi, degrees), rangeWords(from, to, length))
	case hi <= 0:
		return fmt.Sprintf("opens the points about %s of crank later (%s of travel)", rangeWords(lo, hi, degrees), rangeWords(from, to, length))
	}
	return fmt.Sprintf("moves the timing by less than the feelers can tell, between about %s of crank later and %s earlier (%s and %s of travel)",
		degrees(lo), degrees(hi), length(from), length(to))
}
