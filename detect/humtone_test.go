package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Hum draws the frequency that a survey reads aside. Beside hum that slides by slide [Hz/s] and swells by swell [1/s] the tone is found again.
func TestToneIsReadBesideHum(t *testing.T) {
	const fs = 16000
	for name, c := range map[string]struct{ hz, slide, swell, tone, read float64 }{
		"steady":                   {50.02, 0, 0, 1013, 1017},
		"on a harmonic":            {50, 0, 0, 700, 710.9},
		"beside a strong harmonic": {60.02, 0, 0, 437, 433.4},
		"sliding and swelling":     {49.95, 0.06, 0.17, 1013, 1009},
		"60 Hz, sliding back":      {60, -0.06, -0.17, 1013, 1018},
	} {
		x := make([]float32, fs)
		for i := range x {
			at := float64(i) / fs
			phase := (c.hz + c.slide*at/2) * at
			var hum float64
			for k := 1; k <= 20; k++ {
				hum += math.Pow(float64(k), -1.5) * math.Cos(2*math.Pi*math.Mod(float64(k)*phase, 1)+float64(k*k))
			}
			x[i] = float32(0.3 * (1 + c.swell*at) * hum)
			if int(at*7)%2 == 0 {
				x[i] += float32(0.04 * math.Cos(2*math.Pi*c.tone*at))
			}
		}
		h := findHum(x, fs, c.read/fs, 0.04, 1e-3)
		require.NotZero(t, h.Freq, name)
		assert.InDelta(t, c.hz, h.Freq, 0.005, name)     // Hz: 0.0025 periods in half a second
		assert.InDelta(t, c.slide, h.slide, 0.005, name) // Hz/s
		assert.InDelta(t, c.swell, h.swell, 0.01, name)  // 1/s
		assert.InDelta(t, c.tone, h.tone, 0.2, name)     // Hz: 1/5 of what a second resolves
	}
}
