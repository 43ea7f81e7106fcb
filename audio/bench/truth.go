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

// Truth returns what happened. Contacts that stay in a state for less than hold are bouncing: the changes from the first
// out of a lasting state to the first into a lasting state are one event. Bounce that ends in the state where it began is
// no event, and neither is what has not lasted for hold at the end of the sound. Changes at or past the end are left out,
// and so are, for gated edges, changes that no frame shows.
func (b *Bench) Truth(hold time.Duration) Truth {
	edges := b.cfg.edges()
	return Truth{Edges: edges, Events: b.cfg.events(edges, hold.Seconds()*float64(b.cfg.SampleRate))}
}

func (c Config) edges() []Edge {
	var out []Edge
	for _, ch := range c.Changes {
		frame := ch.At * float64(c.SampleRate)
		if !c.BandLimited {
			frame = float64(frameOf(ch.At, c.SampleRate))
		}
		switch {
		case frame >= float64(c.Frames):
			return out
		case !c.BandLimited && len(out) > 0 && out[len(out)-1].Frame == frame:
			out = out[:len(out)-1] // there and back within one frame
		default:
			out = append(out, Edge{Frame: frame, Closed: ch.Closed})
		}
	}
	return out
}

// events groups edges. hold is in frames.
func (c Config) events(edges []Edge, hold float64) []Event {
	var out []Event
	settled := !c.StartOpen // the lasting state
	for i := 0; i < len(edges); {
		first := i
		for i < len(edges) && c.lasts(edges, i) < hold {
			i++
		}
		if i == len(edges) {
			break
		}
		if edges[i].Closed != settled {
			settled = edges[i].Closed
			out = append(out, Event{Closed: settled, First: edges[first].Frame, Last: edges[i].Frame, Reclosures: (i - first) / 2})
		}
		i++
	}
	return out
}

// lasts returns for how long the state entered by edge i lasts [frames].
func (c Config) lasts(edges []Edge, i int) float64 {
	if i+1 < len(edges) {
		return edges[i+1].Frame - edges[i].Frame
	}
	return float64(c.Frames) - edges[i].Frame
}
