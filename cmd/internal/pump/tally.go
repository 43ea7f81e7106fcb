package pump

import (
	"math"
	"slices"

	"breakcue/audio"
)

const (
	tallyRate  = 100 // levels a second
	tallyKept  = 600 // levels: 6 s
	tallyShare = 0.05
)

// tally keeps the level of the tone in the newest hundredths of a second, in one channel.
type tally struct {
	channels, channel int
	length            int // frames of a level
	turn, at          complex128
	sum               complex128
	n                 int
	levels            []float64 // a ring
	next              int
	sorted            []float64 // scratch
}

func newTally(f audio.Format, hz float64, channel int) *tally {
	sin, cos := math.Sincos(2 * math.Pi * hz / float64(f.SampleRate))
	return &tally{channels: f.Channels, channel: channel, length: f.SampleRate / tallyRate, turn: complex(cos, -sin), at: 1,
		levels: make([]float64, 0, tallyKept), sorted: make([]float64, 0, tallyKept)}
}

func (t *tally) add(block []float32) {
	for i := t.channel; i < len(block); i += t.channels {
		t.sum += complex(float64(block[i]), 0) * t.at
		t.at *= t.turn
		if t.n++; t.n < t.length {
			continue
		}
		level := 2 * math.Hypot(real(t.sum), imag(t.sum)) / float64(t.n)
		if len(t.levels) < tallyKept {
			t.levels = append(t.levels, level)
		} else {
			t.levels[t.next] = level
		}
		t.next = (t.next + 1) % tallyKept
		t.sum, t.n = 0, 0
		t.at = complex(1, 0) // only the magnitude counts
	}
}

// spread returns the levels [full scale] below and above which few lie; full is false before there are enough.
func (t *tally) spread() (lo, hi float64, full bool) {
	if len(t.levels) < tallyKept {
		return 0, 0, false
	}
	t.sorted = append(t.sorted[:0], t.levels...)
	slices.Sort(t.sorted)
	k := int(tallyShare * float64(len(t.sorted)))
	return t.sorted[k], t.sorted[len(t.sorted)-1-k], true
}
