package corpus

// The kinds of edges, from the contacts' point of view.
const (
	Open  = "open"
	Close = "close"
)

// Edge is one change of the contacts. Sample is counted from 0: the first frame in the new state of a hard edge, a whole number; the 50 %
// instant of any other, which may lie between frames.
type Edge struct {
	Kind   string  `json:"kind"`
	Sample float64 `json:"sample"`
}

// Truth is what is known of a recording.
type Truth struct {
	File       string       `json:"file"`
	Rate       int          `json:"fs"` // [frames/s]
	Frames     int64        `json:"n_samples"`
	Channel    int          `json:"channel"`     // with the tone, from 0
	Wiring     string       `json:"wiring"`      // "series": points closed = tone; "shunt": points open = tone
	FirstState string       `json:"first_state"` // "closed" or "open"
	Tone       float64      `json:"f0"`          // [Hz]
	SNR        float64      `json:"snr_db"`      // rounding to 8 or 16 bits included
	Left       float64      `json:"left"`        // of the tone in the quiet state, over that in the loud one
	LeftTurn   float64      `json:"left_turn"`   // phase of that against the loud one [turns]
	Edges      []Edge       `json:"edges"`       // first breaks and first makes, in time
	Ignore     [][2]float64 `json:"ignore"`      // stretches in which further edges are no mistake, ends included [frames]
	Doc        string       `json:"note"`
}

// Take is one recording with its truth.
type Take struct {
	Truth    Truth
	Channels int
	// Hard tells that its edges lie between one frame and the next.
	Hard bool
	// Lone is the step whose limit can be measured (see Limit); nil where noise is not what limits: clipping, codecs.
	Lone *Step

	next func() float32 // the next sample of the tone's channel
	side func() float32 // of the other one, where there are two
	done []float32      // or all samples, interleaved
}

// blockFrames is how many frames Each gives at a time.
const blockFrames = 1 << 14

// Each calls f with the whole recording, block after block of interleaved samples, each valid until f returns; once only. An error of f ends it.
func (t *Take) Each(f func(block []float32) error) error {
	block := make([]float32, 0, blockFrames*t.Channels)
	for left := t.Truth.Frames; left > 0; left -= int64(len(block) / t.Channels) {
		block = block[:min(left, blockFrames)*int64(t.Channels)]
		t.fill(block)
		if err := f(block); err != nil {
			return err
		}
	}
	return nil
}

func (t *Take) fill(block []float32) {
	if t.done != nil {
		t.done = t.done[copy(block, t.done):]
		return
	}
	for i := range block {
		if t.Channels == 2 && i%2 != t.Truth.Channel {
			block[i] = t.side()
		} else {
			block[i] = t.next()
		}
	}
}

// Samples returns the whole recording, interleaved; like Each, once only.
func (t *Take) Samples() []float32 {
	all := make([]float32, t.Truth.Frames*int64(t.Channels))
	t.fill(all)
	return all
}
