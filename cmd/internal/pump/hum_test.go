package pump_test

import (
	"fmt"
	"testing"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// In weak hum, which is learnt from the first third of a second, no opening is lost live and no clip said to be off. The tolerance is that of
// two sets in hum.
func TestOneSetInWeakHum(t *testing.T) {
	inLine, shunt := typical(), typical()
	shunt.cable, shunt.tone = across, 3010
	for name, r := range map[string]rig{"in line": inLine, "across": shunt} {
		for _, hz := range []float64{50.03, 59.98} {
			for _, db := range []float64{-36, -30} {
				t.Run(fmt.Sprintf("%s, %g Hz, %g dB", name, hz, db), func(t *testing.T) {
					for seed := range uint64(10) {
						r.snr = 30 + 10*float64(seed%2)
						c := r.config(t, seed+1)
						c.Hum = bench.Hum{Hz: hz, Level: bench.Amplitude(-10) * bench.Amplitude(db), Harmonics: 10}
						f, events := follow(t, source(t, c), pump.FollowOptions{Tone: c.Tone, Wiring: r.options().Wiring})
						assert.Zero(t, lostTimes(events), "seed %d", seed)
						a := pump.Analysis{Edges: settled(events)}
						for i, e := range a.Edges {
							a.Edges[i] = e.Instant(f.EdgeModel())
						}
						b, err := bench.New(c)
						require.NoError(t, err)
						requireEvents(t, b.Truth(detect.DefaultHold).Events, a, 60e-6*float64(r.rate)+1, seed)
					}
				})
			}
		}
	}
}
