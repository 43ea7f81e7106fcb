package detect

// hopNoise2 is the variance that noise gives the level of a hop in each axis.
func (d *Detector) hopNoise2() float64 { return 2 * d.track.noise2 / d.track.hop }

// cableVerdict tells that the state that an edge led to was the cable that is off.
func (d *Detector) cableVerdict(e *edge) Cause {
	return d.cable.verdict(e.ch.to, e.level, d.track.phased && d.track.jumps < manyJumps, d.hopNoise2())
}

// loseCable goes to state Lost because the cable is off. An edge on its way that led here, and not to its state first, is none.
func (d *Detector) loseCable(dst []Event, why Cause) []Event {
	c := &d.contacts
	for _, e := range []*edge{&c.close, &c.open} {
		if e.live && e.ch.to == d.state && !d.cable.sure[idx(d.state)] {
			dst = c.withdraw(dst, e, why)
		}
	}
	dst = c.finish(dst, d, why)
	d.track.level = d.cable.levels()
	dst = d.lost(dst, why)
	d.cable.why = why
	return dst
}

// wasOff takes back an edge that is over and was none: the cable was off for a moment. The one back goes with it.
func (c *contacts) wasOff(dst []Event, d *Detector, e *edge, why Cause) []Event {
	other := &c.close
	if e == other {
		other = &c.open
	}
	dst = c.withdraw(dst, e, why)
	if other.live {
		dst = c.withdraw(dst, other, why)
	}
	dst = append(dst, c.single(KindLost, why, e.ev.Frame, d.n-1))
	return append(dst, c.single(KindFound, "", d.n-1, d.n-1))
}
