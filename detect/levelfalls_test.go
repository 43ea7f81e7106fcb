package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Which two of the levels that a tone has are the contacts' is told by how often it steps between them.
func TestLevelsAreThoseThatTheToneStepsBetween(t *testing.T) {
	base := func(left float64) synth {
		s := basicSynth()
		s.open, s.sigma = polar(0.25, left, -20), snr(0.25, 30)
		s.slow(12, 0.5, 0.9)
		return s
	}
	for name, c := range map[string]struct {
		left float64 // [dB]
		make func(s synth) []float32
	}{
		"a gain turned up once": {-14, func(s synth) []float32 {
			s.slow(5, 0.5, 0.9)
			s.n = 48000 * 12
			x := s.render()
			for i := s.turns[len(s.turns)-1] + 150000; i < len(x); i++ {
				x[i] *= 1.15
			}
			return x
		}},
		"a gain control that lifts what is left above the closed level": {-12, func(s synth) []float32 {
			x := s.render()
			gainControl(s, x, 16, 0.11, 0.033)
			return x
		}},
		"spikes ten times as large": {-60, func(s synth) []float32 {
			x := s.render()
			for i := 3000; i+5 < len(x); i += 5100 {
				for j := range 5 {
					x[i+j] += float32(10 * 0.25 * math.Sin(math.Pi*(float64(j)+0.5)/5) * float64(1-i/5100%2*2))
				}
			}
			return x
		}},
	} {
		t.Run(name, func(t *testing.T) {
			s := base(c.left)
			_, f, err := survey(t, c.make(s), s.fs, 1, SurveyOptions{})
			require.NoError(t, err)
			// A decibel: the gain that was turned up, and what spikes and noise add.
			assert.InDelta(t, -12.04, 20*math.Log10(f.High), 1)
			if c.left > -20 {
				// The gain control lifts by 145 dB/s, and the level is taken for a block and a half after the step.
				assert.InDelta(t, c.left, 20*math.Log10(f.Low/f.High), 2.5)
			} else {
				assert.Less(t, f.Low/f.High, 0.1)
			}
		})
	}
}

func TestFallsOfOneKind(t *testing.T) {
	contacts, gain, note := fall{1, 0.2}, fall{1.3, 1}, fall{0.5, 0.1}
	for name, c := range map[string]struct {
		falls []fall
		want  fall
		n     int
	}{
		"none":                      {nil, fall{}, 0},
		"once":                      {[]fall{contacts}, fall{}, 0},
		"twice":                     {[]fall{contacts, contacts}, contacts, 2},
		"a gain turned, in between": {[]fall{contacts, gain, contacts, contacts}, contacts, 3},
		"many small, few large":     {[]fall{gain, gain, contacts, contacts, gain}, contacts, 2},
		"notes of all sizes":        {[]fall{contacts, contacts, {2, 0.2}, {3, 1}, {4, 0.1}}, fall{}, 0},
		"weaker ones do not matter": {[]fall{contacts, contacts, note, note, note, contacts}, contacts, 3},
	} {
		t.Run(name, func(t *testing.T) {
			got, n := mostFalls(c.falls)
			assert.Equal(t, c.want, got)
			assert.Equal(t, c.n, n)
		})
	}
}

// A quiet state that has noise of its own is not the zeros of a dropout; where it has none, zeros are open points.
func TestZerosAreOpenPointsOnlyWhereThoseHaveNoNoise(t *testing.T) {
	for name, c := range map[string]struct {
		gate func(s synth, x []float32)
		want bool
	}{
		"a long dropout": {func(s synth, x []float32) { clear(x[300000:400000]) }, false},
		"a coarse converter": {func(s synth, x []float32) {
			for i, v := range x {
				x[i] = float32(math.Round(float64(v)*40) / 40)
			}
		}, true},
		"digital silence": {func(s synth, x []float32) {
			for i := 0; i+1 < len(s.turns); i += 2 {
				clear(x[s.turns[i]:s.turns[i+1]])
			}
		}, true},
		"a noise gate, after a while": {func(s synth, x []float32) {
			for i := 0; i+1 < len(s.turns); i += 2 {
				clear(x[s.turns[i]+3000 : s.turns[i+1]])
			}
		}, true},
	} {
		t.Run(name, func(t *testing.T) {
			s := basicSynth()
			s.sigma, s.n, s.turns = snr(0.25, 30), 480000, []int{100007, 114013, 220011, 234017, 420019, 440023}
			x := s.render()
			c.gate(s, x)
			cfg, _, err := survey(t, x, s.fs, 1, SurveyOptions{})
			require.NoError(t, err)
			assert.Equal(t, c.want, cfg.ZeroIsOpen)
		})
	}
}

// A drone just below the tones that may be used is none of them.
func TestATooLowToneIsNotOffered(t *testing.T) {
	s := basicSynth()
	s.tone = MinTone - 3.5
	_, f, err := survey(t, s.render(), s.fs, 1, SurveyOptions{})
	require.ErrorIs(t, err, ErrNoTone, "%+v", f)
}
