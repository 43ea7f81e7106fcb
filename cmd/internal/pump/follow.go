package pump

import (
	"errors"
	"math"
	"math/cmplx"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// FollowOptions are what is known of live sound. The tone is: it is our own.
type FollowOptions struct {
	Tone    float64 // [Hz]
	Channel int     // from 1; 0: the one in which the tone comes back
	Wiring  detect.Wiring
	Hold    time.Duration // 0: detect.DefaultHold
	// Begin is the frame from which on the tone stands at its level.
	Begin int64
	// Profile holds the levels of this cable on these points, measured before with this tone and gain; nil: they are learnt from the
	// sound. With it the state is shown from the first moment, and the first opening decided at once. Channel must be given where there
	// are several. Levels that do not fit are dropped, and others learnt: see ProfileFits.
	Profile *detect.Profile
}

const (
	learnEvery = 50 * time.Millisecond  // how often the survey is asked
	learnPast  = 12 * time.Second       // of sound that can be listened to again
	learnRound = 25 * time.Second       // of sound after which a survey begins anew: what lies further back says little
	learnOver  = 5 * time.Second        // of sound that the new survey takes over
	afterEvent = 30 * time.Millisecond  // from an event on that is out already, when sound is listened to again
	patience   = 100 * time.Millisecond // with a Detector in no state, before new levels are looked for
	waitLeast  = 200 * time.Millisecond // after levels that were none, doubled each time up to waitMost
	waitMost   = 3200 * time.Millisecond

	faintTone = 3.0 // [dB] between the two levels below which one step is not enough to believe in them: a gain knob does as much
	mostNone  = 8   // changes that turn out to be none in a second; more, and the levels are wrong
	// Parting points chatter for less than a second. What goes back and forth longRestless times a second for so many seconds on end is
	// no contact.
	longRestless = 25
	mostRestless = 3
)

// Follower does for live sound what two readings do for a recording. It listens for the two levels of the contacts in a
// bounded stretch of the recent past; when it has found them, it lets a Detector hear that stretch again, so that the first
// opening is not lost, and go on from there. Where the sound fits neither level any more it listens for new ones. Same
// input, same events, however the sound is cut into blocks.
type Follower struct {
	format audio.Format
	opt    FollowOptions
	every  int64
	past   recent

	det   *detect.Detector // nil until the levels are known
	base  int64            // frame of the stream at which the Detector began
	times int              // that levels were learnt
	names names            // IDs of the Detector's events in the stream
	known int64            // frame at which the levels were learnt: nothing was decided before
	last  int64            // frame up to which events are out
	idle  int64            // frame since which the Detector is in no state
	wait  int64            // frame before which the survey is not asked again
	pause time.Duration    // for how long it was put off last

	survey  *detect.Survey // nil while nothing is to be learnt
	began   int64          // frame at which the survey began
	found   detect.Findings
	reason  error // why the levels are not known
	newest  int64 // ID given out last
	quality gauge
	audit   audit
	given   given
}

// NewFollower returns a Follower at frame 0. Errors: an option that does not fit the format.
func NewFollower(f audio.Format, opt FollowOptions) (*Follower, error) {
	if err := (Options{Channel: opt.Channel}).fit(f, opt.Tone); err != nil {
		return nil, err
	}
	l := &Follower{format: f, opt: opt, every: frames(f, learnEvery), past: newRecent(frames(f, learnPast), f.Channels)}
	l.quality = newGauge(f)
	if err := l.learnFrom(opt.Begin); err != nil {
		return nil, err
	}
	l.readProfile()
	return l, nil
}

func frames(f audio.Format, d time.Duration) int64 {
	return int64(d.Seconds() * float64(f.SampleRate))
}

// newSurvey returns a survey of a channel, from 1; 0: of all.
func (l *Follower) newSurvey(channel int) (*detect.Survey, error) {
	return detect.NewSurvey(l.format.SampleRate, l.format.Channels,
		detect.SurveyOptions{Tone: l.opt.Tone, Channel: channel, Wiring: l.opt.Wiring, Quick: true})
}

// learnFrom begins a survey with the sound from a frame on, as far as it is held.
func (l *Follower) learnFrom(frame int64) error {
	s, err := l.newSurvey(l.opt.Channel)
	if err != nil {
		return err
	}
	l.pause = 0
	l.survey, l.began = s, max(frame, l.past.from())
	l.past.each(min(l.began, l.past.end), s.Write)
	return nil
}

// Process takes a block of whole frames and appends the events that it brings to dst.
func (l *Follower) Process(dst []detect.Event, block []float32) []detect.Event {
	ch := int64(l.format.Channels)
	for len(block) > 0 {
		n := min(int64(len(block))/ch, l.every-l.past.end%l.every)
		if l.given.waiting {
			dst = l.startKnown(dst)
			n = min(n, l.untilStart())
		}
		if l.det != nil {
			n = min(n, l.audit.left) // its seconds do not depend on the blocks
		}
		part := block[:n*ch]
		block = block[n*ch:]
		at := l.past.end
		l.past.add(part)
		l.quality.add(part)
		if l.survey != nil && at+n > l.began {
			l.survey.Write(part[max(0, l.began-at)*ch:])
		}
		if l.det != nil {
			k := len(dst)
			dst = l.det.Process(dst, part)
			l.prove(dst[k:])
			l.placeInStream(dst[k:])
			l.audit.take(part, dst[k:], l.det.Now())
			if l.det.Off() != "" {
				l.audit.forget()
			}
		}
		if l.past.end%l.every == 0 {
			dst = l.check(dst)
		}
	}
	return dst
}

// placeInStream turns frames and IDs of the Detector into those of the stream.
func (l *Follower) placeInStream(events []detect.Event) {
	for i := range events {
		e := &events[i]
		e.ID = l.names.of(e.ID, &l.newest, e.Stage == detect.Settled || e.Stage == detect.Withdrawn)
		e.Frame += l.base
		e.LastFrame += l.base
		e.DecidedFrame = max(e.DecidedFrame+l.base, l.known)
		e.Half += float64(l.base)
		if e.Kind == detect.KindOpen || e.Kind == detect.KindClose {
			l.last = max(l.last, e.Frame, e.LastFrame)
		}
	}
}

// check looks whether there is something to learn, and whether it has been learnt. Levels given are on trial until an edge or a survey has
// shown that they are those of the sound: meanwhile it is learnt as if there were none.
func (l *Follower) check(dst []detect.Event) []detect.Event {
	trial := false
	if l.det != nil {
		if l.audit.none > mostNone || l.audit.restless >= mostRestless || l.audit.strange >= mostStrange {
			return l.drop(dst)
		}
		if s, _ := l.det.State(); s == detect.Closed || s == detect.Open {
			l.reason, l.idle = nil, l.past.end
			l.fit()
			l.seekHum()
			if trial = l.onTrial(); !trial {
				l.survey = nil
				return l.doubt(dst)
			}
		} else if l.det.Off() != "" { // the levels are known, and this is none of them
			l.survey, l.reason, l.idle, l.given.off = nil, nil, l.past.end, l.past.end
			return dst
		} else if l.past.end-l.idle < frames(l.format, patience) {
			return dst
		} else {
			l.unfit()
		}
		if l.survey == nil {
			from := max(l.opt.Begin, l.last+frames(l.format, afterEvent))
			if trial {
				from = max(from, l.given.off+2*l.every, l.given.heard) // what came back of a cable that was off is no level of the points
			}
			if err := l.learnFrom(from); err != nil {
				l.reason = err
				return dst
			}
		}
	}
	if l.past.end < max(l.began, l.wait) || l.given.waiting {
		return dst
	}
	cfg, found, err := l.survey.Result()
	if err == nil && faint(found) {
		err = detect.ErrNoTone
	}
	if trial && err == nil && !l.others(found) {
		l.survey, l.given.heard = nil, l.past.end
		if p := l.given.cfg.Profile; found.High*profileMost > math.Max(cmplx.Abs(p.Closed), cmplx.Abs(p.Open)) {
			l.given.proven = true
		}
		return dst
	}
	if l.found = found; !trial {
		l.reason = err
	}
	if err == nil {
		from := max(l.began, l.past.from())
		fresh := from
		if l.det != nil && l.onTrial() {
			fresh = min(max(from, l.last+frames(l.format, afterEvent)), l.past.end)
		}
		if dst, err = l.adopt(dst, l.survey.AddHum(cfg, found), found, from, fresh); err == nil {
			return dst
		}
		if !trial {
			l.reason = err
		}
		if !errors.Is(err, detect.ErrTooShort) {
			l.putOff() // to hear the sound again takes time
		}
	}
	// What was there at first, a gain turned since, may be what keeps the levels from being found.
	if round := l.past.end - l.began; round >= frames(l.format, learnRound) || (l.pause == waitMost && round >= frames(l.format, 2*learnOver)) {
		if err := l.learnFrom(l.past.end - frames(l.format, learnOver)); err != nil {
			l.reason = err
		}
	}
	return dst
}

// faint tells that the tone is more than 3 dB below the noise: noise itself looks like that.
func faint(f detect.Findings) bool { return f.High*f.High < f.Noise*f.Noise }

// putOff lets the survey not be asked for a while, for longer each time.
func (l *Follower) putOff() {
	l.pause = min(max(2*l.pause, waitLeast), waitMost)
	l.wait = l.past.end + frames(l.format, l.pause)
}

// adopt lets a Detector with the levels of cfg hear the sound from the frame heard on. Where what is loud there is not the tone played
// (see ours), or it finds no edge, or more that turn out to be none, the levels are not those of the contacts, and nothing has been
// learnt. Otherwise it goes on with it; the events from the frame fresh on are new.
func (l *Follower) adopt(dst []detect.Event, cfg detect.Config, found detect.Findings, heard, fresh int64) ([]detect.Event, error) {
	cfg.Hold = l.opt.Hold
	cfg.Profile.Tone = l.opt.Tone // the survey has heard too little to know better
	if err := l.ours(cfg, found, heard); err != nil {
		return dst, err
	}
	d, events, err := l.again(cfg, heard)
	if err != nil {
		return dst, err
	}
	var angle angleSum
	for _, e := range events {
		angle.take(e)
	}
	cfg = l.offLevels(angle.learnt(cfg))
	if fresh == heard {
		d, events, err = l.again(cfg, heard)
	}
	if err == nil && !believable(events, found) {
		err = detect.ErrNoChange
	}
	if err == nil && fresh != heard {
		d, events, err = l.again(cfg, fresh)
	}
	if err != nil {
		return dst, err
	}
	was := l.State()
	l.learntInstead(cfg)
	dst = l.Flush(dst) // what is on its way ends with the sound there is
	l.times++
	l.det, l.base, l.names = d, fresh, names{}
	l.known, l.idle, l.survey, l.reason = l.past.end-1, l.past.end, nil, nil
	l.audit = newAudit(l.format, cfg, l.past.end)
	l.placeInStream(events)
	dst = append(dst, events...)
	if s := l.State(); was == detect.Lost && (s == detect.Closed || s == detect.Open) {
		dst = append(dst, l.single(detect.KindFound, "", l.known, l.known))
	}
	return dst, nil
}

// again lets a new Detector hear the sound from a frame on.
func (l *Follower) again(cfg detect.Config, from int64) (d *detect.Detector, events []detect.Event, err error) {
	if d, err = detect.New(cfg); err != nil {
		return nil, nil, err
	}
	l.past.each(from, func(b []float32) { events = d.Process(events, b) })
	return d, events, nil
}

// believable tells that events hold an edge that a second look has found, and not more that it has not. Of levels that lie close
// together an opening and a closing are asked for.
func believable(events []detect.Event, found detect.Findings) bool {
	opened, closed, none := 0, 0, 0
	for _, e := range events {
		switch {
		case e.Stage == detect.Placed && e.Kind == detect.KindOpen:
			opened++
		case e.Stage == detect.Placed && e.Kind == detect.KindClose:
			closed++
		case e.Stage == detect.Withdrawn && e.Cause == detect.CauseNoStep:
			none++
		}
	}
	if DBFS(found.High)-DBFS(found.Low) < faintTone && (opened == 0 || closed == 0) {
		return false
	}
	return opened+closed > 0 && none <= opened+closed
}

// drop gives the levels up, because they make changes that are none: what is heard fits neither state.
func (l *Follower) drop(dst []detect.Event) []detect.Event {
	dst = l.Flush(dst)
	trial := l.onTrial()
	l.det = nil
	l.misfit("the changes that they made turned out to be none")
	dst = append(dst, l.single(detect.KindLost, detect.CauseNoFit, l.past.end-1, l.past.end-1))
	if trial {
		l.reason = l.learnFrom(max(l.opt.Begin, l.last+frames(l.format, afterEvent)))
	} else {
		l.reason = l.learnFrom(l.past.end)
	}
	return dst
}

// single makes an event of the Follower's own.
func (l *Follower) single(k detect.Kind, why detect.Cause, frame, last int64) detect.Event {
	l.newest++
	return detect.Event{ID: l.newest, Kind: k, Stage: detect.Settled, Cause: why, Frame: frame, LastFrame: last, DecidedFrame: frame}
}

// Skip tells that lost frames are missing before the next one.
func (l *Follower) Skip(dst []detect.Event, lost int64) []detect.Event {
	if lost < 1 {
		return dst
	}
	if l.past.end < l.opt.Begin {
		l.opt.Begin += lost // the tone stands at its level later by as much
	}
	if l.det != nil {
		k := len(dst)
		dst = l.det.Skip(dst, lost)
		l.placeInStream(dst[k:])
	} else {
		dst = append(dst, l.single(detect.KindFault, detect.CauseGap, l.past.end, l.past.end+lost))
	}
	l.past.skip(lost)
	l.idle = l.past.end
	if l.survey != nil {
		l.reason = l.learnFrom(max(l.opt.Begin, l.past.end))
	}
	return dst
}

// Flush ends the stream, or what a Detector had to say before another takes its place.
func (l *Follower) Flush(dst []detect.Event) []detect.Event {
	if l.det == nil {
		return dst
	}
	k := len(dst)
	dst = l.det.Flush(dst)
	l.placeInStream(dst[k:])
	return dst
}

// State returns what is known of the contacts at the newest frame: Unknown until both levels are known, Lost when they were given up.
func (l *Follower) State() detect.State {
	if l.det == nil {
		if l.times > 0 {
			return detect.Lost
		}
		return detect.Unknown
	}
	s, _ := l.det.State()
	return s
}

// Learnt returns the Config with the levels that are followed, and how often levels were learnt; with 0, or after
// they were given up, the Config is empty.
func (l *Follower) Learnt() (cfg detect.Config, times int) {
	if l.det == nil {
		return detect.Config{}, l.times
	}
	return l.det.Config(), l.times
}

// Frame returns the number of the next frame.
func (l *Follower) Frame() int64 { return l.past.end }

// EdgeModel returns the shape of the edges heard up to now.
func (l *Follower) EdgeModel() detect.EdgeModel {
	if l.det == nil {
		return detect.Gate
	}
	return l.det.EdgeModel()
}
