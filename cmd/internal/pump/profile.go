package pump

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"time"

	"breakcue/detect"
)

const (
	profileTone = 0.01                    // by which the tone may be another one: the condenser passes that as it did
	profileHum  = 1300 * time.Millisecond // of sound in which hum is looked for: the profile's was another day's
	// profileSilent is a noise of less than any sound card has, without which open points are exact zeros [full scale].
	profileSilent = 1e-8
	// profileMost is the ratio by which a level may be off before it is one of another gain: a knob is turned further.
	profileMost = 1.4
	// profileCalm is two periods of the mains. What is beside the tone in it may have so many times the power of the noise, and so much of
	// the square of the step.
	profileCalm  = 40 * time.Millisecond
	profileNoise = 4.0
	profileStray = 0.05
	// profileNear is the part of the distance of the states by which the levels of an edge may be off those given to prove them.
	profileNear = 0.15
	// profileLeast is the part of the louder level that contacts of some ohms may leave: what is less is not taken for another gain.
	profileLeast = 0.08
)

// given is what a Follower makes of the levels that it was given.
type given struct {
	cfg     detect.Config // to start with
	waiting bool          // the tone does not yet stand at its level
	used    bool          // these levels are gone by
	why     string        // why they are not
	hum     int64         // frame at which hum is to be looked for; 0: no more
	hummed  bool          // there is too much beside the tone: hum is looked for first
	det     *detect.Detector
	off     int64 // frame up to which the cable was off last
	heard   int64 // frame up to which a survey has heard what shows nothing
	proven  bool  // an edge between these levels was heard, or others have learnt the same
}

// readProfile makes the Config of the Profile in the options, or says why it cannot be used.
func (l *Follower) readProfile() {
	p := l.opt.Profile
	if p == nil {
		return
	}
	k := &l.given
	channel := l.opt.Channel
	if l.format.Channels == 1 {
		channel = 1
	}
	cfg := detect.Config{SampleRate: l.format.SampleRate, Channels: l.format.Channels, Channel: channel - 1, Wiring: l.opt.Wiring,
		Profile: *p, Hold: l.opt.Hold}
	cfg.Profile.Tone, cfg.Profile.Hum, cfg.Profile.Off = l.opt.Tone, detect.Hum{}, slices.Clone(p.Off)
	cfg.ZeroIsOpen = p.Noise < profileSilent && math.Min(cmplx.Abs(p.Closed), cmplx.Abs(p.Open)) < profileSilent
	switch err := cfg.Validate(); {
	case math.Abs(p.Tone-l.opt.Tone) > profileTone*l.opt.Tone:
		k.why = fmt.Sprintf("the levels were measured with a tone of %.0f Hz, and this one is of %.0f Hz", p.Tone, l.opt.Tone)
	case channel == 0:
		k.why = "the levels are of one input channel, and it was not said of which"
	case err != nil:
		k.why = "the levels are none: " + err.Error()
	case wrongWay(cfg):
		k.why = fmt.Sprintf("the levels are the wrong way round for a cable %s", map[detect.Wiring]string{detect.Series: "in line", detect.Shunt: "across"}[cfg.Wiring])
	default:
		k.cfg, k.waiting, k.used = cfg, true, true
	}
}

// wrongWay tells that the state that must be the louder one in this wiring clearly is not.
func wrongWay(cfg detect.Config) bool {
	loud, quiet := cmplx.Abs(cfg.Profile.Closed), cmplx.Abs(cfg.Profile.Open)
	if cfg.Wiring == detect.Shunt {
		loud, quiet = quiet, loud
	}
	return quiet > profileMost*loud
}

// untilStart returns how many frames may be heard before startKnown is to be asked again.
func (l *Follower) untilStart() int64 {
	if at := l.starts(); l.given.waiting && l.past.end < at {
		return at - l.past.end
	}
	return math.MaxInt64
}

// starts returns the frame at which a Detector may begin with the levels given.
func (l *Follower) starts() int64 {
	if l.given.hummed {
		return l.opt.Begin + frames(l.format, profileHum)
	}
	return l.opt.Begin + frames(l.format, profileCalm)
}

