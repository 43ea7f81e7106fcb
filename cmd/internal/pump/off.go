package pump

import (
	"math/cmplx"
	"slices"

	"breakcue/detect"
)

// passing returns the configs with what the points let through when they are open, where only a whole reading has told of it: a lead that fell
// off before can then be told from an opening. It does so once for each set.
func (a *Analysis) passing(configs []detect.Config, sets []*detect.Detector) (out []detect.Config, news bool) {
	out = slices.Clone(configs)
	for i, d := range sets {
		p := &out[i].Profile
		ratio, ok := d.Passed()
		known := p.PhaseKnown && cmplx.Abs(p.Open/p.Closed-ratio) < angleAlike*cmplx.Abs(ratio)
		if ok && !known && !a.passes[out[i].Set] {
			a.passes[out[i].Set], news = true, true
			p.Open, p.PhaseKnown = p.Closed*ratio, true
		}
	}
	return out, news
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
