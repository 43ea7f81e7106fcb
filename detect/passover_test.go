package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// longSound is two minutes in two channels: padding, then a tone in the second one that comes and goes, with hum.
func longSound(padding float64) []float32 {
	const fs = 8000
	rng := rand.New(rand.NewPCG(5, 5))
	x := make([]float32, 2*120*fs)
	for i := int(padding * fs); i < len(x)/2; i++ {
		t := float64(i) / fs
		a := 0.2
		if i/3000%3 == 1 {
			a = 0.002
		}
		x[2*i] = float32(0.001 * rng.NormFloat64())
		x[2*i+1] = float32(a*math.Sin(2*math.Pi*1000*t) + 0.05*math.Sin(2*math.Pi*50*t) + 0.001*rng.NormFloat64())
	}
	return x
}

func TestWhatASurveyPassesOverNeedNotBeRead(t *testing.T) {
	for name, padding := range map[string]float64{"sound from the start": 0, "padding": 0.3, "padding beyond the dense part": 47} {
		t.Run(name, func(t *testing.T) {
			x := longSound(padding)
			whole, err := NewSurvey(8000, 2, SurveyOptions{})
			require.NoError(t, err)
			whole.Write(x)
			want, found, err := whole.Result()
			require.NoError(t, err)
			assert.InDelta(t, 1000, found.Tone, 0.01)
			assert.InDelta(t, 50, found.Hum.Freq, 0.05, "learnt from a stretch without holes")
			// A sine has the phase of -i at its start; the tone's coming and going takes a little of the hum's level.
			assert.InDelta(t, -0.05, imag(found.Hum.Harmonics[0]), 0.005)

			left, err := NewSurvey(8000, 2, SurveyOptions{})
			require.NoError(t, err)
			passed := int64(0)
			for at := int64(0); at < int64(len(x)/2); {
				rest := int64(len(x)/2) - at
				hear, pass := left.Next()
				if n := min(pass, rest); n > 0 {
					left.Pass(n)
					passed += n
					at += n
					continue
				}
				n := min(hear, rest, 1000)
				left.Write(x[2*at : 2*(at+n)])
				at += n
			}
			got, foundToo, err := left.Result()
			require.NoError(t, err)
			assert.Equal(t, want, got)
			assert.Equal(t, found, foundToo)
			assert.Greater(t, passed, int64(8000*70), "most of what follows the first 30 s")

			odd, err := NewSurvey(8000, 2, SurveyOptions{})
			require.NoError(t, err)
			rng := rand.New(rand.NewPCG(1, 9))
			for y := x; len(y) > 0; {
				n := min(len(y), 2*(1+rng.IntN(2000)))
				odd.Write(y[:n])
				y = y[n:]
			}
			got, foundToo, err = odd.Result()
			require.NoError(t, err)
			assert.Equal(t, want, got, "in other blocks")
			assert.Equal(t, found, foundToo)
		})
	}
}

func TestPassTakesNoMoreThanTheSurveyWouldPassOver(t *testing.T) {
	s, err := NewSurvey(8000, 1, SurveyOptions{})
	require.NoError(t, err)
	hear, pass := s.Next()
	assert.Positive(t, hear)
	assert.Zero(t, pass)
	assert.Panics(t, func() { s.Pass(1) })
	for _, pass = s.Next(); pass == 0; _, pass = s.Next() {
		s.Write(make([]float32, 64))
	}
	assert.Panics(t, func() { s.Pass(pass + 1) })
	assert.Panics(t, func() { s.Pass(-1) })
	s.Pass(pass)
	hear, pass = s.Next()
	assert.Positive(t, hear)
	assert.Zero(t, pass)
}
