package detect

// change is one turn of the contacts as the trigger or the window saw it.
type change struct {
	to             State
	frame, decided int64
	levels         [2]complex128 // closed, open, as known at the decision
	before         complex128    // level of the state left
	phased         bool          // the angle between the levels is known
}

// edge is an event on its way, with what its placing needs.
type edge struct {
	live    bool
	ev      Event
	ch      change
	after   int64 // the contacts have changed last at this frame before the edge: the placing looks no further back
	placed  bool
	settle  bool  // bounce is over, only the placing is waited for
	bounces int   // returns seen so far
	last    int64 // first frame in the new state after the last return
}

// contacts groups the changes into openings and closings, so that bounce makes one event.
//
//	points     edges on their way  then                       event
//	closed     none                break                      open decided
//	open       open                open for settleQuiet       open settled
//	open       any                 make                       close decided
//	closed     (open,) close       closed for hold            open settled, close settled
//	closed     (open,) close       break within hold          none yet: bounce
//	open       (open,) close       open for hold              close withdrawn: a re-closure of the opening
//	open       (open,) close       make within hold           none yet: bounce
//
// An edge is placed when lookAhead of sound after its decision is there; an edge is settled only after it was placed.
type contacts struct {
	set         int
	hold, quiet int64 // [frames]
	look        int64
	id          int64
	state       State
	since       int64 // frame of the newest change
	prev        int64 // frame of the change before that
	open, close edge
	turns       int // changes since the close on its way was decided
}

// settleQuiet is how long the points must stay open before an opening is settled without having seen them close [s]:
// slowly parting points chatter for that long.
const settleQuiet = 0.25

func newContacts(cfg Config) contacts {
	fs := float64(cfg.SampleRate)
	c := contacts{
		set: cfg.Set, hold: int64(cfg.Hold.Seconds() * fs), quiet: int64(settleQuiet * fs), look: int64(lookAhead * fs),
	}
	c.quiet = max(c.quiet, c.hold)
	return c
}

// begin takes the state that was found at the start, after a gap or after a loss.
func (c *contacts) begin(s State, frame int64) {
	c.state, c.since, c.prev = s, frame, frame
	c.open.live, c.close.live = false, false
}

func (c *contacts) single(k Kind, why Cause, frame, decided int64) Event {
	c.id++
	return Event{ID: c.id, Kind: k, Stage: Settled, Set: c.set, Frame: frame, LastFrame: frame, DecidedFrame: decided, Cause: why}
}

// change takes a turn of the contacts.
func (c *contacts) change(dst []Event, ch change) []Event {
	after := c.since
	c.prev, c.since, c.state = c.since, ch.frame, ch.to
	switch {
	case c.close.live:
		c.turns++ // within the hold time, or tick would have ended it: bounce
		if ch.to == Closed {
			c.close.bounces++
			c.close.last = ch.frame
		}
		return dst
	case ch.to == Open:
		return c.start(dst, &c.open, KindOpen, ch, after)
	default:
		c.turns = 0
		return c.start(dst, &c.close, KindClose, ch, after)
	}
}

func (c *contacts) start(dst []Event, e *edge, k Kind, ch change, after int64) []Event {
	c.id++
	*e = edge{live: true, ch: ch, after: after, last: ch.frame, ev: Event{
		ID: c.id, Kind: k, Stage: Decided, Set: c.set, Frame: ch.frame, LastFrame: ch.frame, DecidedFrame: ch.decided,
		Before: ch.before, After: ch.levels[idx(ch.to)],
	}}
	return append(dst, e.ev)
}

// tick looks, at the end of each hop, which edges can be placed, settled or withdrawn.
func (c *contacts) tick(dst []Event, d *Detector) []Event {
	if !c.open.live && !c.close.live {
		return dst
	}
	dst = c.place(dst, d, &c.open, c.look)
	dst = c.place(dst, d, &c.close, c.look)
	stay := d.n - c.since
	if c.close.live && stay >= c.hold {
		if c.state == Closed {
			c.open.settle, c.close.settle = c.open.live, true
		} else {
			// The make was a re-closure of the opening.
			dst = c.withdraw(dst, &c.close, CauseBounce)
			if c.open.live {
				c.open.bounces += c.turns/2 + 1
				c.open.last = c.since
			}
		}
	}
	if c.open.live && !c.close.live && c.state == Open && stay >= c.quiet {
		c.open.settle = true
	}
	dst = c.end(dst, d, &c.open)
	return c.end(dst, d, &c.close)
}

// place places an edge that has waited long enough; the opening of a pair always comes first.
func (c *contacts) place(dst []Event, d *Detector, e *edge, wait int64) []Event {
	if !e.live || e.placed || d.n-e.ch.decided <= wait {
		return dst
	}
	got, ok := d.ref.place(d, e)
	if !ok {
		return c.withdraw(dst, e, CauseNoStep)
	}
	e.placed = true
	e.ev.Stage = Placed
	e.ev.Frame, e.ev.Frac, e.ev.Uncertainty = got.frame, got.frac, got.u
	e.ev.Before, e.ev.After = got.before, got.after
	e.ev.Half, e.ev.HalfUncertainty = got.half, got.halfU
	e.bounces = max(e.bounces, got.returns)
	e.last = max(e.last, got.last, got.frame)
	if e.bounces == 0 {
		e.last = got.frame
	}
	e.ev.LastFrame = e.last
	return append(dst, e.ev)
}

// end settles an edge whose bounce is over.
func (c *contacts) end(dst []Event, d *Detector, e *edge) []Event {
	if !e.live || !e.settle || !e.placed {
		return dst
	}
	e.live = false
	e.ev.Stage = Settled
	e.ev.Reclosures = e.bounces
	e.ev.LastFrame = e.last
	if e.bounces == 0 {
		e.ev.LastFrame = e.ev.Frame
	}
	d.sum.leave(e.ev)
	return append(dst, e.ev)
}

func (c *contacts) withdraw(dst []Event, e *edge, why Cause) []Event {
	e.live = false
	e.ev.Stage, e.ev.Cause = Withdrawn, why
	return append(dst, e.ev)
}

// finish ends what is on its way when no more sound follows on: placed if at least a sixth of the usual look-ahead is
// there, otherwise withdrawn.
func (c *contacts) finish(dst []Event, d *Detector, why Cause) []Event {
	if c.close.live && c.state == Open {
		dst = c.withdraw(dst, &c.close, CauseBounce)
	}
	for _, e := range []*edge{&c.open, &c.close} {
		dst = c.place(dst, d, e, c.look/6)
		if !e.live {
			continue
		}
		if !e.placed {
			dst = c.withdraw(dst, e, why)
			continue
		}
		e.settle = true
		dst = c.end(dst, d, e)
	}
	return dst
}
