package pump

import (
	"math"
	"math/cmplx"
	"slices"

	"breakcue/detect"
)

// passing returns the configs with what the points let through when they are open, and so with the level of a lead that is off, where a whole
// reading has told of these too late for what came first. It does so once for each set.
func (a *Analysis) passing(configs []detect.Config, sets []*detect.Detector) (out []detect.Config, news bool) {
	out = slices.Clone(configs)
	for i, d := range sets {
		if ratio, ok := d.Passed(); ok && !a.passes[out[i].Set] {
			a.passes[out[i].Set], news = true, true
			p := &out[i].Profile
			p.Open, p.PhaseKnown, p.Off = p.Closed*ratio, true, []detect.OffLevel{{Cause: detect.CauseLeadOff}}
		}
	}
	return out, news
}

// isOff tells that a level [full scale] is about one of those named at which the cable is off, but for nothing.
func (l *Follower) isOff(level float64) bool {
	for _, o := range l.det.Config().Profile.Off {
		if off := cmplx.Abs(o.Level); off > 0 && math.Abs(level-off) < angleAlike*off {
			return true
		}
	}
	return false
}

// offLevels returns cfg, with levels learnt anew, with the levels given at which the cable is off: these moved as the louder one did.
func (l *Follower) offLevels(cfg detect.Config) detect.Config {
	was, p := l.given.cfg.Profile, &cfg.Profile
	old, loud := was.Closed, p.Closed
	if cmplx.Abs(was.Open) > cmplx.Abs(was.Closed) {
		old, loud = was.Open, p.Open
	}
	if len(was.Off) == 0 || !was.PhaseKnown || !p.PhaseKnown || old == 0 {
		return cfg
	}
	p.Off = nil
	for _, o := range was.Off {
		p.Off = append(p.Off, detect.OffLevel{Level: o.Level / old * loud, Cause: o.Cause})
	}
	return cfg
}

// remarkOff turns the times at which the cable was off into caveats.
func remarkOff(faults map[detect.Cause]int, add func(code, message string)) {
	for _, r := range []struct {
		why        detect.Cause
		one, times string
	}{
		{detect.CauseLeadOff, "a lead was off", "that is no opening, and the points may have opened meanwhile: check the clips"},
		{detect.CausePlugOut, "a plug was out or a lead broken", "nothing was heard of the points meanwhile: check the plugs"},
		{detect.CauseShorted, "the leads touched each other", "nothing was heard of the points meanwhile: check the clips"},
	} {
		if n := faults[r.why]; n > 0 {
			add(string(r.why), r.one+" "+Count(n, "time", "times")+": "+r.times)
		}
	}
}
