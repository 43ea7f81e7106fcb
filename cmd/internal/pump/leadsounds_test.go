package pump_test

import (
	"fmt"
	"testing"

	"breakcue/audio/audiotest"
	"breakcue/audio/circuit"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
)

// Sounds of fifty openings and lead-offs, of those that BenchmarkLeadOff hears, each of which once led astray: by what chatter leaves as the open
// level, by the level of closed points that carried that of open ones along, by an anchor from the middle of chatter, by noise whose angle was
// taken, by an excursion too short for a mean.
func TestLeadsThatOnceLedAstray(t *testing.T) {
	for row, sounds := range map[int][]uint64{0: {13, 25, 40}, 2: {20, 29, 47}, 3: {1, 8, 10, 28, 35, 43}, 4: {10, 14, 42, 49}} {
		r := leadRigs[row]
		opt := pump.FollowOptions{Tone: r.tone}
		if r.cable.Wiring == circuit.Shunt {
			opt.Wiring = detect.Shunt
		}
		for _, i := range sounds {
			p, was, known := r.sound(t, 50, 20+20*float64(i)/49, i)
			learn := 2
			if opt.Profile = known; known != nil {
				learn = 0
			}
			_, events := follow(t, audiotest.FromSlice(planeRate, 1, p.sound()), opt)
			var c leadCount
			c.count(was, events, learn)
			name := fmt.Sprintf("%s, sound %d", r.name, i)
			assert.Zero(t, c.openLost, name)
			assert.Zero(t, c.extra, name)
			if r.known != detect.CausePlugOut {
				assert.Zero(t, c.offOpened, name)
			}
		}
	}
}
