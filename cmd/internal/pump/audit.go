package pump

import (
	"math"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// audit watches from outside whether the levels that a Detector goes by are still those of the sound. The Detector itself only
// knows the two: a tone that has become much weaker is silence to it, and of two levels learnt too early it never learns better.
type audit struct {
	tally *tally
	next  int64         // frame at which to look again
	pause time.Duration // until then
	none  int           // changes that turned out to be none, since second
	back  int           // returns within an opening or closing in the same second
	left  int64         // frames to the end of the second in which these are counted
	// restless counts the seconds on end in which there were longRestless returns.
	restless int
	rate     int64
	heard    *phases
	strange  int // times on end that what was loud for strangeSeconds was not the tone played
}

const (
	auditLeast = time.Second
	auditMost  = 16 * time.Second
	auditPast  = 8 * time.Second // of sound that is surveyed when in doubt

	// The louder level may lie this far off the one learnt, as a ratio, and the distance of the two may be so much larger.
	auditLevel    = 1.6
	auditDistance = 2.0
	auditAgainst  = 1.02 // and the state that must be the louder one may be so much quieter: a turn alone tells the states then
	auditAlike    = 0.97 // of the louder level: one so much quieter cannot be kept apart from it
	auditFaint    = 0.05 // of the louder level: what changes less is a residue
	auditSigmas   = 8.0

	// Of the tone played strangeSeconds must fit together. A card that loses samples lets it jump now and then; the sound of another
	// source never fits.
	strangeSeconds = 2
	mostStrange    = 2
)

func newAudit(f audio.Format, cfg detect.Config, now int64) audit {
	rate := int64(f.SampleRate)
	return audit{tally: newTally(f, cfg.Profile.Tone, cfg.Channel), next: now + rate, pause: auditLeast, rate: rate, left: rate,
		heard: newPhases(f, cfg.Profile.Tone, cfg.Channel)}
}

// take takes a block, the events that it brought and the levels that are followed now.
func (a *audit) take(block []float32, events []detect.Event, now detect.Levels) {
	a.tally.add(block)
	a.heard.add(block)
	for _, e := range events {
		switch {
		case e.Stage == detect.Withdrawn && e.Cause == detect.CauseNoStep:
			a.none++
		case e.Stage == detect.Withdrawn && e.Cause == detect.CauseBounce:
			a.back++
		}
	}
	if a.left -= int64(len(block) / a.tally.channels); a.left > 0 {
		return
	}
	if a.restless++; a.back < longRestless {
		a.restless = 0
	}
	a.none, a.back, a.left = 0, 0, a.rate
	if len(a.heard.levels) < strangeSeconds*hopsPerSec {
		return
	}
	if loud := math.Max(now.Closed, now.Open); math.Min(now.Closed, now.Open) > auditAlike*loud {
		a.forget() // the tone is as loud at the one phase as at the other
		return
	}
	switch a.heard.areOurs((now.Closed + now.Open) / 2) {
	case nil:
		a.strange = 0
	case detect.ErrNoTone:
		a.strange++
	}
	a.heard.reset()
}

// forget drops what was heard of the tone's phase: a cable that is off turns it.
func (a *audit) forget() {
	a.heard.reset()
	a.strange = 0
}

// doubt looks, now and then, whether the levels still fit, and learns others where these clearly are the ones.
func (l *Follower) doubt(dst []detect.Event) []detect.Event {
	a := &l.audit
	if l.past.end < a.next || l.past.end < l.last+frames(l.format, afterEvent) { // an edge is on its way
		return dst
	}
	a.next = l.past.end + frames(l.format, a.pause)
	now := l.det.Now()
	lo, hi, full := a.tally.spread()
	if hi > auditLevel*math.Max(now.Closed, now.Open) && l.isOff(hi) { // the cable has been off: nothing is told of the levels
		a.pause = auditLeast
		return dst
	}
	noise := auditSigmas * now.Noise * math.Sqrt(2/float64(a.tally.length))
	loud := math.Max(now.Closed, now.Open)
	against := l.againstWiring(now)
	if !against && (!full || hi-lo < noise || hi-lo < auditFaint*loud || !otherLevels(now, lo, hi, noise)) {
		a.pause = auditLeast
		return dst
	}
	from := max(l.past.from(), l.past.end-frames(l.format, auditPast), l.opt.Begin)
	s, err := l.newSurvey(l.det.Config().Channel + 1)
	if err == nil {
		l.past.each(from, s.Write)
		cfg, found, surveyed := s.Result()
		err = surveyed
		if err == nil && !faint(found) && (against || otherLevels(now, found.Low, found.High, noise)) {
			fresh := min(max(from, l.last+frames(l.format, afterEvent)), l.past.end)
			if dst, err = l.adopt(dst, s.AddHum(cfg, found), found, from, fresh); err == nil {
				return dst
			}
		}
	}
	a.pause = min(2*a.pause, auditMost)
	a.next = l.past.end + frames(l.format, a.pause)
	return dst
}

// againstWiring tells that the levels are the wrong way round for the wiring.
func (l *Follower) againstWiring(now detect.Levels) bool {
	if l.opt.Wiring == detect.Shunt {
		return now.Closed > auditAgainst*now.Open
	}
	return now.Open > auditAgainst*now.Closed
}

// otherLevels tells that the levels lo and hi are not those of now.
func otherLevels(now detect.Levels, lo, hi, noise float64) bool {
	loud, quiet := math.Max(now.Closed, now.Open), math.Min(now.Closed, now.Open)
	return hi*auditLevel < loud || hi > auditLevel*loud || hi-lo > auditDistance*(loud-quiet)+noise
}
