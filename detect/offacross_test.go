package detect

import (
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
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
}

// Where the first that is loud is the clip that is off, and too little apart from open points for its magnitude to tell, the first opening tells.
func TestOpenPointsTellThatTheCableWasOffBefore(t *testing.T) {
	const closed = 0.0003
	open, off := cmplx.Rect(0.25, -0.3), complex(0.2615, 0)
	events, states := standing(t, across(closed, open, off, CauseLeadOff),
		[]complex128{closed, off, closed, open, closed, off, closed, open}, []int{30, 20, 30, 20, 30, 20, 30, 20})
	assert.Equal(t, []State{Closed, Open, Closed, Open, Closed, Lost, Closed, Open}, states)
	assert.Equal(t, []Cause{CauseLeadOff}, losses(events))
}
