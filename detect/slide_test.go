package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A tone that swells and fades passes both levels all the time, but never steps from one to the other.
func TestASlidingLevelIsNoEdge(t *testing.T) {
	for _, hz := range []float64{0.3, 0.7, 2, 5} {
		x := make([]float32, 8*48000)
		for n := range x {
			s := float64(n) / 48000
			x[n] = float32(0.15 * (1 + math.Sin(2*math.Pi*hz*s)) * math.Sin(2*math.Pi*1010*s))
		}
		_, _, d, err := run(x, 48000, 4096, SurveyOptions{})
		if err == nil {
			err = d.Judge()
		}
		assert.Error(t, err, "%g Hz", hz)
	}
}

// Notes and blows begin at once and die away: closings without openings.
func TestWhatDiesAwayIsNoContact(t *testing.T) {
	x := make([]float32, 10*48000)
	for n := range x {
		at := float64(n%24000) / 48000 // 0.5 s a note: 10 ms to swell, the last 0.2 s to fade
		x[n] = float32(0.4 * math.Min(math.Min(1, at/0.01), (0.5-at)/0.2) * math.Sin(2*math.Pi*790*float64(n)/48000))
	}
	_, _, d, err := run(x, 48000, 4096, SurveyOptions{})
	if err == nil {
		err = d.Judge()
	}
	require.ErrorIs(t, err, ErrNotATone)
}

// A plucked string crosses the levels of its own tone at every period of its overtones.
func TestWhatFluttersIsNoContact(t *testing.T) {
	d, err := New(basicSynth().config())
	require.NoError(t, err)
	for i := range 12 {
		e := Event{Kind: KindOpen, Frame: int64(i) * 48000, Before: 0.25}
		if i%2 == 1 {
			e.Kind = KindClose
		}
		if i%3 == 0 {
			e.Reclosures, e.LastFrame = 100, e.Frame+100*72 // 1.5 ms each
		}
		d.sum.leave(e)
	}
	require.ErrorIs(t, d.Judge(), ErrNotATone)
	d.Reset()
	for i := range 12 {
		d.sum.leave(Event{Kind: KindOpen + Kind(i%2), Frame: 0, LastFrame: 40 * 96, Reclosures: 40, Before: 0.25})
	}
	require.NoError(t, d.Judge(), "chatter")
}
