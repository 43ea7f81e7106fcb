package bench

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestValidate(t *testing.T) {
	require.NoError(t, full().Validate())
	nan := math.NaN()
	for _, tt := range []struct {
		want string
		edit func(*Config)
	}{
		{"sample rate, got 100", func(c *Config) { c.SampleRate = 100 }},
		{"channels, got 0", func(c *Config) { c.Channels = 0 }},
		{"channel, got 3, want 0..2", func(c *Config) { c.Channel = 3 }},
		{"frames, got 0", func(c *Config) { c.Frames = 0 }},
		{"tone [Hz], got 0", func(c *Config) { c.Tone = 0 }},
		{"tone [Hz], got NaN", func(c *Config) { c.Tone = nan }},
		{"tone [Hz], got 24", func(c *Config) { c.Tone = 24000 }},
		{"tone's error [ppm], got NaN", func(c *Config) { c.PPM = nan }},
		{"level [dBFS], got 40", func(c *Config) { c.Level = 40 }},
		{"closed, open and leak", func(c *Config) { c.Open = complex(nan, 0) }},
		{"closed, open and leak", func(c *Config) { c.Leak = 11i }},
		{"noise [full scale], got -1", func(c *Config) { c.Noise = -1 }},
		{"hum [Hz], got -50", func(c *Config) { c.Hum.Hz = -50 }},
		{"hum level [full scale], got 2", func(c *Config) { c.Hum.Level = 2 }},
		{"hum harmonics, got -1", func(c *Config) { c.Hum.Harmonics = -1 }},
		{"ticks a second, got -1", func(c *Config) { c.Ticks.Rate = -1 }},
		{"length of a tick [s], got 0", func(c *Config) { c.Ticks.Length = 0 }},
		{"level of a tick [full scale], got 11", func(c *Config) { c.Ticks.Level = 11 }},
		{"instant of change 0 [s], got 0", func(c *Config) { c.Changes = []Change{{0, false}} }},
		{"instant of change 0 [s], got NaN", func(c *Config) { c.Changes = []Change{{nan, false}} }},
		{"instant of change 1 [s], got 0.1", func(c *Config) { c.Changes = []Change{{0.2, false}, {0.1, true}} }},
		{"change 0 at 0.2 s, got closed=true again", func(c *Config) { c.Changes = []Change{{0.2, true}} }},
	} {
		c := full()
		tt.edit(&c)
		_, err := New(c)
		assert.ErrorContains(t, err, "bench: "+tt.want)
	}
}

// 40 dB below a full-scale sine, whose power is 1/2.
func TestNoiseFor(t *testing.T) {
	assert.InDelta(t, math.Sqrt(0.5e-4), NoiseFor(1, 40), 1e-15) // rounding
	assert.InDelta(t, 0.5011872336, Amplitude(-6), 1e-10)        // 10^-0.3
}
