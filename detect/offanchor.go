package detect

import (
	"math"
	"math/cmplx"
)

// takeAngle takes the angle of the anchor from the first level that is loud: that of the louder state, or of a cable that is off, where its magnitude
// has told that.
func (c *cable) takeAngle(why Cause, now complex128) {
	at := c.states[c.loud]
	for _, o := range c.off {
		if o.Cause == why && c.near(o, c.loud) && mag(o.Level) > offAngle {
			at = o.Level
		}
	}
	c.anchor, c.angled = cmplx.Rect(mag(c.anchor), cmplx.Phase(now)-cmplx.Phase(at)), true
}

// wasOff tells that the anchor is one of a cable that was off, now that the louder state is at a level that lies so to it.
func (c *cable) wasOff(now complex128) bool {
	for _, o := range c.off {
		if mag(o.Level) > offAngle && c.near(o, c.loud) && mag(now/c.anchor*o.Level-1) < offWithin*mag(o.Level-c.states[c.loud]) {
			return true
		}
	}
	return false
}

// gone returns how far a level lies from the one at which the cable is off. After lost samples only magnitudes tell.
func (c *cable) gone(z complex128) float64 {
	if !c.angled {
		return math.Abs(mag(z) - mag(c.at))
	}
	return mag(z - c.at)
}

// gap takes lost samples: the tone goes on at a phase that is not known.
func (c *cable) gap() {
	c.angled, c.doubted, c.weak, c.block = false, false, mean{}, mean{}
}

// reanchor takes the anchor from the level at which the cable is off, where that has an angle: it moves with it.
func (c *cable) reanchor(why Cause) {
	for _, o := range c.off {
		if a := c.at / o.Level; o.Cause == why && mag(o.Level) > offAngle && mag(a-c.anchor) < offWithin*mag(c.anchor) {
			c.anchor = a
			return
		}
	}
}
