package cli

import (
	"testing"

	"breakcue/cmd/internal/leads"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
)

func TestLiveToneShowsLossesAndKeepsOffTheMains(t *testing.T) {
	for _, rate := range []int{8000, 16000, 32000, 44100, 48000, 88200, 96000, 176400, 192000} {
		for _, w := range []detect.Wiring{detect.Series, detect.Shunt} {
			hz := liveTone(w, rate)
			for _, mains := range []float64{50, 60} {
				k := float64(int(hz/mains + 0.5))
				assert.GreaterOrEqual(t, max(hz-k*mains, k*mains-hz), 8.0, "%d Hz %v: tone %g", rate, w, hz)
			}
			assert.LessOrEqual(t, hz, detect.MaxTone(rate))
			// The detector takes a turn of the closed level by more than half of its size for a jump: 29 degrees, 0.08 turns.
			assert.Greater(t, leads.LeastTurn(hz/float64(rate), rate), 0.08, "%d Hz %v: tone %g", rate, w, hz)
			alert := alertTone(hz)
			assert.True(t, alert >= alertLowest && alert <= alertHighest, "alert %g", alert)
			assert.GreaterOrEqual(t, max(alert-hz, hz-alert), float64(alertApart))
		}
	}
	for hz, want := range map[float64]float64{100: 800, 1000: 2000, 1250: 2500, 3250: 1625, 6000: 1500, 20000: 2500} {
		assert.Equal(t, want, alertTone(hz), "whole octaves off %g Hz", hz)
	}
	assert.InDelta(t, 1000, liveTone(detect.Series, 48000), 60)
	assert.InDelta(t, 3250, liveTone(detect.Shunt, 48000), 60)
}