// startKnown lets a Detector hear the sound with the levels given, when enough of it has come to tell that it holds nothing that would be taken
// for the points: hum as loud as the step between the levels. That is taken off first, which takes a second of sound.
func (l *Follower) startKnown(dst []detect.Event) []detect.Event {
	k := &l.given
	if l.past.end < l.starts() {
		return dst
	}
	from := max(l.opt.Begin, l.past.from())
	if !k.hummed && !l.calm(from) {
		k.hummed = true
		return dst
	}
	if k.hum = from + frames(l.format, profileHum); k.hummed {
		k.cfg, k.hum = l.withHum(k.cfg, from), 0
	}
	k.waiting = false
	d, events, err := l.again(k.cfg, from)
	if err != nil { // Validate has said that there is none
		k.used, k.why = false, err.Error()
		return dst
	}
	l.times++
	l.det, l.base, l.names, k.det = d, from, names{}, d
	l.known, l.idle, l.reason = l.past.end-1, l.past.end, nil
	l.prove(events)
	l.audit = newAudit(l.format, k.cfg, l.past.end)
	l.placeInStream(events)
	return append(dst, events...)
}

// calm tells that the sound from a frame on holds not much more than a tone that stands still and the noise.
func (l *Follower) calm(from int64) bool {
	p := l.given.cfg.Profile
	var sum float64
	n := 0
	in := newLockin(l.format, l.opt.Tone, l.given.cfg.Channel, int(l.past.end-from))
	var level complex128
	l.past.each(from, func(b []float32) {
		in.add(b, func(z complex128) { level = z })
		for i := in.channel; i < len(b); i += in.channels {
			x := float64(b[i]) - p.Offset
			sum += x * x
			n++
		}
	})
	step := cmplx.Abs(p.Closed) - cmplx.Abs(p.Open)
	if p.PhaseKnown {
		step = cmplx.Abs(p.Closed - p.Open)
	}
	rest := sum/float64(n) - (real(level)*real(level)+imag(level)*imag(level))/2
	return rest < profileNoise*p.Noise*p.Noise+profileStray*step*step
}

// withHum returns cfg with the hum in the sound from a frame on.
func (l *Follower) withHum(cfg detect.Config, from int64) detect.Config {
	s, err := l.newSurvey(cfg.Channel + 1)
	if err != nil {
		return cfg
	}
	l.past.each(from, s.Write)
	p := cfg.Profile
	found := detect.Findings{Channel: cfg.Channel, Tone: l.opt.Tone, High: math.Max(cmplx.Abs(p.Closed), cmplx.Abs(p.Open)), Noise: p.Noise}
	cfg = s.AddHum(cfg, found)
	cfg.Profile.Tone = l.opt.Tone
	return cfg
}

// seekHum looks once, when the levels given have been gone by for a while, for hum that they do not tell of. Where there is some, a Detector
// that takes it off goes on from here.
func (l *Follower) seekHum() {
	k := &l.given
	if k.hum == 0 || l.past.end < k.hum || l.past.end < l.last+frames(l.format, time.Second/2+2*l.opt.Hold) {
		return
	}
	from := max(l.opt.Begin, l.past.end-frames(l.format, profileHum), l.past.from())
	k.hum = 0
	cfg := l.withHum(l.det.Config(), from)
	if cfg.Profile.Hum.Freq == 0 {
		return
	}
	d, _, err := l.again(cfg, from)
	if err != nil {
		return
	}
	if s, _ := d.State(); s != l.State() {
		return
	}
	l.times++
	l.det, l.base, l.names, k.det = d, from, names{}, d
	l.known = l.past.end - 1
}

// onTrial tells that the levels given are gone by, and nothing has shown yet that they are those of the sound.
func (l *Follower) onTrial() bool { return l.det != nil && l.given.det == l.det && !l.given.proven }

