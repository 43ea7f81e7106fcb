package detect

import "math"

// watch checks in state Closed or Open whether the level still is the state's own, and follows it.
func (d *Detector) watch(dst []Event, dev complex128, power float64) []Event {
	t := &d.track
	D2 := mag2(t.level[closedIdx] - t.level[openIdx])
	if why := d.cable.hop(d.state, t.level[idx(d.state)]+dev, t.phased && t.jumps < manyJumps, d.hopNoise2()); why != "" {
		return d.loseCable(dst, why)
	}
	if d.win.n >= settleWindow {
		late, early := d.win.halves()
		if !d.cable.certain() && t.mistaken(d.state, late, early) {
			d.doubt = true
			return dst
		}
		if mag2(late) > settledStep*settledStep*D2 {
			var news bool
			if dst, news = d.stray(dst, late, early, math.Sqrt(D2)); news {
				return dst
			}
		} else {
			d.misfit = 0
		}
	}
	if !d.trig.suspicious() && mag2(dev) < 0.25*D2 && d.misfit == 0 && t.follow(d.state, dev, power) {
		d.sum.add(d.state, t, power)
	} else if sigma := d.cfg.Profile.Noise; D2*t.hop > hopSigmas*hopSigmas*sigma*sigma { // else noise alone does so
		d.sum.restless++
	}
	d.sum.watched++
	if d.misfit > int64(lostAfter*d.fs) || t.faded() {
		return d.lose(dst, CauseNoFit)
	}
	return dst
}

// stray looks at a window whose later half lies away from the state's level; D is the distance of the two levels. It is true when the
// window was the begin of something new: of the other state, or of this one at another phase.
func (d *Detector) stray(dst []Event, late, early complex128, D float64) ([]Event, bool) {
	t := &d.track
	size := mag(late)
	sigma := math.Sqrt(t.noise2 / float64(d.hop)) // of a half of the window, which is two hops
	least, settled := 0.5, t.age > turnAge
	if settled {
		least = min(least, max(settledStep, settledSigmas*sigma/D))
	}
	switch {
	case size <= least*D:
		d.misfit = 0
		return dst, false
	case mag(late-early) >= 0.3*size+3*sigma:
		return dst, false // it does not stand still
	}
	state := idx(d.state)
	now := t.level[state] + 0.5*(late+early)
	switch share := t.share(d.state, now); {
	case share >= 0.6:
		if t.phased && mag(now) > mag(t.level[state]) && !d.cable.maybe(now, true) {
			t.returned(other(d.state), now)
		}
		now = t.level[state] + late // the earlier half may hold a part of the change
		return d.change(dst, d.n-int64(settleWindow*d.hop), &now), true
	case share > 0.4:
		d.misfit += int64(d.hop)
	case size < settledSigmas*sigma: // noise, where the two levels are so near to each other
		return dst, false
	case d.cable.maybe(now, t.phased):
		return dst, false // this will be told in some ms
	case mag(now) > mag(t.level[idx(other(d.state))]):
		// The same state at another phase: the tone itself has jumped.
		if settled && alike(now, t.level[state]) {
			dst = append(dst, d.contacts.single(KindFault, CausePhase, d.n-int64(settleWindow*d.hop), d.n-1))
		}
		t.returned(d.state, now)
		d.cable.jump(t.level[state], now)
		t.reacquire(d.state, now)
		d.trig.reset()
		d.win = window4{}
		return dst, true
	case settled: // else the window may just be filling with the louder state
		d.misfit += int64(d.hop)
	}
	return dst, false
}

// acquire looks in state Unknown or Lost for a level that stands still at one of the two.
func (d *Detector) acquire(dst []Event) []Event {
	if d.win.n < settleWindow {
		return dst
	}
	late, early := d.win.halves()
	now := 0.5 * (late + early)
	if d.cable.why != "" && !d.cable.back(now, late-early, d.win.dev[settleWindow-1], d.hopNoise2()) {
		return dst
	}
	if d.track.equallyLoud() {
		return d.turnTells(dst, now, late-early)
	}
	if to, ok := d.track.classify(now, late-early); ok {
		dst = d.found(dst, to, now)
	}
	return dst
}

// found takes the state that was looked for, at the level now.
func (d *Detector) found(dst []Event, to State, now complex128) []Event {
	was := d.state
	d.track.begin(to, now)
	d.state, d.since = to, d.n-int64(settleWindow*d.hop)
	d.win, d.misfit = window4{}, 0
	d.trig.reset()
	var kept bool
	d.track.level, kept = d.cable.begin(to, d.track.level)
	d.track.phased = d.track.phased || kept
	d.contacts.begin(to, d.since)
	if was == Lost {
		dst = append(dst, d.contacts.single(KindFound, "", d.since, d.n-1))
	}
	return dst
}

// lose goes to state Lost.
func (d *Detector) lose(dst []Event, why Cause) []Event {
	dst = d.contacts.finish(dst, d, why)
	return d.lost(dst, why)
}

// lost goes to state Lost where nothing is on its way.
func (d *Detector) lost(dst []Event, why Cause) []Event {
	dst = append(dst, d.contacts.single(KindLost, why, d.n-1, d.n-1))
	d.state, d.since = Lost, d.n-1
	if why.cableOff() {
		d.sum.last = 0 // what comes next follows nothing
	}
	d.track.forget()
	zr, zf := d.zeroRun, d.zeroFrom
	d.restart()
	d.zeroRun, d.zeroFrom = zr, zf
	return dst
}
