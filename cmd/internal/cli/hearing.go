package cli

import (
	"fmt"
	"math"
	"slices"
	"time"

	"breakcue/cmd/internal/cue"
	"breakcue/detect"
)

// shower shows a View: the big screen, or lines.
type shower interface{ Show(cue.View) }

// ear is what has been heard of one set of points.
type ear struct {
	set  int    // from 1; 0: there is one
	name string // of the set, where there are two

	counted     []int64 // IDs of the openings that count, oldest first
	openedAt    time.Time
	opened      detect.Event // newest opening, settled or on its way
	provisional bool         // it counts only once the points have closed again
	thrown      int          // openings thrown away
	refused     int64        // opening that turned out not to count, since the session has asked; 0: none
	other       string       // what is to be noted of a closing at another level, since then
	doubted     detect.Event // closing after which the tone seemed to come back at another level; ID 0: none
	looks       int64        // frame at which doubted is looked at again
	doubtful    int64        // opening whose closing was not heard, since tick was called; 0: none
	unheard     bool         // since the newest change the points may have closed without being heard
}

// hearing turns the events of live sound into what is shown. It belongs to the goroutine that hears.
type hearing struct {
	follower follower
	out      shower
	now      func() time.Time
	rate     int // [frames/s]
	wiring   detect.Wiring

	ear         // of the points, or of the first set
	second *ear // nil: there is one set
	hand   int  // set whose openings are passes, from 1; 0: each, or the one there is

	view      cue.View
	shown     cue.View
	order     []int64       // of all openings that were not taken back: their places are the numbers, as in the log
	next      int64         // frame at which the health of the signal is looked at again
	gaps      int           // in the sound
	gapEnd    int64         // frame at which the newest of them ended
	repeated  bool          // the newest event of a gap told what that of the other set had told
	apart     bool          // no opening counts as a pass: nothing is measured
	unplugged bool          // no cable is on the points yet, or any more: what comes back says nothing
	standing  string        // advice while the signal needs none: the result of the last reading
	failing   func() string // tells what else is wrong; nil: nothing can be
}

// both lets two sets of points be heard, by their names.
func (h *hearing) both(first, second string) {
	h.ear.set, h.ear.name = 1, first
	h.second = &ear{set: 2, name: second}
}

// ears are those of the sets of points there are.
func (h *hearing) ears() []*ear {
	if h.second == nil {
		return []*ear{&h.ear}
	}
	return []*ear{&h.ear, h.second}
}

// of returns the ear of a set.
func (h *hearing) of(set int) *ear {
	if h.second != nil && set == h.second.set {
		return h.second
	}
	return &h.ear
}

// mine tells that the openings of a set are those that are measured, or looked at.
func (h *hearing) mine(x *ear) bool { return h.second == nil || h.hand == 0 || x.set == h.hand }

// healthEvery is how often the health of the signal is shown anew [s].
const healthEvery = 0.25

// event takes an event at one of its stages.
func (h *hearing) event(e detect.Event) {
	x := h.of(e.Set)
	switch {
	case e.Kind == detect.KindOpen && e.Stage == detect.Decided:
		if h.mine(x) {
			h.view.Note, h.view.Result = "", ""
		}
		if x.doubted.ID != 0 {
			h.judge(x, x.doubted.After)
		}
		x.counted, h.order = append(x.counted, e.ID), append(h.order, e.ID)
		x.opened = e
		x.openedAt = h.now().Add(-h.seconds(h.follower.Frame() - e.Frame))
		x.unheard = false
		x.provisional = h.wiring == detect.Series
	case e.Kind == detect.KindOpen && e.Stage == detect.Withdrawn:
		h.uncount(e.ID)
		h.strike(e.ID)
	case e.Kind == detect.KindOpen && e.ID == x.opened.ID:
		x.opened = e
		if e.Stage == detect.Settled {
			x.provisional = h.provisional(e)
		}
	case e.Kind == detect.KindClose && e.Stage == detect.Decided:
		x.unheard = false
	case e.Kind == detect.KindClose && e.Stage == detect.Settled:
		if same, known := h.returned(e); known && !same {
			x.doubted, x.looks = e, h.follower.Frame()+int64(secondLook*float64(h.rate))
			break
		}
		x.provisional = false
	case isGap(e):
		if h.repeated = h.second != nil && e.Frame <= h.gapEnd; !h.repeated {
			h.gaps++
		}
		h.gapEnd = max(h.gapEnd, e.LastFrame)
		h.view.Note = "sound was lost: an opening just now may have been missed"
		x.unheard = true
	case e.Kind == detect.KindLost:
		x.unheard = true
		h.health()
	}
	h.refresh()
}

