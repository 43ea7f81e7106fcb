package handturn

import (
	"math"
	"math/rand/v2"

	"breakcue/timing"
)

// What a population's hands do; see Population.
const (
	stepMedian              = 0.03 // [mm of travel]
	stepHands               = 1.6
	stepSingle              = 1.2
	creepLeast              = 0.1 // [degrees/s]
	creepMost               = 0.3
	reaction                = 0.231 // [s]
	perYear                 = 0.00055
	meanAge                 = 40 // [years]
	youngest                = 20
	oldest                  = 70
	reactionSD              = 0.04 // from pass to pass [s]
	stopMost                = 0.2  // [s]
	least      timing.Angle = 1    // no opening is taken nearer to top dead centre: a scatter that gets there is not of this world
)

// turner is a hand of the population.
type turner struct {
	step  float64 // typical, of travel [mm]
	creep float64 // [degrees/s]
	delay float64 // mean, from the break to the crank's standing still [s]
}

func newTurner(rng *rand.Rand) turner {
	return turner{
		step:  stepMedian * math.Pow(stepHands, rng.NormFloat64()),
		creep: between(rng, creepLeast, creepMost),
		delay: reaction + perYear*(between(rng, youngest, oldest)-meanAge) + between(rng, 0, stopMost),
	}
}

// passes makes n passes of an engine that opens at an angle on average, and returns what was typed, as it is understood.
func (s *Setting) passes(rng *rand.Rand, g gauge, h turner, opens timing.Angle, n int) ([]timing.Reading, error) {
	var out []timing.Reading
	for i := range n {
		angle := max(least, opens+s.Sigma*timing.Angle(rng.NormFloat64()))
		var text string
		if s.class.Mode == Stops || s.class.Mode == Both && i%2 == 0 {
			angle = max(least, angle-timing.Angle(h.creep*max(0, h.delay+reactionSD*rng.NormFloat64())))
			at, err := s.Setup.Crank.Travel(angle)
			if err != nil {
				return nil, err
			}
			text = typed(g.Dial, g.read(rng, at*timing.Length(g.Ratio())))
		} else {
			at, err := s.Setup.Crank.Travel(angle)
			if err != nil {
				return nil, err
			}
			step, part := h.step*math.Pow(stepSingle, rng.NormFloat64()), rng.Float64()
			closed := at + timing.Length(step*part)
			open := max(0, closed-timing.Length(step))
			shown := g.read(rng, closed*timing.Length(g.Ratio()))
			// Repeatability may turn a very narrow bracket round; nobody types that.
			text = typed(g.Dial, shown) + "/" + typed(g.Dial, math.Min(shown, g.read(rng, open*timing.Length(g.Ratio()))))
		}
		r, err := s.Setup.ParseReading(text)
		if err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, nil
}
