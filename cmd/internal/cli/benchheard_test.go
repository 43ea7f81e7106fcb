package cli

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/live"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
	"breakcue/timing/logbook"
)

// practice is the hand at the built-in card, heard as a session hears it.
type practice struct {
	hand       *benchHand
	approaches []float64 // [s] at which the points opened, after they had been closed for long
	closed     float64   // when they closed last [s]
	open       bool
	known      bool // both levels are
}

// hear listens until the guide, who is asked after each block, has enough; that must be before so many seconds are over.
func (p *practice) hear(t *testing.T, wired detect.Wiring, seconds int64, guide func() (enough bool)) {
	o := live.Options{Tone: live.Voice{Hz: liveTone(wired, demoRate), Level: usualLevel, Channel: 1}}
	clock := &slept{at: time.Unix(1e9, 0)}
	card, err := builtInCards(clock.env(), wired, p.hand, 3).Open(o)
	require.NoError(t, err)
	defer card.Close()
	follower, err := pump.NewFollower(card.Format(), pump.FollowOptions{Tone: o.Tone.Hz, Wiring: wired})
	require.NoError(t, err)
	ctx, stop := context.WithCancelCause(t.Context())
	defer stop(nil)
	enough := errors.New("enough")
	_, err = pump.Run(ctx, card, []pump.Hearer{follower}, pump.Span{To: seconds * demoRate}, pump.Taps{
		Event: func(e detect.Event) {
			if e.Stage != detect.Settled {
				return
			}
			at := float64(e.Frame) / demoRate
			switch e.Kind {
			case detect.KindOpen:
				if p.open = true; at > p.closed+demoApproach {
					p.approaches = append(p.approaches, at)
				}
			case detect.KindClose:
				p.open, p.closed = false, at
			}
		},
		After: func() {
			if p.known = follower.Health().Known; guide() {
				stop(enough)
			}
		},
	})
	require.ErrorIs(t, err, enough)
}

// The whole way through the sound: the cable is checked, each pass is heard once, and the plate's opening too.
func TestHandIsHeard(t *testing.T) {
	for i, engine := range sampleEngines {
		dial, wired := sampleDials[i%len(sampleDials)], detect.Series
		if engine == "magneto" {
			wired = detect.Shunt
		}
		t.Run(engine, func(t *testing.T) {
			p := &practice{hand: newHand(t, engine, dial, 7), closed: -1}
			h := p.hand
			at := placeOf(h.sheets.Engine.Cylinders[0], logbook.AsFound)
			var want [][2]float64 // first and last breaks of the passes
			step := 0
			h.Watch()
			p.hear(t, wired, 120, func() bool {
				switch step {
				case 0:
					if p.known && len(p.approaches) == 3 && !p.open {
						p.approaches = nil
						h.Measure(at)
						step = 1
					}
				case 1:
					h.Next()
					if _, n := h.Truth(at); n > len(want) {
						want = append(want, [2]float64{h.pass.First.At + h.shift, h.pass.Last.At + h.shift})
					}
					if len(want) == 2 && len(p.approaches) == 2 && !p.open {
						h.Set(at)
						step = 2
					}
				case 2:
					return h.then == nil && h.now > h.until+1
				}
				return false
			})
			require.GreaterOrEqual(t, len(p.approaches), 3)
			for i, heard := range p.approaches[:2] {
				// A few frames: the tone is 30 dB above the noise. The first break may be too short to be told from a tick.
				assert.GreaterOrEqual(t, heard, want[i][0]-1e-4)
				assert.LessOrEqual(t, heard, want[i][1]+1e-4)
			}
			assert.True(t, p.open, "set, the points are just open")
		})
	}
}
