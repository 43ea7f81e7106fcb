package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Contacts that are closed for one hundredth of the time (across: open) leave the tone a few stretches, and chatter in them.
// An error of 0.01 Hz turns the tone by 36 degrees in 10 s of silence.
func TestToneIsFoundToAHundredthOfAHertz(t *testing.T) {
	for _, tone := range []float64{703.3, 1010.04, 3010.7, 5000} {
		s := basicSynth()
		s.tone, s.startsOpen, s.n, s.turns = tone, true, 48000*10, nil
		for at := 40000; at < 400000; at += 120000 {
			s.turns = append(s.turns, at, at+4000, at+4150, at+9000, at+9050, at+13000)
		}
		sv, err := NewSurvey(s.fs, 1, SurveyOptions{})
		require.NoError(t, err)
		sv.Write(s.render())
		_, f, err := sv.Result()
		require.NoError(t, err)
		assert.InDelta(t, tone, f.Tone, 0.01)
	}
}

func TestPitchStopsAtALagThatDoesNotAgree(t *testing.T) {
	const f = 0.0213
	var p pitch
	for i := range 100 {
		// A tone whose phase jumps at random every few pairs holds together over one pair, not over sixteen.
		a := 2*math.Pi*f*float64(i)*64 + 2.4*float64((i/8)*(i/8))
		p.add(complex(math.Cos(a), math.Sin(a)), 10)
	}
	got := p.refine(f+0.0004, 64)
	assert.InDelta(t, f, got, 0.0004)
	assert.Equal(t, f, (&pitch{}).refine(f, 64), "nothing heard")
}
