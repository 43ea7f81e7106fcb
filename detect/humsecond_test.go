package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// humFrom surveys a tone with hum 20 dB over it that begins at second from, and returns what was found.
func humFrom(t *testing.T, s synth, from float64) Hum {
	t.Helper()
	x := s.render()
	addHum(x[int(from*float64(s.fs)):], float64(s.fs), 50.02, 0, 0.04, 20)
	_, f, err := survey(t, x, s.fs, 1, SurveyOptions{})
	require.NoError(t, err)
	return f.Hum
}

func TestHumThatBeginsLateIsFound(t *testing.T) {
	for name, c := range map[string]struct {
		from, seconds, period float64
	}{
		"from the start":         {0, 10, 0.4},
		"at 3 s":                 {3, 10, 0.4},
		"at 7.7 s":               {7.7, 10, 0.4},
		"an edge each 20 ms":     {0, 6, 0.04},
		"where sound is skipped": {45, 120, 0.4},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.fs, s.tone, s.closed, s.sigma = 16000, 1013, 0.04, snr(0.04, 40)
			s.slow(c.seconds, 0.45, c.period)
			h := humFrom(t, s, c.from)
			require.NotZero(t, h.Freq)
			assert.InDelta(t, 50.02, h.Freq, 0.005) // 1/200 of what a second resolves
			assert.InDelta(t, 0.4, h.Level(), 0.02)
			// Where it begins the fundamental has the phase that addHum gives it: 0.1 turns and a radian. 0.1 rad: 0.003 Hz over 5 s.
			if c.from < 30 {
				at := h.later(int64(c.from*16000), 16000)
				want := 0.2*math.Pi + 1
				got := math.Atan2(imag(at.Harmonics[0]), real(at.Harmonics[0]))
				assert.InDelta(t, 0, math.Remainder(got-want, 2*math.Pi), 0.1)
			}
		})
	}
}

func TestTheSecondWithTheHumIsPicked(t *testing.T) {
	const fs = 8000
	rng := rand.New(rand.NewPCG(2, 2))
	x := make([]float64, 6*fs)
	for i := range x {
		x[i] = 0.2 + 0.3*rng.NormFloat64() // loud noise and an offset are no hum
		if i/fs == 3 || i/fs == 5 {
			x[i] += 0.3 * math.Sin(2*math.Pi*60.1*float64(i)/fs)
		}
	}
	for _, block := range []int{len(x), 4096, 777} {
		h := humSecond{rate: fs}
		for i := 0; i < len(x); i += block {
			h.add(x[i:min(i+block, len(x))], int64(100+i), math.MaxInt64)
		}
		sound, from, late := h.pick()
		assert.True(t, late)
		assert.Equal(t, int64(100+3*fs), from, "the first of two alike")
		require.Len(t, sound, fs)
		assert.Equal(t, float32(x[3*fs]), sound[0])
	}
}