// strike takes an opening that was none off the numbers. Of two sets the other one's openings after it may be in the log already: they
// keep theirs.
func (h *hearing) strike(id int64) {
	if h.second == nil {
		h.order = slices.DeleteFunc(h.order, func(one int64) bool { return one == id })
	} else if at := slices.Index(h.order, id); at >= 0 {
		h.order[at] = takenBack
	}
}

// takenBack stands for an opening that was taken back among those of two sets.
const takenBack = -1

// secondLook is how long after a closing at another level it is looked at again [s]: a blow within some milliseconds of the closing
// spoils what is measured there.
const secondLook = 0.25

// judge decides on a closing after which the tone seemed to come back at another level, by the level that it has now: what opened
// before may have been a lead that fell off. Where it cannot be told from one it does not count.
func (h *hearing) judge(x *ear, now complex128) {
	c, lead := x.doubted, x.provisional
	x.doubted, x.provisional = detect.Event{}, false
	if c.After = now; sameLevel(x.opened, c) {
		return
	}
	x.other = fmt.Sprintf("at %.3f s the points closed at another level than before (%s): what looked like an opening just before may have been a lead that fell off",
		c.At()/float64(h.rate), louder(x.opened, c))
	if lead && slices.Contains(x.counted, x.opened.ID) {
		h.view.Note = fmt.Sprintf("opening %d does not count: the tone came back %s; check the clips", h.number(x.opened.ID), louder(x.opened, c))
		h.uncount(x.opened.ID)
		x.refused = x.opened.ID
	}
}

// number returns the number of an opening, 0 for one that was taken back.
func (h *hearing) number(id int64) int { return slices.Index(h.order, id) + 1 }

// isGap tells of sound that was lost: frames that are missing, exact zeros in their place, or a jump of the tone's phase over them.
func isGap(e detect.Event) bool {
	return e.Kind == detect.KindFault && (e.Cause == detect.CauseGap || e.Cause == detect.CauseDropout || e.Cause == detect.CausePhase)
}

// provisional tells that an opening cannot be told from a lead that fell off: in line, with nothing of the tone left.
func (h *hearing) provisional(e detect.Event) bool {
	return h.wiring == detect.Series && level(e.After) < leadOff*level(e.Before)
}

const (
	leadOff  = 0.05 // of the closed level: less comes back through a lead that fell off, by stray capacitance
	backAt   = 0.3  // of the distance of the two levels, within which the tone must come back
	quietest = 1e-10
)

func level(z complex128) float64 { return math.Max(quietest, math.Hypot(real(z), imag(z))) }

// returned tells whether the points have closed, by c, at the level they had before the opening; known is false where no opening
// was heard before.
func (h *hearing) returned(c detect.Event) (same, known bool) {
	opened := h.of(c.Set).opened
	if opened.Stage != detect.Settled || opened.Frame > c.Frame {
		return false, false
	}
	return sameLevel(opened, c), true
}

// sameLevel tells that the points closed again, by c, at the level they had before they opened by o.
func sameLevel(o, c detect.Event) bool {
	was, is := level(o.Before), level(c.After)
	return math.Abs(is-was) < backAt*math.Abs(was-level(o.After))
}

// louder says by how much another level the tone came back.
func louder(o, c detect.Event) string {
	db := 20 * math.Log10(level(c.After)/level(o.Before))
	if db < 0 {
		return fmt.Sprintf("%.0f dB quieter", -db)
	}
	return fmt.Sprintf("%.0f dB louder", db)
}

