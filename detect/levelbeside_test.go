package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestTheToneThatChangesIsTakenBesideASteadyOne(t *testing.T) {
	for name, c := range map[string]struct {
		beside, db float64 // the steady tone [Hz], and its level over the other's
		open       complex128
	}{
		"a fan, louder":      {2350, 6, 0},
		"a fan, much louder": {640, 20, 0},
		"a near one":         {1300, 6, 0},
		"a leak":             {2350, 6, polar(0.05, -6, 40)},
		"a condenser":        {2350, 6, polar(0.05, -0.5, 36)},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.fs, s.tone, s.closed, s.open, s.sigma = 16000, 1013, 0.05, c.open, snr(0.05, 40)
			s.slow(12, 0.4, 0.8)
			x := s.render()
			a := 0.05 * math.Pow(10, c.db/20)
			for i := range x {
				x[i] += float32(a * math.Sin(2*math.Pi*c.beside*float64(i)/16000))
			}
			cfg, f, err := survey(t, x, s.fs, 1, SurveyOptions{})
			require.NoError(t, err, "%+v", f)
			assert.InDelta(t, 1013, f.Tone, 0.5)
			assert.InDelta(t, 0.05, f.High, 0.05*0.06) // two histogram classes
			if cfg.Profile.PhaseKnown {
				assert.InDelta(t, 0, cmplx.Abs(cfg.Profile.Open/cfg.Profile.Closed-c.open/0.05), 0.05)
			} else {
				assert.InDelta(t, cmplx.Abs(c.open), f.Low, 0.05*0.1)
			}
		})
	}
}

func TestColouredNoiseLeavesToneAndLevels(t *testing.T) {
	s := basicSynth()
	s.fs, s.sigma = 16000, 0
	s.slow(12, 0.4, 0.8)
	x := s.render()
	rng := rand.New(rand.NewPCG(4, 4))
	var walk float64
	for i := range x { // as of a fan: 6 dB an octave down from 25 Hz
		walk += -0.01*walk + 0.02*rng.NormFloat64()
		x[i] += float32(walk)
	}
	_, f, err := survey(t, x, s.fs, 1, SurveyOptions{})
	require.NoError(t, err)
	assert.InDelta(t, 1000, f.Tone, 0.2)
	assert.InDelta(t, 0.25, f.High, 0.25*0.06)
	assert.Less(t, f.Low, 0.25*0.3) // noise of the tone's bin
}

// Gain, polarity, a shift in time and an offset change neither the tone nor what the levels are to one another.
func TestSurveyDoesNotDependOnHowItIsHeard(t *testing.T) {
	for name, open := range map[string]complex128{"nothing": 0, "a leak": polar(0.25, -6, 50), "a condenser": polar(0.25, -0.5, 36), "too alike": polar(0.25, -0.1, 1)} {
		s := basicSynth()
		s.fs, s.open, s.tone = 8000, open, 1003
		s.slow(6, 0.4, 0.6)
		x := s.render()
		cfg, f, want := survey(t, x, s.fs, 1, SurveyOptions{})
		t.Run(name, rapid.MakeCheck(func(r *rapid.T) {
			gain := math.Pow(10, rapid.Float64Range(-2, 0.5).Draw(r, "log gain"))
			if rapid.Bool().Draw(r, "turned round") {
				gain = -gain
			}
			dc := rapid.Float64Range(-0.3, 0.3).Draw(r, "dc")
			cut := rapid.IntRange(0, 4000).Draw(r, "cut")
			y := make([]float32, len(x)-cut)
			for i := range y {
				y[i] = float32(gain * (float64(x[cut+i]) + dc))
			}
			sv, err := NewSurvey(s.fs, 1, SurveyOptions{})
			require.NoError(r, err)
			sv.Write(y)
			cfg2, f2, got := sv.Result()
			require.Equal(r, want == nil, got == nil, "%v, %v", want, got)
			assert.InDelta(r, f.Tone, f2.Tone, 0.05) // one step of 36 degrees more one way than the other in 6 s: 0.02 Hz
			assert.InDelta(r, f.High, f2.High/math.Abs(gain), 0.031*f.High, "a histogram class")
			if want == nil {
				ratio, ratio2 := cfg.Profile.Open/cfg.Profile.Closed, cfg2.Profile.Open/cfg2.Profile.Closed
				assert.InDelta(r, 0, cmplx.Abs(ratio-ratio2), 0.05)
			} else {
				assert.ErrorIs(r, got, ErrContrast)
			}
		}))
	}
}
