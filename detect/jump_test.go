package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Frames that a sound card loses while the points are closed turn the phase of the tone by 2 pi f n/fs. That is no opening.
func TestAJumpOfThePhaseIsNoOpening(t *testing.T) {
	for name, tt := range map[string]struct {
		open complex128
		snr  float64
	}{
		"nothing left, 40 dB":            {0, 40},
		"nothing left, 20 dB":            {0, 20},
		"-14 dB left, 20 dB":             {0.05, 20},
		"-4 dB left and turned, 20 dB":   {complex(0.12, 0.1), 20},
		"-8 dB left, the other way, 20 ": {-0.1, 20},
	} {
		t.Run(name, func(t *testing.T) {
			for lost := 1; lost < 48; lost += 3 { // a period has 47.5 frames
				s := basicSynth()
				s.tone, s.open, s.sigma, s.seed = 1010, tt.open, snr(0.25, tt.snr), uint64(lost)
				x := s.render()
				later := s
				turn := s.tone * float64(lost) / float64(s.fs)
				later.phase += 2 * math.Pi * turn
				const at = 40000 // while closed
				copy(x[at:], later.render()[at:])
				cfg := s.config()
				cfg.Profile.Closed, cfg.Profile.Open, cfg.Profile.PhaseKnown = s.closed, s.open, true
				events, _, err := detectAll(cfg, x, 128)
				require.NoError(t, err)
				edges, faults := 0, 0
				for _, e := range events {
					switch {
					case e.Stage == Settled && e.Kind == KindFault:
						assert.Equal(t, CausePhase, e.Cause)
						// An edge is placed within the look-ahead, a window is four hops: 6 ms and 2 ms.
						assert.InDelta(t, at, e.Frame, 0.002*float64(s.fs), "lost %d", lost)
						faults++
					case e.Stage == Settled:
						edges++
					}
				}
				assert.Equal(t, len(s.turns), edges, "lost %d", lost)
				if turn > 0.1 && turn < 0.9 { // a smaller turn is followed
					assert.Positive(t, faults, "lost %d", lost)
				}
			}
		})
	}
}
