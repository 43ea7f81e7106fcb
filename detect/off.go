package detect

import (
	"fmt"
	"math"
	"math/cmplx"
)

// OffLevel is a level at which the cable is off, and what that means. Without one in the Profile, and in line, a level of nothing means
// CauseLeadOff where the level with the points open is known to stand clearly above nothing: a condenser goes on passing the tone, a
// lead in the air does not.
type OffLevel struct {
	Level complex128 // [full scale], in the phase reference of Profile.Closed and Open
	Cause Cause      // CauseLeadOff, CausePlugOut or CauseShorted
}

const (
	maxOff      = 8    // levels of a cable that is off that may be named
	offApart    = 0.05 // of the louder state: an off level that lies nearer to a state cannot be told from it
	offApartM   = 0.15 // the same where only magnitudes count, which a gain turned changes too
	offWithin   = 0.3  // of the way from the off level to the nearest state, within which the level is off
	stateMost   = 0.4  // and within which of the way from a state it is the state,
	stateLeast  = 0.07 // or this much of the louder one: contact resistance moves closed points by as much
	missMost    = 0.2  // of the louder state, by which openings may differ from those before
	missSure    = 3    // so many must have been alike
	missMemory  = 16
	gainMost    = 0.5  // of the logarithm, that the louder state may be louder or quieter for another gain, or a leak
	fitMost     = 0.12 // of the louder state, by which a level must be one of the two after such
	provedFrom  = 0.08 // of the louder state: a noise or a blow makes less of nothing seem something
	angleSigmas = 20.0 // by which a level must be known whose angle is taken: 3 degrees
	offClean    = 4e-4 // of the open level: the cleanest points leave more across a cable of 100 ohm, an input with nothing on it less
	loudApart   = 0.5  // of the louder state: what differs so much in magnitude needs no phase
	offAngle    = 0.1  // of the louder state: a weaker one has no angle that a window tells
	offStray    = 0.03 // of the louder state, that finds its way when the cable is off; and by offGain of itself an off level may differ
	offGain     = 0.1
	offLeast    = 16   // hops at an off level
	offMoves    = 0.03 // of the louder state, by which a level may move that stands still
	offMost     = 4000 // hops after which noise lets nothing be told
	offSigmas   = 5.0  // standard deviations of a mean by which the two must be apart beyond that
	oddMost     = 4    // means of the louder state at one level that is neither: another gain
	backStill   = 0.3  // of the way that it has gone, by which it may still move
	foundSure   = 8.0  // standard deviations of a window by which a level that comes back shows in it

	// A condenser that the tone passes when the points are open turns it: by more than half a right angle where it keeps much of it away.
	passTurn   = 0.5 // [rad]
	passAlike  = 0.2 // by which the levels of openings may differ that are alike
	passes     = 2   // such openings that tell of a condenser
	passMemory = 16  // openings that are looked through
)

func (o OffLevel) validate() error {
	switch {
	case !finite(o.Level):
		return bad("off level", o.Level, "a finite number")
	case !o.Cause.cableOff():
		return bad("cause of an off level", o.Cause, fmt.Sprintf("%s, %s or %s", CauseLeadOff, CausePlugOut, CauseShorted))
	}
	return nil
}

// cableOff tells that a cause is one of a cable that is off.
func (c Cause) cableOff() bool { return c == CauseLeadOff || c == CausePlugOut || c == CauseShorted }

// mean adds up levels, hop by hop.
type mean struct {
	sum   complex128
	hops  int
	first complex128 // sum of the first offLeast/2
}

func (m *mean) add(z complex128) {
	m.sum, m.hops = m.sum+z, m.hops+1
	if m.hops <= offLeast/2 {
		m.first += z
	}
}

// join adds the hops of another mean.
func (m *mean) join(o mean) { m.sum, m.hops = m.sum+o.sum, m.hops+o.hops }

func (m mean) level() complex128 { return m.sum / complex(float64(max(1, m.hops)), 0) }

// moves returns how far the level of the first hops lies from that of the others.
func (m mean) moves() float64 {
	if m.hops <= offLeast/2 {
		return 0
	}
	return mag(m.first/(offLeast/2) - (m.sum-m.first)/complex(float64(m.hops-offLeast/2), 0))
}

