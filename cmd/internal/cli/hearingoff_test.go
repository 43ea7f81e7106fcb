package cli

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// With a condenser across the points a lead that falls off leaves less than open points do: it is no opening, and the screen says what it is.
func TestTheScreenSaysThatALeadIsOff(t *testing.T) {
	closed, open := complex(0.25, 0), cmplx.Rect(0.05, 1.35) // -14 dB, as 47 ohm and 0.22 uF at 1 kHz
	for name, c := range map[string]struct {
		wiring detect.Wiring
		levels []complex128 // for half a second each
		off    []detect.OffLevel
		want   string
	}{
		"lead off":   {detect.Series, []complex128{closed, open, closed, 0}, nil, "lead off"},
		"lead off 2": {detect.Shunt, []complex128{open, closed, open, 0.34}, []detect.OffLevel{{Level: 0.34, Cause: detect.CauseLeadOff}}, "lead off"},
		"plug out":   {detect.Shunt, []complex128{open, closed, open, 0}, []detect.OffLevel{{Level: 0, Cause: detect.CausePlugOut}}, "plug out"},
		"shorted":    {detect.Series, []complex128{closed, open, closed, 0.31}, []detect.OffLevel{{Level: 0.31, Cause: detect.CauseShorted}}, "touch each other"},
	} {
		t.Run(name, func(t *testing.T) {
			p := &detect.Profile{Tone: 1010, Closed: c.levels[0], Open: c.levels[1], PhaseKnown: true, Noise: 0.001, Off: c.off}
			f, err := pump.NewFollower(audio.Format{SampleRate: 48000, Channels: 1}, pump.FollowOptions{Tone: 1010, Wiring: c.wiring, Profile: p})
			require.NoError(t, err)
			var out views
			h := &hearing{follower: oneSet{f}, out: &out, rate: 48000, wiring: c.wiring, now: func() time.Time { return time.Time{} }}
			rng := rand.New(rand.NewPCG(1, 2))
			for n := range 4 * 50 {
				block := make([]float32, 480)
				for i := range block {
					at := float64(n*480 + i)
					block[i] = float32(real(c.levels[n/50]*cmplx.Rect(1, 2*math.Pi*1010*at/48000)) + 0.001*rng.NormFloat64())
				}
				for _, e := range f.Process(nil, block) {
					h.event(e)
				}
				h.tick()
			}
			got := out.last()
			assert.Equal(t, cue.Lost, got.State)
			assert.Contains(t, got.Warning, c.want)
			assert.Equal(t, 1, got.Number, "the lead counts as no opening")
		})
	}
}
