package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// addHum adds hum of so many dB over the tone's power, odd harmonics falling with k^1.5 and weaker even ones, whose frequency
// wanders by so many Hz to and fro in 8 s.
func addHum(x []float32, fs, hz, wander, amplitude, db float64) {
	var norm float64
	a := make([]float64, 41)
	for k := 1; k <= 40; k++ {
		a[k] = math.Pow(float64(k), -1.5)
		if k%2 == 0 {
			a[k] *= 0.3
		}
		norm += a[k] * a[k]
	}
	g := amplitude * math.Pow(10, db/20) / math.Sqrt(norm)
	level := make([]complex128, 41)
	for k := range level {
		level[k] = cmplx.Rect(a[k], float64(k*k))
	}
	phase := 0.1
	for i := range x {
		one, z, v := cmplx.Rect(1, 2*math.Pi*phase), complex(1, 0), 0.0
		for k := 1; k <= 40; k++ {
			z *= one
			v += real(level[k] * z)
		}
		x[i] += float32(g * v)
		phase += (hz + wander*math.Sin(2*math.Pi*float64(i)/fs/8)) / fs
		if phase >= 1 {
			phase--
		}
	}
}

func TestHumIsTakenOff(t *testing.T) {
	for name, c := range map[string]struct{ hz, wander, db, tone float64 }{
		"50 Hz, 20 dB over the tone": {50.02, 0, 20, 1000},
		"60 Hz, 20 dB":               {59.96, 0, 20, 1000},
		"wandering":                  {50, 0.02, 20, 1000},
		"between the harmonics":      {50.03, 0.01, 20, 1025},
		"a higher tone":              {50.03, 0.01, 26, 2870},
		"as loud as the tone":        {49.95, 0.01, 0, 1000},
		"20 dB under":                {49.95, 0.01, -20, 1013},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.tone, s.closed, s.sigma = c.tone, 0.04, snr(0.04, 40)
			s.turns, s.n = nil, 48000*16
			for at := 40000; at+9000 < s.n; at += 9000 + at%97 {
				s.turns = append(s.turns, at)
			}
			x := s.render()
			addHum(x, 48000, c.hz, c.wander, 0.04, c.db)
			cfg, ev, d, err := run(x, s.fs, 4800, SurveyOptions{})
			require.NoError(t, err)
			require.NoError(t, d.Judge())
			assert.InDelta(t, c.hz, cfg.Profile.Hum.Freq, 0.01) // the wander in the first second is less
			got := edges(ev)
			require.Len(t, frames(ev), len(s.turns))
			var sq float64
			for i, e := range got {
				sq += math.Pow(e.At()-float64(s.turns[i]), 2)
			}
			// 5 us is the goal with steady hum; 10 us where it wanders.
			goal := 5e-6 * 48000
			if c.wander > 0 {
				goal *= 2
			}
			assert.Less(t, math.Sqrt(sq/float64(len(got))), goal)
		})
	}
}

func TestNoHumIsFoundWhereThereIsNone(t *testing.T) {
	for _, db := range []float64{40, 10, 3, 0} {
		s := basicSynth()
		s.sigma = snr(0.25, db)
		cfg, _, err := survey(t, s.render(), s.fs, 1, SurveyOptions{})
		require.NoError(t, err)
		assert.Zero(t, cfg.Profile.Hum.Freq, "%g dB", db)
		assert.Empty(t, cfg.Profile.Hum.Harmonics)
	}
}

func TestHumLevelsAreFitted(t *testing.T) {
	// A tone that comes and goes does not disturb the fit: its level is free in each block.
	s := basicSynth()
	s.turns = []int{9600, 19200, 28800, 38400}
	x := s.render()[:48000]
	for i := range x {
		ph := 2 * math.Pi * 50 * float64(i) / 48000
		x[i] += float32(0.3*math.Cos(ph+1) + 0.02*math.Cos(7*ph-2))
	}
	h := findHum(x, 48000, 1000.0/48000, 0.25, s.sigma)
	require.NotZero(t, h.Freq)
	assert.InDelta(t, 50, h.Freq, 0.002)
	assert.InDelta(t, 1000, h.tone, 0.1) // Hz
	// 1e-3: noise of 0.0018 over 48000 samples, and the frequency's last digit.
	assert.InDelta(t, 0, cmplx.Abs(h.Harmonics[0]-cmplx.Rect(0.3, 1)), 3e-3)
	assert.InDelta(t, 0, cmplx.Abs(h.Harmonics[6]-cmplx.Rect(0.02, -2)), 1e-3)
	assert.Zero(t, h.Harmonics[19], "the harmonic at the tone is left to the tone")
	assert.InDelta(t, math.Hypot(0.3, 0.02), h.Level(), 0.002)
}

// Edges leave nothing of the tone for the harmonics 10 Hz beside it, however little has been heard: taken off they would beat with the tone.
func TestNoneOfTheToneIsTakenForHum(t *testing.T) {
	for _, hz := range []float64{50.03, 59.98} {
		for _, seconds := range []float64{0.35, 0.6, 1} {
			const fs = 48000
			rng := rand.New(rand.NewPCG(1, 2))
			x := make([]float32, int(seconds*fs))
			for i := range x {
				level := 0.3
				if i/5777%2 == 1 {
					level = 0.06
				}
				ph := 2 * math.Pi * hz * float64(i) / fs
				x[i] = float32(level*math.Cos(2*math.Pi*1010*float64(i)/fs) + 0.009*math.Cos(ph+1) + 0.005*math.Cos(2*ph-2) + 0.002*rng.NormFloat64())
			}
			h := findHum(x, fs, 1010.0/fs, 0.3, 0.002)
			require.NotZero(t, h.Freq)
			for k := int(900 / hz); k <= int(1120/hz); k++ {
				// 1 % of the tone: noise makes less than a tenth of it
				assert.Less(t, cmplx.Abs(h.Harmonics[k-1]), 0.003, "%g Hz, %g s, harmonic %d", hz, seconds, k)
			}
			assert.InDelta(t, math.Hypot(0.009, 0.005), h.Level(), 0.003)
		}
	}
}

func TestHumIsFollowedAcrossAGap(t *testing.T) {
	s := basicSynth()
	s.closed, s.sigma = 0.04, snr(0.04, 40)
	s.turns = append([]int{}, s.turns...)
	for i := range s.turns {
		s.turns[i] += 40000
	}
	s.n += 40000
	x := s.render()
	addHum(x, 48000, 50.02, 0, 0.04, 20)
	cfg, _, err := survey(t, x, s.fs, 1, SurveyOptions{})
	require.NoError(t, err)
	d, err := New(cfg)
	require.NoError(t, err)
	ev := d.Skip(d.Process(nil, x[:55000]), 777)
	ev = d.Flush(d.Process(ev, x[55777:]))
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
}

func TestHumIsLearntAfterPadding(t *testing.T) {
	s := basicSynth()
	s.closed, s.sigma = 0.04, snr(0.04, 40)
	s.turns, s.n = nil, 48000*8
	for at := 60000; at+9000 < s.n; at += 9013 {
		s.turns = append(s.turns, at)
	}
	x := s.render()
	addHum(x, 48000, 50.02, 0, 0.04, 20)
	const lead = 31013
	_, ev, _, err := run(append(make([]float32, lead), x...), s.fs, 4800, SurveyOptions{})
	require.NoError(t, err)
	got := frames(ev)
	if len(got) == len(s.turns)+1 { // the tone that begins may count as a closing
		got = got[1:]
	}
	for i := range got {
		got[i] -= lead
	}
	assert.Equal(t, s.turns, near(got, s.turns))
}
