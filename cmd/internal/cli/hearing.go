package cli

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// shower shows a View: the big screen, or lines.
type shower interface{ Show(cue.View) }

// hearing turns the events of live sound into what is shown. It belongs to the goroutine that hears.
type hearing struct {
	follower *pump.Follower
	out      shower
	now      func() time.Time
	rate     int // [frames/s]
	wiring   detect.Wiring

	view      cue.View
	shown     cue.View
	counted   []int64 // IDs of the openings that count, oldest first
	order     []int64 // of all openings that were not taken back: their places are the numbers, as in the log
	openedAt  time.Time
	opened    detect.Event  // newest opening, settled or on its way
	next      int64         // frame at which the health of the signal is looked at again
	gaps      int           // in the sound
	refused   int64         // opening that turned out not to count, since the session has asked; 0: none
	other     string        // what is to be noted of a closing at another level, since then
	doubted   detect.Event  // closing after which the tone seemed to come back at another level; ID 0: none
	looks     int64         // frame at which doubted is looked at again
	doubtful  int64         // opening whose closing was not heard, since tick was called; 0: none
	unheard   bool          // since the newest change the points may have closed without being heard
	apart     bool          // no opening counts as a pass: nothing is measured
	unplugged bool          // no cable is on the points yet, or any more: what comes back says nothing
	standing  string        // advice while the signal needs none: the result of the last reading
	failing   func() string // tells what else is wrong; nil: nothing can be
}

// healthEvery is how often the health of the signal is shown anew [s].
const healthEvery = 0.25

// event takes an event at one of its stages.
func (h *hearing) event(e detect.Event) {
	switch {
	case e.Kind == detect.KindOpen && e.Stage == detect.Decided:
		h.view.Note, h.view.Result = "", ""
		if h.doubted.ID != 0 {
			h.judge(h.doubted.After)
		}
		h.counted, h.order = append(h.counted, e.ID), append(h.order, e.ID)
		h.opened = e
		h.openedAt = h.now().Add(-h.seconds(h.follower.Frame() - e.Frame))
		h.unheard = false
		h.view.Provisional = h.wiring == detect.Series
	case e.Kind == detect.KindOpen && e.Stage == detect.Withdrawn:
		h.uncount(e.ID)
		h.order = slices.DeleteFunc(h.order, func(id int64) bool { return id == e.ID })
	case e.Kind == detect.KindOpen && e.ID == h.opened.ID:
		h.opened = e
		if e.Stage == detect.Settled {
			h.view.Provisional = h.provisional(e)
		}
	case e.Kind == detect.KindClose && e.Stage == detect.Decided:
		h.unheard = false
	case e.Kind == detect.KindClose && e.Stage == detect.Settled:
		if same, known := h.returned(e); known && !same {
			h.doubted, h.looks = e, h.follower.Frame()+int64(secondLook*float64(h.rate))
			break
		}
		h.view.Provisional = false
	case isGap(e):
		h.gaps++
		h.view.Note = "sound was lost: an opening just now may have been missed"
		h.unheard = true
	case e.Kind == detect.KindLost:
		h.unheard = true
	}
	h.refresh()
}

// secondLook is how long after a closing at another level it is looked at again [s]: a blow within some milliseconds of the closing
// spoils what is measured there.
const secondLook = 0.25

