package detect

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// polar is a level so many dB under another, turned by so many degrees.
func polar(a, db, deg float64) complex128 { return cmplx.Rect(a*math.Pow(10, db/20), deg*math.Pi/180) }

// slow makes openings and closings from frame 20000 on, open for one share of the time.
func (s *synth) slow(seconds, open, period float64) {
	s.n, s.turns = int(seconds*float64(s.fs)), nil
	step := period * float64(s.fs)
	for at := 20000.0; at+step < float64(s.n)-4800; at += step {
		k := float64(len(s.turns) % 97) // no two periods alike
		s.turns = append(s.turns, int(at+k), int(at+k+open*step))
	}
}

func TestStatesThatDifferInPhaseAreFound(t *testing.T) {
	for name, c := range map[string]struct{ db, deg, snr, open, wander, off float64 }{
		"condenser":           {-0.3, 30, 40, 0.4, 0, 0},
		"condenser, noisy":    {-0.6, 36, 20, 0.4, 0, 0},
		"condenser, 10 dB":    {-0.9, 60, 10, 0.4, 0, 0},
		"coil":                {-0.6, -9, 40, 0.4, 0, 0},
		"hardly a difference": {-0.3, -4, 50, 0.4, 0, 0},
		"a turn of 120":       {-0.5, 120, 40, 0.4, 0, 0},
		"open 5 %":            {-0.3, 30, 40, 0.05, 0, 0},
		"open 95 %":           {-0.3, 30, 40, 0.95, 0, 0},
		"2 % off":             {-0.3, 30, 40, 0.4, 0, 20},
		"wandering":           {-0.3, 30, 40, 0.4, 0.1, 0},
		"loss only":           {-0.8, 0, 40, 0.4, 0, 0},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.sigma, s.open, s.tone = snr(0.25, c.snr), polar(0.25, c.db, c.deg), 1000+c.off
			s.wander = c.wander
			s.slow(15, c.open, 1)
			for _, startsOpen := range []bool{false, true} {
				s.startsOpen = startsOpen
				cfg, f, err := survey(t, s.render(), s.fs, 1, SurveyOptions{})
				require.NoError(t, err)
				assert.InDelta(t, s.tone, f.Tone, 0.1)
				assert.True(t, cfg.Profile.PhaseKnown)
				got := cfg.Profile.Open / cfg.Profile.Closed
				// A tenth of the distance, with the noise of a dozen edges.
				assert.InDelta(t, 0, cmplx.Abs(got-polar(1, c.db, c.deg)), 0.1*cmplx.Abs(1-polar(1, c.db, c.deg)))
				assert.InDelta(t, 0.25, f.High, 0.25*0.03)
				assert.InDelta(t, cmplx.Abs(s.open-s.closed), f.Distance, 0.1*f.Distance)
			}
		})
	}
}

func TestShuntTurnsTheStatesRound(t *testing.T) {
	s := basicSynth()
	s.closed, s.open = polar(0.25, -0.5, 40), 0.25
	s.slow(10, 0.4, 1)
	cfg, _, err := survey(t, s.render(), s.fs, 1, SurveyOptions{Wiring: Shunt})
	require.NoError(t, err)
	assert.InDelta(t, 0, cmplx.Abs(cfg.Profile.Closed/cfg.Profile.Open-polar(1, -0.5, 40)), 0.02) // noise
}

func TestStatesTooAlikeAreRefusedWithTheFigures(t *testing.T) {
	for name, c := range map[string]struct {
		db, deg float64
		want    error
	}{
		"equally loud":    {0, 60, ErrWhich},
		"a weak coil":     {-0.1, -2, ErrContrast},
		"hardly any loss": {-0.22, 0, ErrContrast},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.open = polar(0.25, c.db, c.deg)
			s.slow(15, 0.4, 1)
			_, f, err := survey(t, s.render(), s.fs, 1, SurveyOptions{})
			require.ErrorIs(t, err, c.want)
			require.ErrorIs(t, err, ErrContrast)
			assert.InDelta(t, c.db, 20*math.Log10(f.Low/f.High), 0.02)
			assert.InDelta(t, cmplx.Abs(s.open-s.closed), f.Distance, 0.002)
		})
	}
}

func TestLostSamplesAreNoStates(t *testing.T) {
	lost := func(each func(k int) int) []float32 {
		s := basicSynth()
		s.turns, s.n = nil, 48000*15
		x := s.render()
		var y []float32
		for k, at := 0, 0; at+40000 < len(x); k++ {
			y = append(y, x[at:at+20000]...)
			at += 20000 + each(k)
		}
		return y
	}
	for name, x := range map[string][]float32{
		"a buffer each":  lost(func(int) int { return 256 }),
		"some frames":    lost(func(k int) int { return 11 + k*k*7%97 }),
		"now and again":  lost(func(k int) int { return max(0, k%5-3) * 133 }),
		"lost and twice": lost(func(k int) int { return []int{64, -128, 192, 17, -40}[k%5] }),
	} {
		t.Run(name, func(t *testing.T) {
			_, f, err := survey(t, x, 48000, 1, SurveyOptions{})
			require.Error(t, err, "%+v", f)
		})
	}
}

func TestAWarblingToneHasNoStates(t *testing.T) {
	for _, hz := range []float64{1, 3, 6} {
		for _, deviation := range []float64{0.5, 3, 10} {
			s := basicSynth()
			s.turns, s.n, s.wander, s.wanderHz = nil, 48000*15, deviation, hz
			_, f, err := survey(t, s.render(), s.fs, 1, SurveyOptions{})
			require.Error(t, err, "%g Hz by %g: %+v", hz, deviation, f)
		}
	}
}
