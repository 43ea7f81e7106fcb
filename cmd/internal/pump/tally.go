package pump

import (
	"math/cmplx"
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
	lockin
	levels []float64 // a ring
	next   int
	sorted []float64 // scratch
}

func newTally(f audio.Format, hz float64, channel int) *tally {
	return &tally{lockin: newLockin(f, hz, channel, f.SampleRate/tallyRate),
		levels: make([]float64, 0, tallyKept), sorted: make([]float64, 0, tallyKept)}
}

func (t *tally) add(block []float32) {
	t.lockin.add(block, func(level complex128) {
		if len(t.levels) < tallyKept {
			t.levels = append(t.levels, cmplx.Abs(level))
		} else {
			t.levels[t.next] = cmplx.Abs(level)
		}
		t.next = (t.next + 1) % tallyKept
	})
}

// newest returns the newest level [full scale], 0 before there is one.
func (t *tally) newest() float64 {
	if len(t.levels) == 0 {
		return 0
	}
	return t.levels[(t.next+tallyKept-1)%tallyKept%len(t.levels)]
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