// prove looks for an edge, found by a second look, between the very levels that were given.
func (l *Follower) prove(events []detect.Event) {
	k := &l.given
	if !l.onTrial() {
		return
	}
	p := k.cfg.Profile
	apart := cmplx.Abs(p.Closed - p.Open)
	near := func(a, b complex128) bool { return math.Abs(cmplx.Abs(a)-cmplx.Abs(b)) < profileNear*apart }
	for _, e := range events {
		if e.Stage != detect.Placed {
			continue
		}
		if e.Kind == detect.KindOpen && near(e.Before, p.Closed) && near(e.After, p.Open) ||
			e.Kind == detect.KindClose && near(e.Before, p.Open) && near(e.After, p.Closed) {
			k.proven = true
		}
	}
}

// others tells that the levels found by a survey are of another gain than those that were given. Levels that are known, those of a cable that is
// off among them, tell of none, and so do such as contacts of some ohms leave of the louder one.
func (l *Follower) others(found detect.Findings) bool {
	p := l.given.cfg.Profile
	was := math.Max(cmplx.Abs(p.Closed), cmplx.Abs(p.Open))
	if found.High < profileLeast*was || found.High*profileMost > was && found.High < profileMost*was {
		return false
	}
	noise := auditSigmas * p.Noise * math.Sqrt(2*hopsPerSec/float64(l.format.SampleRate))
	known := func(level float64) bool {
		for _, z := range append([]complex128{p.Closed, p.Open}, offLevels(p)...) {
			m := cmplx.Abs(z)
			if math.Abs(level-m) < noise || level < profileMost*m && m < profileMost*level {
				return true
			}
		}
		return false
	}
	return !known(found.High) || !known(found.Low)
}

// offLevels are the levels of a cable that is off.
func offLevels(p detect.Profile) (out []complex128) {
	for _, o := range p.Off {
		out = append(out, o.Level)
	}
	return out
}

// fit notes that the Detector that began with the levels given is in one of their states, and whether at their level.
func (l *Follower) fit() {
	k := &l.given
	if k.det != l.det || l.det == nil {
		return
	}
	k.used, k.why = true, ""
	was, now := k.cfg.Profile, l.det.Now()
	l.sameGain(math.Max(cmplx.Abs(was.Closed), cmplx.Abs(was.Open)), math.Max(now.Closed, now.Open))
}

// sameGain looks whether the louder level is now about what it was.
func (l *Follower) sameGain(was, now float64) {
	if now > was/profileMost && now < was*profileMost {
		return
	}
	l.misfit(fmt.Sprintf("the louder level is %.0f dBFS now, and was %.0f dBFS when it was measured: the gain or the cable is another", DBFS(now), DBFS(was)))
}

// misfit notes that the levels given are not gone by any more.
func (l *Follower) misfit(why string) {
	if k := &l.given; k.used {
		k.used, k.why, k.hum = false, why, 0
	}
}

// learntInstead notes that other levels were learnt: those given fit where these are about the same.
func (l *Follower) learntInstead(cfg detect.Config) {
	if !l.given.used {
		return
	}
	was, is := l.given.cfg.Profile, cfg.Profile
	l.sameGain(math.Max(cmplx.Abs(was.Closed), cmplx.Abs(was.Open)), math.Max(cmplx.Abs(is.Closed), cmplx.Abs(is.Open)))
}

// unfit notes that what is heard has been neither of the levels given for a while.
func (l *Follower) unfit() {
	p := l.given.cfg.Profile
	l.misfit(fmt.Sprintf("what comes back is %.0f dBFS, neither %.0f dBFS (points closed) nor %.0f dBFS (points open): the gain or the cable is another",
		DBFS(l.audit.tally.newest()), DBFS(cmplx.Abs(p.Closed)), DBFS(cmplx.Abs(p.Open))))
}

// ProfileFits tells whether the levels given in FollowOptions.Profile are gone by; if not, why says why, in words; it is empty where none
// were given.
func (l *Follower) ProfileFits() (fits bool, why string) { return l.given.used, l.given.why }
