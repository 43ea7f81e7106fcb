package handturn

import (
	"math"
	"math/rand/v2"

	"breakcue/timing"
)

const (
	angleHalf   timing.Angle  = 2     // half width of what the sheet says of the plunger's angle
	halfTurnMax timing.Length = 0.009 // what the error may change by in half a turn (JIS B 7503:2011, ranges of 3..10 mm)
)

// gauge is a dial as it really is and as it was zeroed.
type gauge struct {
	timing.Dial               // with the true angles
	mean        timing.Length // plunger movement at the mean true travel
	atMean      timing.Length // its error there
	wave, phase float64       // of the error that goes round with the pointer [mm, rad]
	zero        timing.Length // what it shows too little because of where it was zeroed
}

// sheet draws what the sheet says of the dial, taking its range for 10 mm.
func (s *Setting) sheet(rng *rand.Rand) timing.Dial {
	d := timing.NewDial(10)
	if s.class.Inclined {
		s.crownHalf = timing.Angle(between(rng, 1, 5))
		d.PlungerAngle = timing.Angle(between(rng, 0, 25))
		d.CrownSlope = timing.Angle(between(rng, -10, float64(d.PlungerAngle)))
		d.PlungerAngleU = angleHalf / timing.Angle(math.Sqrt(3))
		d.CrownSlopeU = s.crownHalf / timing.Angle(math.Sqrt(3))
	}
	return d
}

// newGauge draws what is wrong with the dial, and zeroes it.
func (s *Setting) newGauge(rng *rand.Rand) gauge {
	g := gauge{Dial: s.Setup.Dial}
	if s.class.Inclined {
		g.PlungerAngle += timing.Angle(between(rng, -1, 1)) * angleHalf
		g.CrownSlope += timing.Angle(between(rng, -1, 1)) * s.crownHalf
	}
	g.mean = s.Truth * timing.Length(g.Ratio())
	g.atMean = timing.Length(between(rng, -1, 1)) * g.MaxError
	g.wave, g.phase = between(rng, 0, float64(halfTurnMax/2)), between(rng, 0, 2*math.Pi)
	for range 2 { // turning forward and turning back
		g.zero += (timing.Length(between(rng, -0.5, 0.5))*g.Hysteresis + timing.Length(between(rng, -0.5, 0.5))*g.Repeatability) / 2
	}
	g.zero += timing.Length(between(rng, -0.5, 0.5)) * g.Graduation // of the bezel
	return g
}

// read returns what the hand reads while the plunger goes in, y from top dead centre [graduations, a whole number].
func (g gauge) read(rng *rand.Rand, y timing.Length) float64 {
	round := func(y timing.Length) float64 { return g.wave * math.Sin(2*math.Pi*float64(y/g.PerRevolution)+g.phase) }
	wrong := g.atMean + timing.Length(round(y)-round(g.mean))
	wrong = max(-g.MaxError, min(g.MaxError, wrong))
	shown := y + wrong + friction(rng, g.Dial) - g.zero
	return math.Round(float64(max(0, min(g.Range, shown)) / g.Graduation))
}

// friction returns what friction adds to a reading while the plunger goes in: it holds the pointer back by half the
// hysteresis; repeatability, a whole width, is taken as rectangular.
func friction(rng *rand.Rand, d timing.Dial) timing.Length {
	return d.Hysteresis/2 + timing.Length(rng.Float64()-0.5)*d.Repeatability
}