// cable tells a cable that is off from the two states, by the mean level over some ms: by where it lies in the I/Q plane between the states and
// the off levels. All of these move with the louder state's level, the anchor, which is taken when the present state began; so neither gain nor the
// contacts' resistance nor what the tracker makes of a level that is foreign to it moves them.
type cable struct {
	off     []OffLevel // over the louder state's level
	states  [2]complex128
	loud    int // index of the louder state
	anchor  complex128
	angled  bool    // its angle is known
	weak    mean    // of the quieter state, until it is
	block   mean    // of the present state, for as long as it takes to tell
	edge    [2]mean // of a state since the edge to it that is on its way, bounce included
	sure    [2]bool // a block of it lay at the state's own level
	steady  bool    // so did one since the present state began
	at      complex128
	why     Cause      // LOST by this
	doubted bool       // UNKNOWN, since what looked like a change was none
	strange bool       // a level has stood at no state and no off level since one of the states was last seen where it must be
	odd     complex128 // the newest such level
	oddly   int        // means that were there since

	learnt bool       // what the points pass when they are open
	early  bool       // before it was, nothing was left in an opening
	proved bool       // the quieter state has been where it must be
	opened mean       // what openings left at first, over the louder state
	left   complex128 // what they had left before one that was lost
	learns bool       // in line, and no off levels are given: a condenser shows in the sound
	quiet  [passMemory]complex128
	seen   int        // openings in it, and before
	dwell  mean       // of the present state, if it is the quiet one
	turned bool       // the angle between it and the anchor is known
	passed complex128 // the newest mean of the quiet state, over the anchor
}

// newCable returns what can be told of a cable with the levels of a Profile.
func newCable(cfg Config) cable {
	p := cfg.Profile
	c := cable{loud: closedIdx}
	hi := p.Closed
	if mag(p.Open) > mag(p.Closed) {
		hi, c.loud = p.Open, openIdx
	}
	c.states = [2]complex128{p.Closed / hi, p.Open / hi}
	if !p.PhaseKnown {
		c.states = [2]complex128{complex(mag(c.states[0]), 0), complex(mag(c.states[1]), 0)}
	}
	off := p.Off
	if c.learns = len(off) == 0 && cfg.Wiring == Series && c.loud == closedIdx; c.learns && p.PhaseKnown {
		off = []OffLevel{{0, CauseLeadOff}}
	}
	for _, o := range off {
		o.Level /= hi
		if p.PhaseKnown {
			c.off = append(c.off, o)
		} else if m := complex(mag(o.Level), 0); c.apart(m) >= offApartM {
			c.off = append(c.off, OffLevel{m, o.Cause})
		}
	}
	return c
}

// apart returns how far a level lies from the nearest state, over the louder one.
func (c *cable) apart(z complex128) float64 { return math.Min(mag(z-c.states[0]), mag(z-c.states[1])) }

// begin takes the levels of the states as they are known, the louder of which is the anchor, when state s was found. Its angle comes from the
// level of s, which may be too weak to tell one. A cable that was off, and chatter that was misread, leave the anchor as it was: the tone went on,
// and begin returns the levels as they then are; kept tells so.
func (c *cable) begin(s State, levels [2]complex128) (now [2]complex128, kept bool) {
	if kept = (c.why.cableOff() || c.doubted && len(c.off) > 0) && c.angled; kept {
		if idx(s) != c.loud {
			levels[c.loud] = c.anchor
		}
	} else {
		c.weak = mean{}
		loud := levels[c.loud]
		if loud != 0 && c.maybe(loud, false) { // what was taken for the louder state was the cable that was off
			loud *= complex(mag(c.anchor)/mag(loud), 0)
		}
		c.anchor, c.angled = loud, idx(s) == c.loud || mag(c.states[1-c.loud]) > offAngle
	}
	c.enter()
	return levels, kept
}

// change ends state s, with the levels as they were; that of the louder state counts where it was one for long enough to tell. Until there is
// an anchor with an angle, the quieter state gives it one, as soon as its level is known well enough.
func (c *cable) change(s State, levels [2]complex128, noise2 float64) {
	c.learn()
	switch quiet := c.weak.level(); {
	case idx(s) == c.loud && (c.steady || c.anchor == 0):
		if was, is := mag(c.anchor), mag(levels[c.loud]); math.Abs(is-was) > missMost/2*was {
			c.opened = mean{} // the cable leaks more, or the gain is another
		}
		c.anchor, c.angled = levels[c.loud], true
	case !c.angled && mag2(quiet) > angleSigmas*angleSigmas*2*noise2/float64(max(1, c.weak.hops)):
		c.anchor = cmplx.Rect(mag(c.anchor), cmplx.Phase(quiet)+cmplx.Phase(c.states[c.loud])-cmplx.Phase(c.states[1-c.loud]))
		c.angled = true
	}
	c.enter()
}

