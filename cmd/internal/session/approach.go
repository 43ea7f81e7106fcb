package session

import (
	"fmt"
	"time"

	"breakcue/cmd/internal/pump"
	"breakcue/detect"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Change is one opening or closing of the points, as the journal keeps it.
type Change struct {
	Open bool
	logbook.Edge
}

// entry returns the change as an entry of the journal.
func (c Change) entry() logbook.Data {
	if c.Open {
		return logbook.Opening{Edge: c.Edge}
	}
	return logbook.Closing{Edge: c.Edge}
}

// Changes returns the openings and closings among events as the journal keeps them: see Counter. rate is in frames/s.
func Changes(events []detect.Event, rate int) []Change {
	var out []Change
	count := Counter{Rate: rate}
	for _, e := range events {
		if c, ok := count.Change(e); ok {
			out = append(out, c)
		}
	}
	return out
}

// Counter turns events into openings and closings as the journal keeps them, in the order of the events. With two sets of
// points each detector counts its events by itself, so the IDs are given here: openings count from 1, and closings too.
type Counter struct {
	Rate               int // [frames/s]
	openings, closings int64
}

// Change takes the next event; ok is false when it is no settled opening or closing.
func (n *Counter) Change(e detect.Event) (c Change, ok bool) {
	if e.Stage != detect.Settled || (e.Kind != detect.KindOpen && e.Kind != detect.KindClose) {
		return Change{}, false
	}
	fs := float64(n.Rate)
	level := func(z complex128) logbook.Level { return logbook.Level{I: real(z), Q: imag(z)} }
	c = Change{Open: e.Kind == detect.KindOpen, Edge: logbook.Edge{
		Set: e.Set, Frame: e.Frame, Frac: e.Frac, TimeS: e.At() / fs, Uncertainty: e.Uncertainty / fs,
		Reclosures: e.Reclosures, SettleS: max(0, float64(e.LastFrame)-float64(e.Frame)) / fs,
		Before: level(e.Before), After: level(e.After),
	}}
	if c.Open {
		n.openings++
		c.ID = n.openings
	} else {
		n.closings++
		c.ID = n.closings
	}
	return c, true
}

// Approach is one approach to the mark: the openings that take one reading.
//
// The edge is that of the first opening, with its ID, instant and uncertainty. Reclosures counts every closing after the
// first break, those between the openings too; SettleS reaches to the last break of the last opening, and After is the
// level then.
type Approach struct {
	logbook.Edge
	Openings []logbook.Edge // as heard, in time; one or more
	ClosedS  float64        // how long the points were closed since the approach before; 0 when there is none
}

// Approaches groups the openings of one recording, given in the order of time with the closings between them. Slowly
// parting points chatter: an opening belongs to the approach of the one before, in the same set of points, when they were
// closed for less than within [s] in between, from the first make to the next break. With within 0 each opening stands for
// itself. Approaches come in the order of their first openings; one more change never alters any but the newest of its
// set, so that sound can be grouped while it comes in.
//
// Where the closing is missing, the points were closed for less than the time from the last break of the one opening to
// the first break of the other; that is taken instead.
func Approaches(changes []Change, within float64) []Approach {
	g := grouping{within: within}
	for _, c := range changes {
		g.hear(c)
	}
	return g.approaches
}

// grouping makes Approaches of changes one by one.
type grouping struct {
	within     float64 // [s]
	approaches []Approach
	newest     map[int]*newestOpening // of each set
}

func (g *grouping) hear(c Change) {
	last, begun := g.newest[c.Set]
	switch {
	case !c.Open && begun:
		last.close(c)
		return
	case !c.Open:
		return
	case begun && g.within > 0 && c.TimeS-last.closedAt < g.within:
		g.approaches[last.approach].join(c.Edge, max(1, last.makes))
	default:
		next := Approach{Edge: c.Edge, Openings: []logbook.Edge{c.Edge}}
		if begun {
			next.ClosedS = c.TimeS - last.closedAt
		} else {
			last = &newestOpening{}
			if g.newest == nil {
				g.newest = map[int]*newestOpening{}
			}
			g.newest[c.Set] = last
		}
		last.approach = len(g.approaches)
		g.approaches = append(g.approaches, next)
	}
	last.closedAt, last.makes = c.TimeS+c.SettleS, 0
}

// newestOpening is what is known since the newest opening of a set.
type newestOpening struct {
	approach int     // the one it belongs to
	closedAt float64 // first make since [s]; without one, the opening's last break
	makes    int     // how often the points closed since, bounce and all
}

func (n *newestOpening) close(c Change) {
	if n.makes == 0 {
		n.closedAt = c.TimeS
	}
	n.makes += 1 + c.Reclosures
}

// join adds an opening that came after the given number of closings.
func (a *Approach) join(o logbook.Edge, makes int) {
	a.Openings = append(a.Openings, o)
	a.Reclosures += makes + o.Reclosures
	a.SettleS = o.TimeS + o.SettleS - a.TimeS
	a.After = o.After
}

// ChatterGap is longer than points that part slowly stay closed between two openings, and shorter than a hand takes
// to turn back and come forward again (common practice).
const ChatterGap = 300 * time.Millisecond

// ApproachFor chooses what Approaches takes as within [s] for a number of readings, "-" among them. As many readings as
// openings, or a number that fits nothing, leaves each opening to itself: 0. As many as there are approaches by the usual
// gap of chatter gives that, and a caveat that says so.
func ApproachFor(heard []Change, readings int) (within float64, said []timing.Caveat) {
	openings, approaches := len(Approaches(heard, 0)), len(Approaches(heard, ChatterGap.Seconds()))
	if readings == openings || readings != approaches {
		return 0, nil
	}
	return ChatterGap.Seconds(), assumed(openings, approaches, fmt.Sprintf(" and %s", count(readings, "reading")))
}

// ApproachToAsk is ApproachFor when the readings are still to be typed: openings that follow a closing within the usual gap
// of chatter are taken together, and a caveat says so.
func ApproachToAsk(heard []Change) (within float64, said []timing.Caveat) {
	openings, approaches := len(Approaches(heard, 0)), len(Approaches(heard, ChatterGap.Seconds()))
	if openings == approaches {
		return 0, nil
	}
	return ChatterGap.Seconds(), assumed(openings, approaches, "")
}

func assumed(openings, approaches int, more string) []timing.Caveat {
	return []timing.Caveat{{Code: "approach_assumed", Message: fmt.Sprintf(
		"%s%s: openings less than %.1f s after a closing are taken together, which makes %s; with --approach 0 each opening takes a reading",
		count(openings, "opening"), more, ChatterGap.Seconds(), pump.Count(approaches, "approach", "approaches"))}}
}

// chatterNote says how many approaches begin so soon after a closing that they seem to belong to the one before, and what
// to do; it is empty when none does.
func chatterNote(approaches []Approach) string {
	n := 0
	for _, a := range approaches {
		if a.ClosedS > 0 && a.ClosedS < ChatterGap.Seconds() {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%s came less than %.1f s after the points had closed, as when points part slowly: "+
		"if one reading was taken for all openings of an approach, run the session again with --approach %v", count(n, "opening"), ChatterGap.Seconds(), ChatterGap)
}