// uncount takes openings out of the count. It returns the number of the first of them and how many were in it.
func (h *hearing) uncount(ids ...int64) (number, n int) {
	for _, x := range h.ears() {
		kept := x.counted[:0]
		for _, id := range x.counted {
			switch {
			case !slices.Contains(ids, id):
				kept = append(kept, id)
				continue
			case n == 0:
				number = h.number(id)
			}
			n++
		}
		x.counted = kept
		if slices.Contains(ids, x.opened.ID) {
			x.openedAt = time.Time{}
			x.provisional = false
		}
	}
	return number, n
}

// newest returns the ID of the newest opening that counts, of the set at hand where one is; without one it says so and returns 0.
func (h *hearing) newest() int64 {
	if id := h.last(); id != 0 {
		return id
	}
	h.view.Note = "there is no opening to throw away"
	h.refresh()
	return 0
}

// last returns the ID of the newest opening that counts, of the set at hand where one is; 0: there is none.
func (h *hearing) last() (id int64) {
	for _, x := range h.ears() {
		if n := len(x.counted); n > 0 && h.mine(x) && h.number(x.counted[n-1]) > h.number(id) {
			id = x.counted[n-1]
		}
	}
	return id
}

// throwAway takes openings out of the count because somebody wants it, and says so.
func (h *hearing) throwAway(ids ...int64) {
	for _, x := range h.ears() {
		for _, id := range ids {
			if slices.Contains(x.counted, id) {
				x.thrown++
			}
		}
	}
	number, n := h.uncount(ids...)
	switch {
	case n == 1:
		h.view.Note = fmt.Sprintf("opening %d thrown away", number)
	case n > 1 && h.second != nil: // those of the other set lie between
		h.view.Note = fmt.Sprintf("%d openings from number %d on thrown away, of one approach", n, number)
	case n > 1:
		h.view.Note = fmt.Sprintf("openings %d to %d thrown away, of one approach", number, number+n-1)
	}
	h.refresh()
}

// tick is called after each block.
func (h *hearing) tick() {
	for _, x := range h.ears() {
		x.doubtful = 0
		state := h.follower.State(x.set)
		if x.doubted.ID != 0 && h.follower.Frame() >= x.looks {
			now := x.doubted.After
			if state == detect.Closed {
				now = complex(h.follower.Health(x.set).Levels.Closed, 0)
			}
			h.judge(x, now)
		}
		if x.unheard && x.provisional && state == detect.Closed {
			x.provisional = false
			h.view.Note = fmt.Sprintf("opening %d counts, but is not confirmed: sound was lost", h.number(x.opened.ID))
			x.doubtful = x.opened.ID
		}
	}
	if h.follower.Frame() >= h.next {
		h.next = h.follower.Frame() + int64(healthEvery*float64(h.rate))
		h.health()
	}
	h.refresh()
}

// refresh shows what has changed.
func (h *hearing) refresh() {
	v := h.view
	v.Number = 0
	for i, x := range h.ears() {
		p := h.points(x)
		if h.second != nil {
			v.Sets[i], v.Hand = p, h.hand
			v.Number = max(v.Number, p.Number)
			continue
		}
		v.State, v.Number, v.OpenedAt, v.Provisional, v.Thrown = p.State, p.Number, p.OpenedAt, p.Provisional, p.Thrown
	}
	if v != h.shown {
		h.shown = v
		h.out.Show(v)
	}
	h.view = v
}

// points is what is to be shown of a set of points.
func (h *hearing) points(x *ear) cue.Points {
	p := cue.Points{Name: x.name, OpenedAt: x.openedAt, Provisional: x.provisional && !h.apart && h.mine(x), Thrown: x.thrown}
	if n := len(x.counted); n > 0 {
		p.Number = h.number(x.counted[n-1])
	}
	p.State = map[detect.State]cue.State{detect.Closed: cue.Closed, detect.Open: cue.Open, detect.Lost: cue.Lost}[h.follower.State(x.set)]
	if h.unplugged { // there are no points to be told of
		p.State = cue.Unknown
	}
	if p.State == cue.Closed || h.unplugged {
		p.OpenedAt = time.Time{}
	}
	return p
}

func (h *hearing) seconds(frames int64) time.Duration {
	return time.Duration(float64(frames) / float64(h.rate) * float64(time.Second))
}
