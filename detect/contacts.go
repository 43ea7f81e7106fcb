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
	live   bool
	ev     Event
	ch     change
	at     int   // index of ch in contacts.log
	after  int64 // the contacts have changed last at this frame before the edge: the placing looks no further back
	placed bool
	waited bool       // the level was still under way when it was to be placed
	settle bool       // bounce is over, only the placing is waited for
	hidden int        // returns that the placing found and the trigger missed
	level  complex128 // of the state that it leads to, as the placing found it
}

// contacts groups the changes into openings and closings, so that bounce and chatter make one event.
//
// An opening is steady when the points have stayed open for the hold time.
//
//	points    on their way        then                       events
//	closed    -                   break                      open decided
//	open      (open)              make                       close decided
//	open      open                open for settleQuiet       open settled
//	closed    open, close         break, opening not steady  close withdrawn: a re-closure of the opening
//	closed    (open,) close       break, opening steady      none: bounce of the closing
//	open      (open,) close       make                       none: bounce of the closing
//	open      (open,) close       open for hold              close withdrawn: a re-closure of the opening, counted
//	                                                         unless that has been settled
//	closed    (open,) close       closed for hold            open settled, close settled
//
// An edge is placed when lookAhead of sound after its decision is there; an edge is settled only after it was placed. An edge
// that turns out to be none takes the change that undid it along.
type contacts struct {
	set         int
	hold, quiet int64 // [frames]
	look        int64
	id          int64
	state       State
	since       int64 // frame of the newest change
	steady      bool  // the opening is steady
	open, close edge
	undone      int      // edges withdrawn because they were none
	log         []change // since the first edge on its way; the newest are dropped beyond logged
}

const (
	// settleQuiet is how long the points must stay open before an opening is settled without having seen them close [s]:
	// slowly parting points chatter for that long.
	settleQuiet = 0.25
	logged      = 4096
	softLook    = 3 // times the usual look-ahead that a soft edge waits for
)

func newContacts(cfg Config, log []change) contacts {
	fs := float64(cfg.SampleRate)
	c := contacts{
		set: cfg.Set, hold: int64(cfg.Hold.Seconds() * fs), quiet: int64(settleQuiet * fs), look: int64(lookAhead * fs),
		log: log[:0],
	}
	c.quiet = max(c.quiet, c.hold)
	return c
}

// begin takes the state that was found at the start, after a gap or after a loss.
func (c *contacts) begin(s State, frame int64) {
	c.state, c.since, c.steady = s, frame, true
	c.open.live, c.close.live = false, false
	c.log = c.log[:0]
}

func (c *contacts) single(k Kind, why Cause, frame, decided int64) Event {
	c.id++
	return Event{ID: c.id, Kind: k, Stage: Settled, Set: c.set, Frame: frame, LastFrame: frame, DecidedFrame: decided, Cause: why}
}

// change takes a turn of the contacts.
func (c *contacts) change(dst []Event, ch change, cb *cable) []Event {
	if !c.open.live && !c.close.live {
		c.log = c.log[:0]
	}
	if len(c.log) < logged {
		c.log = append(c.log, ch)
	}
	after := c.since
	c.since, c.state = ch.frame, ch.to
	switch {
	case c.close.live && ch.to == Open && !c.steady:
		return c.withdraw(dst, &c.close, CauseBounce)
	case c.close.live:
		return dst
	case ch.to == Open && c.open.live:
		return dst // a re-closure that was withdrawn
	case ch.to == Open:
		c.steady = false
		cb.started(Open)
		return c.start(dst, &c.open, KindOpen, ch, after)
	default:
		cb.started(Closed)
		return c.start(dst, &c.close, KindClose, ch, after)
	}
}

func (c *contacts) start(dst []Event, e *edge, k Kind, ch change, after int64) []Event {
	c.id++
	*e = edge{live: true, ch: ch, at: len(c.log) - 1, after: after, ev: Event{
		ID: c.id, Kind: k, Stage: Decided, Set: c.set, Frame: ch.frame, LastFrame: ch.frame, DecidedFrame: ch.decided,
		Before: ch.before, After: ch.levels[idx(ch.to)],
	}}
	return append(dst, e.ev)
}

// tick looks, at the end of each hop, which edges can be placed, settled or withdrawn. It is false when the state of the
// contacts turned out to be wrong and has to be found again.
func (c *contacts) tick(dst []Event, d *Detector) ([]Event, bool) {
	if !c.open.live && !c.close.live {
		if c.state == Open {
			c.steady = true
		}
		return dst, true
	}
	for _, e := range []*edge{&c.open, &c.close} {
		if e.live && !e.placed && d.n-e.ch.decided > c.due(e) {
			var ok bool
			if dst, ok = c.place(dst, d, e); !ok {
				return dst, false
			}
		}
	}
	stay := d.n - c.since
	switch {
	case c.state == Closed && c.close.live && stay >= c.hold:
		c.open.settle, c.close.settle = c.open.live, true
	case c.state == Open && stay >= c.hold:
		c.steady = true
		if c.close.live {
			dst = c.withdraw(dst, &c.close, CauseBounce)
		}
		c.open.settle = c.open.live && stay >= c.quiet
	}
	dst = c.end(dst, d, &c.open)
	return c.end(dst, d, &c.close), true
}

// due returns how much sound after its decision the placing of an edge waits for.
func (c *contacts) due(e *edge) int64 {
	if e.waited {
		return softLook * c.look
	}
	return c.look
}

