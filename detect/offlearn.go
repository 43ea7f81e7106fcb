package detect

import (
	"math"
	"math/cmplx"
)

// learn takes the opening that has just ended: what most like openings leave of the tone, turned, comes through a condenser.
func (c *cable) learn() {
	if !c.learns || c.dwell.hops < offLeast || !c.turned || c.anchor == 0 {
		return
	}
	r := c.dwell.level() / c.anchor
	c.quiet[c.seen%passMemory] = r
	c.seen++
	if mag(r) < offApart || math.Abs(cmplx.Phase(r)) < passTurn {
		if !c.proved && mag(r) < offApart {
			c.early = true
		}
		return
	}
	var alike mean
	for _, q := range c.quiet[:min(c.seen, passMemory)] {
		if mag(q-r) < passAlike*mag(r) {
			alike.add(q)
		}
	}
	if alike.hops >= passes {
		c.states[1-c.loud], c.learnt, c.proved = alike.level(), true, true
		if len(c.off) == 0 {
			c.off = []OffLevel{{0, CauseLeadOff}}
		}
	}
}

// misses tells that the block, the first since the points, in line, opened, lies far from where they were each time that they had opened
// before. What opens again and again leaves what it left; what comes back otherwise is the cable's doing.
func (c *cable) misses(s State, phased bool) bool {
	if s != Open || c.loud != closedIdx || !phased || c.dwell.hops != c.block.hops {
		return false
	}
	z := c.block.level() / c.anchor
	if c.opened.hops > 0 && mag(c.opened.level()) < offApart && math.Abs(cmplx.Phase(z)) > passTurn {
		return false // nothing was left before, of a lead that fell off, and now a condenser leaves something
	}
	if c.opened.hops > 0 && mag(z-c.opened.level()) > missMost {
		sure := c.opened.hops >= missSure
		c.left, c.opened = c.opened.level(), mean{}
		if sure {
			c.opened.add(z) // what comes again is an opening
			return true
		}
	}
	if c.opened.hops == missMemory {
		c.opened = mean{sum: c.opened.sum / 2, hops: missMemory / 2}
	}
	c.opened.add(z)
	return false
}

// Passed returns what the points, open, let through of the louder state's level, where the sound has told that a condenser does so, but only
// after there had been openings with nothing left: a lead may have fallen off at these. Otherwise ok is false.
func (d *Detector) Passed() (ratio complex128, ok bool) {
	c := &d.cable
	return c.states[1-c.loud], c.early && (c.learnt || c.proved)
}
