package leads

import (
	"fmt"
	"math"
	"math/cmplx"

	"breakcue/detect"
)

const (
	driftLevel = 1.5 // [dB]
	driftPart  = 0.1 // of the distance between the states, by which a level must move as well
	driftNoise = 6.0 // [dB]
)

// Now is what a session heard last.
type Now struct {
	Levels detect.Levels
	Hum    *float64 // amplitude of a sine of the same power [full scale]; nil: not known
}

// Drift compares what is heard now with the profile of the check, and says what has moved since: the level of either state, the distance
// between them, noise and hum. Where nothing has, the only finding is "drift_none". Levels of fewer than two edges say nothing.
func Drift(p Profile, now Now) []Finding {
	var list []Finding
	say := func(code string, s Severity, text, do string) { list = append(list, Finding{code, s, text, do}) }
	if now.Levels.Edges < 2 {
		say("drift_unknown", Note, "cannot tell whether the levels have moved since the check of the cable: fewer than two changes of the points were heard", "")
		return list
	}
	closed, open := cmplx.Abs(p.Closed.Value()), cmplx.Abs(p.Open.Value())
	apart := cmplx.Abs(p.Closed.Value() - p.Open.Value())
	level := func(code, what string, was, is float64, do string) {
		db := 20 * math.Log10(math.Max(is, 1e-9)/math.Max(was, 1e-9))
		if math.Abs(db) > driftLevel && math.Abs(is-was) > driftPart*apart {
			say(code, Warn, fmt.Sprintf("%s: %+.1f dB since the check of the cable", what, db), do)
		}
	}
	level("drift_closed", "the level with the points closed has moved", closed, now.Levels.Closed,
		"look at clips, plugs and points, and check the cable again: contacts get dirty, clips slip, knobs are turned")
	level("drift_open", "the level with the points open has moved", open, now.Levels.Open,
		"look at clips and plugs, and whether something else was connected to the points; check the cable again")
	level("drift_distance", "the distance between points closed and open has moved", apart, now.Levels.Distance, "check the cable again")
	if db := 20 * math.Log10(math.Max(now.Levels.Noise, 1e-7)/math.Max(p.Noise, 1e-7)); math.Abs(db) > driftNoise {
		s := Note
		if db > 0 {
			s = Warn
		}
		say("drift_noise", s, fmt.Sprintf("the noise has moved: %+.0f dB since the check of the cable", db), "look at clips and plugs where it has risen")
	}
	if now.Hum != nil {
		was, is := p.Hum.Level, *now.Hum
		if db := 20 * math.Log10(math.Max(is, 1e-7)/math.Max(was, 1e-7)); db > driftNoise && is > driftPart*apart {
			say("drift_hum", Warn, fmt.Sprintf("the hum has risen by %.0f dB since the check of the cable", db), "keep the cable away from mains leads")
		}
	}
	if len(list) == 0 {
		say("drift_none", OK, "levels and noise are as they were at the check of the cable", "")
	}
	return list
}