// place places an edge, or withdraws it where there is none, and then reads the changes after it anew. It is false when
// the edge was the newest change.
func (c *contacts) place(dst []Event, d *Detector, e *edge) ([]Event, bool) {
	got, ok := d.ref.place(d, e, c.log[e.at+1:])
	if got.more {
		e.waited = true
		return dst, true
	}
	if ok && e.ch.jumped(got) {
		return c.jumped(dst, d, e, got)
	}
	if ok {
		e.placed = true
		e.ev.Stage = Placed
		e.ev.Frame, e.ev.Frac, e.ev.Uncertainty = got.frame, got.frac, got.u
		e.ev.Half, e.ev.HalfUncertainty = got.half, got.halfU
		e.ev.Before, e.ev.After = got.before, got.after
		e.ev.LastFrame = max(got.frame, got.last)
		e.hidden, e.level = got.hidden, d.ref.unturned(d, got.after)
		dst = append(dst, e.ev)
		if got.clean {
			dst = c.tidy(dst, d, e, got)
		}
		return dst, true
	}
	was := other(e.ch.to)
	from, jumped := e.at, got.why == CausePhase
	if e == &c.open && c.close.live {
		a, b := e.ev.Before, c.close.ev.After
		jumped = jumped || alike(a, b) && mag(a-b) > jumpMiss*mag(a)
		dst = c.withdraw(dst, &c.close, got.why)
	}
	dst = c.withdraw(dst, e, got.why)
	if jumped {
		dst = append(dst, c.single(KindFault, CausePhase, e.ev.Frame, d.n-1))
	}
	if len(c.log) < from+2 {
		return dst, false
	}
	// The change after it undid it: go on with those that follow.
	rest := c.log[from+2:]
	c.log = c.log[:from]
	c.state = was
	for _, ch := range rest {
		ch.decided = d.n - 1 // only now is it known what it is
		dst = c.change(dst, ch, &d.cable)
	}
	return dst, true
}

// jumped takes edge e back, which is none: the tone went on at its level, at another phase. It is false when more changes
// followed, so that the state has to be found again.
func (c *contacts) jumped(dst []Event, d *Detector, e *edge, got placed) ([]Event, bool) {
	if e == &c.open && c.close.live {
		dst = c.withdraw(dst, &c.close, CausePhase)
	}
	dst = c.withdraw(dst, e, CausePhase)
	dst = append(dst, c.single(KindFault, CausePhase, got.frame, d.n-1))
	last := c.log[len(c.log)-1].frame
	c.log = c.log[:e.at]
	if last >= got.until {
		return dst, false
	}
	was := other(e.ch.to)
	c.state, c.since = was, got.frame
	d.correct(was, got.frame, got.after)
	return dst, true
}

// tidy forgets the changes after edge e in the window of a clean step: one step explains all the sound of it, so the trigger was
// misled (by a tone that came back at a phase of its own). Where they left the state turned, it is put right.
func (c *contacts) tidy(dst []Event, d *Detector, e *edge, got placed) []Event {
	n := 0
	for e.at+1+n < len(c.log) && c.log[e.at+1+n].frame < got.until {
		n++
	}
	if n == 0 {
		return dst
	}
	if n%2 == 1 {
		if e.at+1+n < len(c.log) {
			return dst // the sound went on to change after the window
		}
		c.state, c.since = e.ch.to, e.ch.frame
		d.correct(e.ch.to, e.ch.frame, got.after)
	}
	if e == &c.open && c.close.live {
		if c.close.at <= e.at+n {
			dst = c.withdraw(dst, &c.close, CauseNoStep)
		} else {
			c.close.at -= n
		}
	}
	c.log = append(c.log[:e.at+1], c.log[e.at+1+n:]...)
	return dst
}

// end settles an edge whose bounce is over: its returns are the changes back that followed it, those up to the close where an
// opening and its closing end together.
func (c *contacts) end(dst []Event, d *Detector, e *edge) []Event {
	if !e.live || !e.settle || !e.placed || (e == &c.close && c.open.live && c.open.settle) {
		return dst // an opening settles before its closing
	}
	if why := d.cableVerdict(e); why != "" {
		return c.wasOff(dst, d, e, why)
	}
	upto := len(c.log)
	if e == &c.open && c.close.live {
		upto = c.close.at
	}
	e.ev.Reclosures = e.hidden
	for _, ch := range c.log[e.at+1 : max(upto, e.at+1)] {
		if ch.to == e.ch.to {
			e.ev.Reclosures++
			e.ev.LastFrame = max(e.ev.LastFrame, ch.frame)
		}
	}
	e.live = false
	e.ev.Stage = Settled
	d.sum.leave(e.ev)
	return append(dst, e.ev)
}

func (c *contacts) withdraw(dst []Event, e *edge, why Cause) []Event {
	e.live = false
	e.ev.Stage, e.ev.Cause = Withdrawn, why
	if why == CauseNoStep {
		c.undone++
	}
	return append(dst, e.ev)
}

// finish ends what is on its way when no more sound follows on: placed if at least a sixth of the usual look-ahead is
// there, otherwise withdrawn.
func (c *contacts) finish(dst []Event, d *Detector, why Cause) []Event {
	// An edge that turns out to be none lets the changes after it be read anew, and these may begin edges of their own.
	for c.open.live || c.close.live {
		if c.close.live && c.state == Open {
			dst = c.withdraw(dst, &c.close, CauseBounce)
		}
		e := &c.open
		if !e.live {
			e = &c.close
		}
		if e.waited = true; e.live && !e.placed && d.n-e.ch.decided > c.look/6 {
			if dst, _ = c.place(dst, d, e); !e.placed {
				continue
			}
		}
		if e.live && !e.placed {
			dst = c.withdraw(dst, e, why)
		}
		e.settle = true
		dst = c.end(dst, d, e)
	}
	return dst
}
