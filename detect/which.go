package detect

import (
	"math"
	"math/cmplx"
)

const (
	whichAlike = 0.015 // of the louder level (0.13 dB): by less a gain drifts, so that magnitudes do not tell the states apart
	whichStill = 0.2   // of the distance of the states, by which a level that stands still may move within a window
	whichNear  = 0.3   // and by which a turn may be off the one that contacts make
	whichMost  = 0.2   // by which the level may be louder or quieter than the states
)

// equallyLoud tells that the two states differ by their angle only, and that this is known: then the direction of the first turn tells which
// is which.
func (t *tracker) equallyLoud() bool {
	p := t.cfg.Profile
	hi, lo := mag(p.Closed), mag(p.Open)
	if hi < lo {
		hi, lo = lo, hi
	}
	return p.PhaseKnown && hi > 0 && hi-lo < whichAlike*hi
}

// turnTells looks, in state Unknown or Lost, for the first turn between two levels that stand still, where the states are equally loud: the
// state before it is the one from which contacts turn the tone that way. A turn by half a circle is the same both ways, and tells nothing.
func (d *Detector) turnTells(dst []Event, now, drift complex128) []Event {
	p, t := d.cfg.Profile, &d.track
	ratio := p.Open / p.Closed
	step := mag(ratio - 1)
	loud := mag(p.Closed)
	noise := math.Sqrt(t.noise2 / t.hop) // of half a window
	if mag(drift) > whichStill*step*loud+3*noise || math.Abs(mag(now)-loud) > whichMost*loud || mag(ratio-1/ratio) < step {
		return dst
	}
	stood := d.stood
	if stood == 0 {
		d.stood = now
		return dst
	}
	turn := now / stood
	turn /= complex(mag(turn), 0)
	before := Unknown
	switch near := whichNear * step; {
	case mag(turn-cmplx.Rect(1, cmplx.Phase(ratio))) < near:
		before = Closed
	case mag(turn-cmplx.Rect(1, -cmplx.Phase(ratio))) < near:
		before = Open
	default:
		d.stood = now // it goes on, or the tone has jumped
		return dst
	}
	dst = d.found(dst, before, stood)
	return d.change(dst, d.n-int64(settleWindow*d.hop), &now)
}