// jump takes a level of the present state that went on at another phase.
func (c *cable) jump(was, now complex128) {
	c.weak = mean{}
	if was != 0 && now != 0 {
		c.anchor *= cmplx.Rect(1, cmplx.Phase(now/was))
	}
	c.enter()
}

func (c *cable) enter() {
	if c.angled {
		c.weak = mean{} // it is needed no more
	}
	c.block, c.why, c.steady, c.doubted = mean{}, "", false, false
	c.dwell, c.turned = mean{}, false
}

// hop takes the level of a hop in state s, and tells of a cable that has been off for long enough. noise2 is sigma^2 of a hop's level in each axis.
func (c *cable) hop(s State, z complex128, phased bool, noise2 float64) Cause {
	if c.anchor == 0 {
		return ""
	}
	phased = phased && c.angled
	c.block.add(z)
	c.edge[idx(s)].add(z)
	if c.block.hops < offLeast {
		return ""
	}
	if c.block.moves() > offMoves*mag(c.anchor)+offSigmas*math.Sqrt(noise2/(offLeast/4)) {
		c.block = mean{} // an edge lies in it
		return ""
	}
	why, own, told := c.tell(idx(s), c.block, phased, noise2)
	if idx(s) == c.loud && !c.angled {
		c.takeAngle(why, c.block.level())
	}
	if !told && c.block.hops < offMost {
		return ""
	}
	if idx(s) != c.loud {
		if c.dwell.join(c.block); why == "" {
			c.passed = c.block.level() / c.anchor
		}
		c.weak.join(c.block)
		c.turned = phased
	}
	about := math.Abs(math.Log(mag(c.block.level()/c.anchor))) < gainMost
	if idx(s) == c.loud && told && !own && about {
		c.opened = mean{} // the cable leaks more, or the gain is another
	}
	if why == "" && told && c.misses(s, phased) {
		c.at, c.block = c.block.level(), mean{}
		return CauseNoFit
	}
	if !told || len(c.off) == 0 {
		c.block = mean{}
		return ""
	}
	if own {
		c.sure[idx(s)], c.steady = true, true
		c.proved = c.proved || idx(s) != c.loud && mag(c.states[idx(s)]) > provedFrom && c.sure[c.loud]
	}
	now := c.block.level()
	if why == "" && !own && phased && idx(s) == c.loud && c.wasOff(now) {
		c.anchor, own = now, true
	}
	switch {
	case own:
		c.strange, c.odd = false, 0
	case why == "" && mag(now-c.odd) < offMoves*mag(c.anchor):
		c.strange = true
		if c.oddly++; idx(s) == c.loud && (about && c.learns || c.oddly >= oddMost) {
			c.anchor, c.strange, c.odd = now, false, 0 // so it is now
		}
	case why == "":
		c.odd, c.oddly = now, 0
	}
	if c.strange || c.learns && !c.proved {
		why = "" // what stands at no state and at no off level tells that the levels are others
	}
	c.at, c.block = now, mean{}
	c.reanchor(why)
	return why
}

// tell tells whether a mean lies at an off level near the state, and which, or at the own level of the state. told is false where noise leaves
// that open. Where the phase is not known, only magnitudes count.
func (c *cable) tell(state int, m mean, phased bool, noise2 float64) (why Cause, own, told bool) {
	plain := func(z complex128) complex128 { return z }
	if !phased || !c.close(state) {
		phased = false
		plain = func(z complex128) complex128 { return complex(mag(z), 0) }
	}
	z, is, isnt := plain(m.level()/c.anchor), plain(c.states[state]), plain(c.states[1-state])
	sigma := math.Sqrt(noise2/float64(max(1, m.hops))) / mag(c.anchor)
	d, near := mag(z-is), math.Max(stateLeast, stateMost*mag(is-isnt))
	told, own = true, true
	for _, o := range c.off {
		off := plain(o.Level)
		if !c.near(o, state) {
			continue
		}
		way, least := mag(off-is), offApart
		if !phased && off != 0 {
			least = offApartM
		}
		within, room := offWithin*way, (stateMost-offWithin)*way
		if !c.proved { // all may be quieter than it was
			within = math.Min(within, offStray+offGain*mag(off))
		}
		switch {
		case c.loud == openIdx && state == closedIdx: // clean points may leave much less than those that the profile was made with
			within, room = offClean, offClean/2
		case way < least:
			told = told && mag(o.Level-c.states[state]) < offApart // else the angle would tell
			continue
		default:
			own = own && d < mag(z-off)
			near = math.Min(near, math.Max(stateLeast, stateMost*way))
		}
		switch {
		case room < offSigmas*sigma:
			told = false
		case mag(z-off) < within:
			return o.Cause, false, true
		}
	}
	return "", told && own && d < near, told
}

