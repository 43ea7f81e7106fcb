package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// across returns what is known of a cable across points, with a level at which it is off.
func across(closed, open, off complex128, why Cause) Config {
	return Config{SampleRate: 48000, Channels: 1, Wiring: Shunt, Profile: Profile{Tone: 1010, Closed: closed, Open: open, PhaseKnown: true, Noise: 0.0018,
		Off: []OffLevel{{off, why}}}}
}

// losses returns the causes of the losses among events.
func losses(events []Event) (out []Cause) {
	for _, e := range events {
		if e.Kind == KindLost {
			out = append(out, e.Cause)
		}
	}
	return out
}

// A plug that is out leaves as little as clean points across; what it leaves tells nothing of the gain, nor does the contact resistance before and
// after it. So the next opening is found.
func TestAPlugOutAndContactResistanceLeaveTheOpenLevelAlone(t *testing.T) {
	const open = 0.25
	for name, turn := range map[string]float64{"turned by 40 degrees": -0.7, "turned by 90 degrees": -1.6} {
		for _, size := range []float64{0.02, 0.04, 0.06} {
			closed := cmplx.Rect(size, turn)
			levels := []complex128{closed, open, closed, 0, closed, open, closed / 4, closed, open, closed, 0, 2 * closed, open}
			events, states := standing(t, across(closed, open, 0, CausePlugOut), levels, []int{30, 20, 20, 30, 30, 10, 30, 30, 10, 30, 30, 30, 10})
			assert.Equal(t, []State{Closed, Open, Closed, Closed, Closed, Open, Closed, Closed, Open, Closed, Closed, Closed, Open}, states, "%s, %g", name, size)
			assert.Empty(t, losses(events))
		}
	}
}

// While closed points leave nothing to follow, the phase of the tone runs on as it was, also past a time in which the cable was off: so a clip that
// is off, hardly louder than open points, is told by its phase each time.
func TestAClipOffIsToldByPhaseThroughCleanClosedPoints(t *testing.T) {
	const closed = 0.0003
	open, off := cmplx.Rect(0.25, -0.3), complex(0.2615, 0)
	levels, long := []complex128{closed, open}, []int{30, 20}
	want := []State{Closed, Open}
	for range 6 {
		levels, long = append(levels, closed, off, closed, open), append(long, 40, 20, 40, 20)
		want = append(want, Closed, Lost, Closed, Open)
	}
	events, states := standing(t, across(closed, open, off, CauseLeadOff), levels, long)
	assert.Equal(t, want, states)
	assert.Len(t, losses(events), 6)
	for _, e := range edges(events)[1:] {
		assert.Less(t, e.DecidedFrame-e.Frame, int64(10), "the phase is known, so that the trigger decides")
	}
}

// Levels that are louder than they were when they were named have been so for long: another gain, by which a clip that is off is told all the same.
func TestAClipOffIsToldAtAnotherGain(t *testing.T) {
	const closed = 0.0003
	open, off := cmplx.Rect(0.15, -0.6), complex(0.18, 0)
	events, states := standing(t, across(closed, open, off, CauseLeadOff),
		[]complex128{closed, 1.6 * open, closed, 1.6 * open, closed, 1.6 * off, closed, 1.6 * open}, []int{30, 20, 30, 20, 30, 20, 30, 20})
	assert.Equal(t, []State{Closed, Open, Closed, Open, Closed, Lost, Closed, Open}, states)
	assert.Equal(t, []Cause{CauseLeadOff}, losses(events))
}

// Lost samples take the phase away, however often: then the next openings are openings, and a clip that is off is told after them.
func TestLostSamplesLeaveTheOpeningsAndTheClipOffToBeTold(t *testing.T) {
	open, off := cmplx.Rect(0.25, -0.6), complex(0.27, 0)
	for _, turn := range []float64{0, 0.6, 1.5, 3} {
		d, err := New(across(0.0003, open, off, CauseLeadOff))
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(1, 2))
		n := 0
		hear := func(level complex128, hundredths int) State {
			block := make([]float32, 480*hundredths)
			for i := range block {
				block[i] = float32(real(level*cmplx.Rect(1, 2*math.Pi*1010*float64(n)/48000)) + 0.0018*rng.NormFloat64())
				n++
			}
			d.Process(nil, block)
			s, _ := d.State()
			return s
		}
		by := complex128(1)
		for k := range 4 {
			assert.Equal(t, Closed, hear(0.0003*by, 30))
			assert.Equal(t, Open, hear(open*by, 20), "%g rad, round %d", turn, k)
			assert.Equal(t, Closed, hear(0.0003*by, 30))
			assert.Equal(t, Lost, hear(off*by, 20), "%g rad, round %d", turn, k)
			assert.Equal(t, CauseLeadOff, d.Off())
			d.Skip(nil, 48000/1010*100+24)
			by *= cmplx.Rect(1, turn)
		}
	}
}

// Where the first that is loud is the clip that is off, and too little apart from open points for its magnitude to tell, the first opening tells.
func TestOpenPointsTellThatTheCableWasOffBefore(t *testing.T) {
	const closed = 0.0003
	open, off := cmplx.Rect(0.25, -0.3), complex(0.2615, 0)
	events, states := standing(t, across(closed, open, off, CauseLeadOff),
		[]complex128{closed, off, closed, open, closed, off, closed, open}, []int{30, 20, 30, 3, 30, 20, 30, 20})
	assert.Equal(t, []State{Closed, Open, Closed, Open, Closed, Lost, Closed, Open}, states)
	assert.Equal(t, []Cause{CauseLeadOff}, losses(events))
}
