package timing

import "fmt"

// Place is a piston position for which people want to know what the dial must show.
type Place uint8

// The places, in the order in which a slow forward turn comes past them.
const (
	Start    Place = iota // where an approach starts
	EarlyEnd              // the early end of the tolerance
	AtMark                // the specified place
	LateEnd               // the late end of the tolerance
	AtTDC                 // top dead centre
)

// String returns "start", "early_end", "mark", "late_end" or "tdc".
func (p Place) String() string {
	return [...]string{"start", "early_end", "mark", "late_end", "tdc"}[min(p, AtTDC)]
}

// Station is what the dial shows at a place.
type Station struct {
	Place    Place
	Angle    Angle  // before top dead centre
	Travel   Length // of the piston, before top dead centre
	Movement Length // of the plunger, from top dead centre
	Reading  Length // on the dial, from its zero, not rounded
	Face     Face
}

// An approach starts so far before the early end of the tolerance that all play is taken up and the hand is steady: 5° of
// crank, or less where the dial does not follow so far, but never below 2° (common practice: 0.05 mm of play at a radius of
// 12 mm on a half-speed cam is 0.5° of crank).
const runUp, leastRunUp Angle = 5, 2

// spare is the movement that a dial keeps in hand at top dead centre (common practice).
const spare Length = 0.2

// DialPlan returns what the dial must show from the start of an approach up to top dead centre, in this order. It is an error
// when the dial cannot follow from 2° of crank before the early end on; it tells how much preload is needed.
func (s Setup) DialPlan() ([]Station, error) {
	early, err := s.angleAt(s.Target.Travel + s.Target.High)
	if err != nil {
		return nil, err
	}
	late, err := s.angleAt(s.Target.Travel + s.Target.Low)
	if err != nil {
		return nil, err
	}
	start := early + runUp
	reach := s.Dial.Reach()
	if s.Dial.Preload == 0 {
		reach = min(reach, s.Dial.Range-spare) // nobody sets a dial so that it comes to its stop at top dead centre
	}
	most, err := s.angleAt(reach / Length(s.Dial.Ratio()))
	if err != nil {
		return nil, err
	}
	least, err := s.leastStart()
	if err != nil {
		return nil, err
	}
	bottom, _ := s.Crank.Limits()
	start = min(max(least, min(start, most)), bottom)
	var plan []Station
	for place, b := range []Angle{start, early, s.Target.Angle, late, 0} {
		st, err := s.station(Place(place), b)
		if err != nil {
			return nil, err
		}
		plan = append(plan, st)
	}
	return plan, nil
}

// leastStart returns the crank angle before top dead centre at which an approach must start at the latest.
func (s Setup) leastStart() (Angle, error) {
	early, err := s.angleAt(s.Target.Travel + s.Target.High)
	bottom, _ := s.Crank.Limits()
	return min(early+leastRunUp, bottom), err
}

// station works out one place.
func (s Setup) station(place Place, b Angle) (Station, error) {
	travel, err := s.Crank.Travel(b)
	if err != nil {
		return Station{}, err
	}
	if place == AtMark {
		travel = s.Target.Travel // as specified, without rounding on its way through the crank
	}
	// What lies at the very end of the dial's movement must not fall out of it by rounding.
	if limit := s.Dial.Reach() / Length(s.Dial.Ratio()); travel > limit && travel < limit+1e-9 {
		travel = limit
	}
	reading, err := s.Dial.Reading(travel, s.Target.Travel)
	if err != nil {
		// The start lies farthest, so it is the one that fails.
		return Station{}, fmt.Errorf("timing: the dial does not follow to the start of an approach: %w", err)
	}
	return Station{
		Place: place, Angle: b, Travel: travel, Movement: travel * Length(s.Dial.Ratio()), Reading: reading, Face: s.Dial.Face(reading),
	}, nil
}
