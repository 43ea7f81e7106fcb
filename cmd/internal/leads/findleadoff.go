package leads

import (
	"math"
	"math/cmplx"

	"breakcue/audio"
)

// offPart is how far the levels of open points and of clips apart must be from each other, over the distance of closed and open, for a lead
// that falls off to be told from an opening.
const offPart = 0.1

// findLeadOff says whether a lead that falls off can be told from an opening.
func (k *conclusion) findLeadOff() {
	if !k.has(Apart) {
		return
	}
	if k.leadOff() {
		k.say("lead_off_told", OK, "this cable can tell a lead that falls off from an opening", "")
		return
	}
	why := ": open points sound as clips apart"
	if c := k.r.Connected; k.r.Wiring == InLine && c != nil {
		switch {
		case c.Coil != nil && c.Condenser != nil:
			why += ", the coil with the condenser passes next to nothing of this tone"
		case c.Condenser == nil:
			why += ", no condenser passes the tone"
		}
	}
	k.say("lead_off_not_told", Note, "this cable cannot tell a lead that falls off from an opening"+why,
		"see that the clips hold; an opening counts once the points have closed again")
}

func (k *conclusion) leadOff() bool {
	a, c, o := k.level(Apart, k.tone), k.level(Closed, k.tone), k.level(Open, k.tone)
	u := math.Hypot(k.m[Apart].Tones[k.tone].U, k.m[Open].Tones[k.tone].U)
	d := cmplx.Abs(a - o)
	return d > offPart*cmplx.Abs(c-o) && d > certain*u
}

// profile keeps what listening needs, where there is nothing that forbids to listen.
func (k *conclusion) profile() {
	tone := k.tone
	amplitude := complex(audio.Amplitude(k.opt.Level), 0)
	back := complex(1, 0)
	if k.trip > 0 {
		back = cmplx.Rect(1, 2*math.Pi*math.Mod(k.hz[tone]*k.trip/float64(k.opt.Format.SampleRate), 1))
	}
	at := func(s Step) Complex { return of(k.level(s, tone) * amplitude * back) }
	p := &Profile{Schema: ProfileSchema, SampleRate: k.opt.Format.SampleRate, Tone: k.hz[tone], Output: k.opt.Level, Wiring: k.r.Wiring,
		Closed: at(Closed), Open: at(Open), Connected: k.r.Connected, LeadOff: k.has(Apart) && k.leadOff(), Findings: []string{}}
	for s, to := range map[Step]**Complex{Apart: &p.Apart, Together: &p.Together} {
		if k.has(s) {
			z := at(s)
			*to = &z
		}
	}
	k.each(func(s Step, m *Measure) {
		p.U = math.Max(p.U, m.Tones[tone].U*real(amplitude))
		if s == Closed || s == Open {
			p.Noise = math.Max(p.Noise, m.Noise)
			if m.Hum.Level > p.Hum.Level {
				p.Hum = m.Hum
			}
			p.Offset = m.Offset
		}
	})
	for _, f := range k.r.Findings {
		p.Findings = append(p.Findings, f.Code)
	}
	if p.Validate() == nil {
		k.r.Profile = p
	}
}
