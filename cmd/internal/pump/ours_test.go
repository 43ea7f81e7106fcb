package pump_test

import (
	"math"
	"testing"

	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
)

const played = 975.0 // [Hz]

// beeps is 8 s of a tone that is on for on and off for off seconds in turn; phase gives its phase [rad] at a time [s] in a beep.
func beeps(on, off float64, phase func(at float64, beep int) float64) []float32 {
	x := make([]float32, 8*48000)
	for n := range x {
		at := float64(n) / 48000
		beep := int(at / (on + off))
		if at-float64(beep)*(on+off) < on {
			x[n] = float32(0.2 * math.Sin(phase(at, beep)))
		}
	}
	return x
}

func steadyAt(hz float64) func(float64, int) float64 {
	return func(at float64, _ int) float64 { return 2 * math.Pi * hz * at }
}

// What beeps near the tone that is played, in a room into which no cable leads it, is not the points.
func TestLiveAnothersToneIsNotThePoints(t *testing.T) {
	for name, phase := range map[string]func(float64, int) float64{
		"2 Hz above":         steadyAt(played + 2),
		"40 Hz below":        steadyAt(played - 40),
		"a note that wavers": func(at float64, _ int) float64 { return 2*math.Pi*played*at + 1.5*math.Sin(2*math.Pi*5*at) },
	} {
		for _, w := range []detect.Wiring{detect.Series, detect.Shunt} {
			t.Run(name+", "+w.String(), func(t *testing.T) {
				l, events := follow(t, audiotest.FromSlice(48000, 1, beeps(0.4, 0.6, phase)), pump.FollowOptions{Tone: played, Wiring: w})
				assert.Empty(t, events)
				assert.Equal(t, detect.Unknown, l.State())
				assert.Error(t, l.Health().Reason)
			})
		}
	}
}

// Our own tone by the clock of another card, and after a card has lost samples without telling.
func TestLiveOurToneIsKnownByAnotherClock(t *testing.T) {
	for name, tt := range map[string]struct {
		phase func(float64, int) float64
		least int // openings
	}{
		"200 ppm above": {steadyAt(played * (1 + 200e-6)), 7},
		"200 ppm below": {steadyAt(played * (1 - 200e-6)), 7},
		"256 frames are lost": {func(at float64, beep int) float64 {
			if beep >= 3 {
				at += 256.0 / 48000
			}
			return 2 * math.Pi * played * at
		}, 5},
	} {
		t.Run(name, func(t *testing.T) {
			_, events := follow(t, audiotest.FromSlice(48000, 1, beeps(0.4, 0.6, tt.phase)), pump.FollowOptions{Tone: played})
			opened := 0
			for _, e := range settled(events) {
				if e.Kind == detect.KindOpen {
					opened++
				}
			}
			assert.GreaterOrEqual(t, opened, tt.least)
		})
	}
}

// Noise and hum beside our tone do not make it another's.
func TestLiveOurToneIsKnownInNoise(t *testing.T) {
	for name, set := range map[string]func(*rig){
		"3 dB": func(r *rig) { r.snr = 3 },
		"0 dB": func(r *rig) { r.snr = 0 },
		"hum": func(r *rig) {
			r.more = func(c *bench.Config) { c.Hum = bench.Hum{Hz: 50, Level: 0.15, Harmonics: 9} }
		},
		"8 kHz":       func(r *rig) { r.rate, r.snr = 8000, 10 },
		"6 dB across": func(r *rig) { r.cable, r.snr = across, 6 },
	} {
		t.Run(name, func(t *testing.T) {
			r := typical()
			set(&r)
			l, events := follow(t, source(t, r.config(t, 5)), r.followOptions())
			assert.NotEmpty(t, settled(events))
			assert.NoError(t, l.Health().Reason)
		})
	}
}

// Levels known, the cable comes off, and a radio is heard, or one that beeps at the very frequency: that the tone played does not come
// back must show.
func TestLiveAnothersToneIsGivenUpSoon(t *testing.T) {
	for name, phase := range map[string]func(float64, int) float64{
		"7 Hz above":                          func(at float64, beep int) float64 { return 2*math.Pi*(played+7)*at + float64(beep) },
		"the same note, begun anew each time": func(at float64, beep int) float64 { return 2*math.Pi*played*at + 2.4*float64(beep) }, // the golden angle
	} {
		t.Run(name, func(t *testing.T) {
			x := append(beeps(0.4, 0.6, steadyAt(played)), beeps(0.3, 0.2, phase)...)
			l, events := follow(t, audiotest.FromSlice(48000, 1, x), pump.FollowOptions{Tone: played})
			assert.Zero(t, l.Health().Levels.Edges)
			before, after := 0, 0
			for _, e := range settled(events) {
				switch {
				case e.At() < 8*48000:
					before++
				case e.At() > 14*48000: // after mostStrange times strangeSeconds, and one time begun before
					after++
				}
			}
			assert.GreaterOrEqual(t, before, 14)
			assert.Zero(t, after)
		})
	}
}