// judge decides on a closing after which the tone seemed to come back at another level, by the level that it has now: what opened
// before may have been a lead that fell off. Where it cannot be told from one it does not count.
func (h *hearing) judge(now complex128) {
	c, lead := h.doubted, h.view.Provisional
	h.doubted, h.view.Provisional = detect.Event{}, false
	if c.After = now; sameLevel(h.opened, c) {
		return
	}
	h.other = fmt.Sprintf("at %.3f s the points closed at another level than before (%s): what looked like an opening just before may have been a lead that fell off",
		c.At()/float64(h.rate), louder(h.opened, c))
	if lead && slices.Contains(h.counted, h.opened.ID) {
		h.view.Note = fmt.Sprintf("opening %d does not count: the tone came back %s; check the clips", h.number(h.opened.ID), louder(h.opened, c))
		h.uncount(h.opened.ID)
		h.refused = h.opened.ID
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
	if h.opened.Stage != detect.Settled || h.opened.Frame > c.Frame {
		return false, false
	}
	return sameLevel(h.opened, c), true
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
	kept := h.counted[:0]
	for _, id := range h.counted {
		switch {
		case !slices.Contains(ids, id):
			kept = append(kept, id)
			continue
		case n == 0:
			number = h.number(id)
		}
		n++
	}
	h.counted = kept
	if slices.Contains(ids, h.opened.ID) {
		h.openedAt = time.Time{}
		h.view.Provisional = false
	}
	return number, n
}

// newest returns the ID of the newest opening that counts; without one it says so and returns 0.
func (h *hearing) newest() int64 {
	if n := len(h.counted); n > 0 {
		return h.counted[n-1]
	}
	h.view.Note = "there is no opening to throw away"
	h.refresh()
	return 0
}

// throwAway takes openings out of the count because somebody wants it, and says so.
func (h *hearing) throwAway(ids ...int64) {
	number, n := h.uncount(ids...)
	h.view.Thrown += n
	switch {
	case n == 1:
		h.view.Note = fmt.Sprintf("opening %d thrown away", number)
	case n > 1:
		h.view.Note = fmt.Sprintf("openings %d to %d thrown away, of one approach", number, number+n-1)
	}
	h.refresh()
}

// tick is called after each block.
func (h *hearing) tick() {
	h.doubtful = 0
	if h.doubted.ID != 0 && h.follower.Frame() >= h.looks {
		now := h.doubted.After
		if h.follower.State() == detect.Closed {
			now = complex(h.follower.Health().Levels.Closed, 0)
		}
		h.judge(now)
	}
	if h.unheard && h.view.Provisional && h.follower.State() == detect.Closed {
		h.view.Provisional = false
		h.view.Note = fmt.Sprintf("opening %d counts, but is not confirmed: sound was lost", h.number(h.opened.ID))
		h.doubtful = h.opened.ID
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
	if n := len(h.counted); n > 0 {
		v.Number = h.number(h.counted[n-1])
	}
	v.State = map[detect.State]cue.State{detect.Closed: cue.Closed, detect.Open: cue.Open, detect.Lost: cue.Lost}[h.follower.State()]
	v.OpenedAt = h.openedAt
	v.Provisional = v.Provisional && !h.apart
	if h.unplugged { // there are no points to be told of
		v.State = cue.Unknown
	}
	if v.State == cue.Closed || h.unplugged {
		v.OpenedAt = time.Time{}
	}
	if v != h.shown {
		h.shown = v
		h.out.Show(v)
	}
	v.Provisional = h.view.Provisional
	h.view = v
}

// health looks at the signal.
func (h *hearing) health() {
	s := h.follower.Health()
	v := &h.view
	v.Health, v.Advice, v.Warning = "", h.standing, ""
	loud := math.Max(s.Levels.Closed, s.Levels.Open)
	above := pump.DBFS(loud) - pump.DBFS(math.Sqrt2*s.Levels.Noise)
	switch {
	case h.unplugged:
	case s.Known:
		v.Health = fmt.Sprintf("points closed %s, points open %s, tone %.0f dB above the noise",
			loudness(s.Levels.Closed), loudness(s.Levels.Open), math.Min(above, 120))
		if above < 10 {
			v.Warning = "the tone is hardly louder than the noise: raise --level, or turn the input up"
		}
	case errors.Is(s.Reason, detect.ErrNoChange) && loud > 0:
		v.Health = fmt.Sprintf("the tone comes back at %.0f dBFS, %.0f dB above the noise", pump.DBFS(loud), math.Min(above, 120))
		v.Advice = "Open and close the points once: then both levels are known."
	case errors.Is(s.Reason, detect.ErrSilence):
		v.Health = "dead silence at the input"
		v.Warning = "is the input plugged in, and its level up?"
	case errors.Is(s.Reason, detect.ErrNoTone), errors.Is(s.Reason, detect.ErrNoChange):
		v.Health = "no tone comes back"
		v.Advice = "Close the points. If they are closed: check the cable, the clips and the levels."
		if h.wiring == detect.Shunt {
			v.Advice = "Open the points. If they are open: check the cable, the clips and the levels."
		}
	case s.Reason == nil, errors.Is(s.Reason, detect.ErrTooShort):
		v.Health = "listening for the tone"
	default:
		v.Warning = s.Reason.Error()
		v.Advice = liveHint(s.Reason)
	}
	if h.follower.State() == detect.Lost && !h.unplugged {
		v.Warning = "what comes back fits neither state: check the clips"
		v.Advice = "Open and close the points once: then both levels are learnt anew."
	}
	for _, c := range s.Caveats {
		if !h.unplugged {
			v.Warning = c.Message
		}
	}
	if h.failing != nil {
		if text := h.failing(); text != "" {
			v.Warning = text
		}
	}
}

// liveHint tells what to do about a reason for which live sound says nothing.
func liveHint(err error) string {
	switch {
	case errors.Is(err, detect.ErrTooShort):
		return "let it listen longer, and open and close the points meanwhile"
	case errors.Is(err, detect.ErrNoChange):
		return "open and close the points while it listens; if you did, check the cable and take the coil lead off"
	case errors.Is(err, detect.ErrSilence), errors.Is(err, detect.ErrNotATone), errors.Is(err, detect.ErrContrast), errors.Is(err, detect.ErrNoise):
		return pump.HintFor(err)
	}
	return "check the cable, the clips and the levels"
}

// loudness says how much of the tone comes through.
func loudness(level float64) string {
	if db := pump.DBFS(level); db > nothing {
		return fmt.Sprintf("%.0f dBFS", db)
	}
	return "nothing"
}

// nothing is the level [dBFS] below which no sound card hears anything.
const nothing = -110

func (h *hearing) seconds(frames int64) time.Duration {
	return time.Duration(float64(frames) / float64(h.rate) * float64(time.Second))
}
