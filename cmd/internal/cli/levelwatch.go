package cli

import (
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
)

// levelWatch compares the levels as the work goes on with those of the check, or without one with those at first. It looks at each settled
// closing: then the cable is on the points for certain.
type levelWatch struct {
	check  *leads.Profile // that was to be gone by; nil: none
	from   *leads.Profile // the same, once it held
	noted  []detect.Levels
	hums   humMeter
	hum    []float64 // at each of those noted, as far as it was known [full scale]
	tone   float64
	wiring detect.Wiring
	silent bool // nothing is shown
	told   bool // that the check does not hold
	warned bool // that something has moved
}

const (
	watchFirst = 3 // closings whose median counts as the levels at first
	watchLast  = 3 // and as those at the end
	// watchNoise is the noise, as a part of the distance between the states, below which openings are placed as well as without: 30 dB.
	watchNoise = 0.022
)

// closing notes the levels at a closing.
func (w *levelWatch) closing(now detect.Levels) {
	w.noted = append(w.noted, now)
	if hum, ok := w.hums.level(); ok {
		w.hum = append(w.hum, hum)
	}
	if most := 4 * (watchFirst + watchLast); len(w.noted) > most { // the first and the last are what counts
		w.noted = slices.Delete(w.noted, watchFirst, watchFirst+1)
	}
}

// drift says what has moved; nothing where nothing has, or it cannot be told.
func (w *levelWatch) drift() (out []leads.Finding) {
	n := len(w.noted)
	var p leads.Profile
	switch {
	case w.from != nil && n >= 2:
		p = *w.from
	case w.from == nil && n >= watchFirst+watchLast:
		p = w.first()
	default:
		return nil
	}
	now := leads.Now{Levels: median(w.noted[max(0, n-watchLast):])}
	if len(w.hum) > 0 {
		now.Hum = &w.hum[len(w.hum)-1]
	}
	for _, f := range leads.Drift(p, now) {
		if f.Code == "drift_noise" && now.Levels.Noise < watchNoise*now.Levels.Distance {
			continue // more than it was, and still nothing beside the tone
		}
		if f.Severity == leads.Warn || f.Severity == leads.Stop {
			out = append(out, f)
		}
	}
	return out
}

// first is a profile of the levels at first.
func (w *levelWatch) first() leads.Profile {
	l := median(w.noted[:watchFirst])
	p := leads.Profile{Schema: leads.ProfileSchema, SampleRate: 48000, Tone: w.tone, Wiring: leadsWired(w.wiring), Noise: l.Noise}
	if len(w.hum) > 0 {
		p.Hum.Level = w.hum[0]
	}
	p.Closed = leads.Complex{l.Closed, 0}
	// The third side of the triangle tells the angle (law of cosines).
	angle := 0.0
	if l.Closed > 0 && l.Open > 0 {
		angle = math.Acos(min(1, max(-1, (l.Closed*l.Closed+l.Open*l.Open-l.Distance*l.Distance)/(2*l.Closed*l.Open))))
	}
	z := cmplx.Rect(l.Open, angle)
	p.Open = leads.Complex{real(z), imag(z)}
	return p
}

// median is the middle of some levels, one by one.
func median(all []detect.Levels) (out detect.Levels) {
	out.Edges = all[len(all)-1].Edges
	middle := func(of func(detect.Levels) float64) float64 {
		var x []float64
		for _, l := range all {
			x = append(x, of(l))
		}
		slices.Sort(x)
		return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
	}
	out.Closed = middle(func(l detect.Levels) float64 { return l.Closed })
	out.Open = middle(func(l detect.Levels) float64 { return l.Open })
	out.Distance = middle(func(l detect.Levels) float64 { return l.Distance })
	out.Noise = middle(func(l detect.Levels) float64 { return l.Noise })
	return out
}

// driftWords says what has moved, in one sentence; empty: nothing.
func (w *levelWatch) driftWords() string {
	var parts []string
	for _, f := range w.drift() {
		text := f.Text
		if w.from == nil {
			text = strings.ReplaceAll(text, "since the check of the cable", "since the first openings")
		}
		parts = append(parts, text+doWords(f))
	}
	return strings.Join(parts, "; ")
}

// watchLevels begins to look at the levels, and says where they come from.
func (r *liveRun) watchLevels(silent bool) {
	p := &r.flags.levels
	r.watch = levelWatch{tone: r.card.options.Tone.Hz, wiring: r.flags.wired, silent: silent, hums: newHumMeter(r.rate)}
	if p.found != nil {
		r.watch.check = &p.found.Profile
	}
	if p.says == "" {
		return
	}
	r.hear.view.Note = p.says + " " + r.hear.view.Note
	if silent {
		note(r.env, "%s", session.Printable(p.says))
	}
}

// tick says so when the levels of the check turn out not to hold.
func (w *levelWatch) tick(r *liveRun) {
	one, ok := r.follower.(oneSet)
	if w.check == nil || w.told || r.hear.unplugged || !ok {
		return
	}
	steady := one.State(0) == detect.Closed || one.State(0) == detect.Open
	fits, why := one.ProfileFits()
	if fits && steady {
		w.from = w.check
	}
	if fits || why == "" || !steady && one.Times() == 1 {
		return
	}
	w.told = true
	if len(w.noted) < watchFirst { // they never held: what counts is what moves from now on
		w.from, w.check = nil, nil
	}
	text := "the levels of the check do not hold, and are learnt anew: " + why
	if r.hear.view.Note = text; w.silent {
		note(r.env, "%s", session.Printable(text))
	}
	r.hear.refresh()
}

// event looks at the levels once the points have closed.
func (w *levelWatch) event(r *liveRun, e detect.Event) {
	one, ok := r.follower.(oneSet)
	if !ok || e.Kind != detect.KindClose || e.Stage != detect.Settled || r.hear.unplugged || !one.Health(0).Known {
		return
	}
	w.closing(one.Health(0).Levels)
	if text := w.driftWords(); text != "" && !w.warned {
		w.warned = true
		r.hear.view.Note = text
		r.hear.refresh()
	}
}
