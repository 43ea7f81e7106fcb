package pump

import (
	"errors"
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
}

const (
	learnEvery = 50 * time.Millisecond  // how often the survey is asked
	learnPast  = 12 * time.Second       // of sound that can be listened to again
	learnRound = 25 * time.Second       // of sound after which a survey begins anew: what lies further back says little
	learnOver  = 5 * time.Second        // of sound that the new survey takes over
	afterEvent = 30 * time.Millisecond  // from an event on that is out already, when sound is listened to again
	patience   = 100 * time.Millisecond // with a Detector in no state, before new levels are looked for
	waitRounds = 4                      // of learnEvery, after levels that were none
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
	ids   int64            // of events given out before the Detector began
	known int64            // frame at which the levels were learnt: nothing was decided before
	last  int64            // frame up to which events are out
	idle  int64            // frame since which the Detector is in no state
	wait  int64            // frame before which the survey is not asked again

	survey  *detect.Survey // nil while nothing is to be learnt
	began   int64          // frame at which the survey began
	found   detect.Findings
	reason  error // why the levels are not known
	newest  int64 // ID given out last
	quality gauge
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
	return l, nil
}

func frames(f audio.Format, d time.Duration) int64 {
	return int64(d.Seconds() * float64(f.SampleRate))
}

// learnFrom begins a survey with the sound from a frame on, as far as it is held.
func (l *Follower) learnFrom(frame int64) error {
	s, err := detect.NewSurvey(l.format.SampleRate, l.format.Channels,
		detect.SurveyOptions{Tone: l.opt.Tone, Channel: l.opt.Channel, Wiring: l.opt.Wiring})
	if err != nil {
		return err
	}
	l.survey, l.began = s, max(frame, l.past.from())
	l.past.each(min(l.began, l.past.end), s.Write)
	return nil
}

// Process takes a block of whole frames and appends the events that it brings to dst.
func (l *Follower) Process(dst []detect.Event, block []float32) []detect.Event {
	ch := int64(l.format.Channels)
	for len(block) > 0 {
		n := min(int64(len(block))/ch, l.every-l.past.end%l.every)
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
			l.placeInStream(dst[k:])
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
		e.ID += l.ids
		e.Frame += l.base
		e.LastFrame += l.base
		e.DecidedFrame = max(e.DecidedFrame+l.base, l.known)
		e.Half += float64(l.base)
		l.newest = max(l.newest, e.ID)
		if e.Kind == detect.KindOpen || e.Kind == detect.KindClose {
			l.last = max(l.last, e.Frame, e.LastFrame)
		}
	}
}

// check looks whether there is something to learn, and whether it has been learnt.
func (l *Follower) check(dst []detect.Event) []detect.Event {
	if l.det != nil {
		if s, _ := l.det.State(); s == detect.Closed || s == detect.Open {
			l.survey, l.reason, l.idle = nil, nil, l.past.end
			return dst
		}
		if l.past.end-l.idle < frames(l.format, patience) {
			return dst
		}
		if l.survey == nil {
			if err := l.learnFrom(max(l.opt.Begin, l.last+frames(l.format, afterEvent))); err != nil {
				l.reason = err
				return dst
			}
		}
	}
	if l.past.end < max(l.began, l.wait) {
		return dst
	}
	cfg, found, err := l.survey.Result()
	if err == nil && found.High*found.High < found.Noise*found.Noise { // 3 dB below the noise: noise itself looks like that
		err = detect.ErrNoTone
	}
	l.found, l.reason = found, err
	if err == nil {
		return l.begin(dst, cfg)
	}
	if l.past.end-l.began >= frames(l.format, learnRound) {
		if err := l.learnFrom(l.past.end - frames(l.format, learnOver)); err != nil {
			l.reason = err
		}
	}
	return dst
}

// begin lets a Detector with the levels of cfg hear the sound of the survey again. Where it finds no edge there, or more that
// turn out to be none, the levels are not those of the contacts, and nothing has been learnt.
func (l *Follower) begin(dst []detect.Event, cfg detect.Config) []detect.Event {
	cfg.Hold = l.opt.Hold
	cfg.Profile.Tone = l.opt.Tone // the survey has heard too little to know better
	_, events, err := l.again(cfg)
	if err != nil {
		l.reason = err
		return dst
	}
	var angle angleSum
	for _, e := range events {
		angle.take(e)
	}
	d, events, err := l.again(angle.learnt(cfg))
	if err != nil || !believable(events) {
		l.reason = errors.Join(err, detect.ErrNoChange)
		l.wait = l.past.end + waitRounds*l.every
		return dst
	}
	was := detect.Unknown
	if l.det != nil {
		was, _ = l.det.State()
	}
	l.times++
	l.det, l.base, l.ids = d, max(l.began, l.past.from()), l.newest
	l.known, l.idle, l.survey, l.reason = l.past.end-1, l.past.end, nil, nil
	l.placeInStream(events)
	dst = append(dst, events...)
	if s, _ := d.State(); was == detect.Lost && (s == detect.Closed || s == detect.Open) {
		dst = append(dst, l.single(detect.KindFound, "", l.known, l.known))
	}
	return dst
}

// again lets a new Detector hear the sound of the survey.
func (l *Follower) again(cfg detect.Config) (d *detect.Detector, events []detect.Event, err error) {
	if d, err = detect.New(cfg); err != nil {
		return nil, nil, err
	}
	l.past.each(max(l.began, l.past.from()), func(b []float32) { events = d.Process(events, b) })
	return d, events, nil
}

// believable tells that events hold an edge that a second look has found, and not more that it has not.
func believable(events []detect.Event) bool {
	placed, none := 0, 0
	for _, e := range events {
		switch {
		case e.Stage == detect.Placed:
			placed++
		case e.Stage == detect.Withdrawn && e.Cause == detect.CauseNoStep:
			none++
		}
	}
	return placed > 0 && none <= placed
}

// single makes an event of the Follower's own.
func (l *Follower) single(k detect.Kind, why detect.Cause, frame, last int64) detect.Event {
	l.newest++
	l.ids++ // those of the Detector follow
	return detect.Event{ID: l.newest, Kind: k, Stage: detect.Settled, Cause: why, Frame: frame, LastFrame: last, DecidedFrame: frame}
}

// Skip tells that lost frames are missing before the next one.
func (l *Follower) Skip(dst []detect.Event, lost int64) []detect.Event {
	if lost < 1 {
		return dst
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
		l.reason = l.learnFrom(l.past.end)
	}
	return dst
}

// Flush ends the stream.
func (l *Follower) Flush(dst []detect.Event) []detect.Event {
	if l.det == nil {
		return dst
	}
	k := len(dst)
	dst = l.det.Flush(dst)
	l.placeInStream(dst[k:])
	return dst
}

// State returns what is known of the contacts at the newest frame: Unknown until both levels are known.
func (l *Follower) State() detect.State {
	if l.det == nil {
		return detect.Unknown
	}
	s, _ := l.det.State()
	return s
}

// Learnt returns the Config with the levels that are followed, and how often levels were learnt; 0: not yet.
func (l *Follower) Learnt() (cfg detect.Config, times int) {
	if l.det == nil {
		return detect.Config{}, 0
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