// close tells that a level near the state, at which the cable is off, is about as loud, so that the phase must tell; it may drift while the tone
// is away.
func (c *cable) close(state int) bool {
	for _, o := range c.off {
		if c.near(o, state) && math.Abs(mag(o.Level)-mag(c.states[state])) < loudApart {
			return true
		}
	}
	return false
}

// near tells that what is off would be taken for the state, not for the other one.
func (c *cable) near(o OffLevel, state int) bool {
	return mag(o.Level-c.states[state]) <= mag(o.Level-c.states[1-state])
}

// maybe tells that a level may be one at which the cable is off.
func (c *cable) maybe(z complex128, phased bool) bool {
	if len(c.off) == 0 || c.anchor == 0 {
		return false
	}
	why, _, _ := c.tell(c.loud, mean{sum: z, hops: 1}, phased && c.angled, 0)
	return why != ""
}

// certain tells that both states were where they must be, so that a level that is less of the same kind is no other state.
func (c *cable) certain() bool { return len(c.off) > 0 && c.sure[closedIdx] && c.sure[openIdx] }

// started tells that an edge to state s is on its way.
func (c *cable) started(s State) { c.edge[idx(s)], c.sure[idx(s)] = mean{}, false }

// verdict tells that the state s that an edge led to was none, but the cable off, as far as was heard of it: placed is the level that the placing
// found, which tells where the state was left again within two hops.
func (c *cable) verdict(s State, placed complex128, phased bool, noise2 float64) Cause {
	m := c.edge[idx(s)]
	if m.hops < 2 {
		m = mean{sum: 2 * placed, hops: 2}
	}
	if len(c.off) == 0 || c.sure[idx(s)] || c.anchor == 0 || c.strange || c.learns && !c.proved {
		return ""
	}
	why, _, _ := c.tell(idx(s), m, phased && c.angled, noise2)
	return why
}

// back tells that the level has left the one at which the cable is off: the mean of a window, or, where noise hides it there, of a block.
func (c *cable) back(window, drift, z complex128, noise2 float64) bool {
	if c.why == CauseNoFit {
		m := mag(window) / mag(c.anchor)
		return math.Min(math.Abs(m-1), math.Abs(m-mag(c.left))) < fitMost
	}
	way := math.Inf(1)
	for _, o := range c.off {
		if o.Cause == c.why {
			way = math.Min(way, mag(c.anchor)*c.apart(o.Level))
		}
	}
	if gone := c.gone(window); gone > stateMost*way && gone > foundSure*math.Sqrt(noise2/settleWindow) {
		return mag(drift) < backStill*gone // else it is still on its way
	}
	c.block.add(z)
	if c.block.hops < offLeast || math.Sqrt(noise2/float64(c.block.hops))*offSigmas > stateMost*way && c.block.hops < offMost {
		return false
	}
	now, moves := c.block.level(), c.block.moves()
	c.block = mean{}
	if gone := c.gone(now); gone > stateMost*way {
		return moves < backStill*gone+offSigmas*math.Sqrt(noise2/(offLeast/4))
	}
	c.at = now // the tone's phase may have gone on a little otherwise
	c.reanchor(c.why)
	return false
}

// levels returns those of the two states, as the anchor has them.
func (c *cable) levels() [2]complex128 {
	return [2]complex128{c.anchor * c.states[0], c.anchor * c.states[1]}
}

// Off returns why the cable is off, empty while it is on, as far as that can be told.
func (d *Detector) Off() Cause {
	if why := d.cable.why; why.cableOff() {
		return why
	}
	return ""
}
