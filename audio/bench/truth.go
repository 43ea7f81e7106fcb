package bench

import "time"

// Edge is one change of the contacts as the sound shows it.
type Edge struct {
	// Frame is where the change stands in the sound [frames]: for a gated edge the first frame in the new state, a whole
	// number; for a band-limited one the exact instant.
	Frame  float64
	Closed bool // the state from then on
}

// Event is an opening or a closing, with its bounce.
type Event struct {
	Closed bool // the state entered
	// First is the first break (make) and Last the one after which the contacts stayed [frames].
	First, Last float64
	// Reclosures counts how often in between the contacts went back.
	Reclosures int
}

// Truth is what really happened in a sound.
type Truth struct {
	Edges  []Edge
	Events []Event
}

// Truth returns what happened, changes grouped into openings and closings. hold is the longest time for which contacts
// that bounce or chatter return to the state they left.
//
//   - An opening begins with a break. Until the points have stayed open for hold, every return for less than hold is a
//     re-closure of it.
//   - Points that have stayed closed for hold have closed: with the first make since they last stayed open for hold, or since
//     they last broke when they have not. Re-openings after that make are the closing's own re-closures.
//   - Points that stay open for hold have not closed after all: the returns before were re-closures of the opening, or
//     nothing where the points had been open for 250 ms (or hold, if longer) in one stretch before.
//
// The state at the start has lasted for ever; at the end of the sound, what is on its way counts as far as it came. Changes
// at or past the end are left out, and so are, for gated edges, changes that no frame shows. Changes that were added count,
// played or not; in a sound without an end the last state lasts for ever, until more are added.
func (b *Bench) Truth(hold time.Duration) Truth {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.cfg.truth(hold)
}

func (c Config) truth(hold time.Duration) Truth {
	edges := c.edges()
	return Truth{Edges: edges, Events: c.events(edges, hold.Seconds()*float64(c.SampleRate))}
}

func (c Config) edges() []Edge {
	var out []Edge
	for _, ch := range c.Changes {
		frame := ch.At * float64(c.SampleRate)
		if !c.BandLimited {
			frame = float64(frameOf(ch.At, c.SampleRate))
		}
		switch {
		case frame >= float64(c.end()):
			return out
		case !c.BandLimited && len(out) > 0 && out[len(out)-1].Frame == frame:
			out = out[:len(out)-1] // there and back within one frame
		default:
			out = append(out, Edge{Frame: frame, Closed: ch.Closed})
		}
	}
	return out
}

// overIn is how long contacts stay open until an opening is over and does not take up re-closures any more [s].
const overIn = 0.25

// events groups edges. hold is in frames.
func (c Config) events(edges []Edge, hold float64) []Event {
	over := max(hold, overIn*float64(c.SampleRate))
	var out []Event
	var opening, closing *Event // on their way
	undo := func(last float64) {
		if opening != nil {
			opening.Reclosures += closing.Reclosures + 1
			opening.Last = last
		}
		closing = nil
	}
	finish := func() {
		for _, e := range []*Event{opening, closing} {
			if e != nil {
				out = append(out, *e)
			}
		}
		opening, closing = nil, nil
	}
	steady := true // the points have stayed open for hold since they broke
	for i, e := range edges {
		lasts := c.lasts(edges, i)
		if e.Closed {
			if closing == nil {
				closing = &Event{Closed: true, First: e.Frame, Last: e.Frame}
			} else {
				closing.Reclosures++
				closing.Last = e.Frame
			}
			if lasts >= hold {
				finish()
			}
			continue
		}
		switch {
		case closing == nil:
			opening = &Event{First: e.Frame, Last: e.Frame}
			steady = false
		case !steady || lasts >= hold || i == len(edges)-1:
			undo(e.Frame)
		}
		steady = steady || lasts >= hold
		if lasts >= over {
			finish()
		}
	}
	finish()
	return out
}

// lasts returns for how long the state entered by edge i lasts [frames].
func (c Config) lasts(edges []Edge, i int) float64 {
	if i+1 < len(edges) {
		return edges[i+1].Frame - edges[i].Frame
	}
	return float64(c.end()) - edges[i].Frame
}
