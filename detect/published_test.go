package detect

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/mjibson/go-dsp/window"
	"github.com/stretchr/testify/assert"
)

// The coefficient of Goertzel's recursion, 2 cos(2 pi f/fs), of 1 kHz (computed independently with mpmath): s[n] = x[n] + coefficient * s[n-1] - s[n-2]
// gives the same power over a hop as the lock-in does with its table of the tone.
func TestTheTurningIsGoertzels(t *testing.T) {
	for _, c := range []struct {
		fs   int
		want float64
	}{{8000, 1.414213562}, {44100, 1.979734946}, {48000, 1.982889723}} {
		s := basicSynth()
		s.fs, s.n = c.fs, 4096
		d, err := New(s.config())
		assert.NoError(t, err)
		coefficient := 2 * d.track.turns[1].c
		assert.InDelta(t, c.want, coefficient, 1e-9)
		var a accumulator
		var s1, s2 float64
		for i, x := range s.render()[:d.hop] {
			at := d.track.turns[i]
			a.add(float64(x), at, false)
			s1, s2 = float64(x)+coefficient*s1-s2, s1
		}
		want := s1*s1 + s2*s2 - coefficient*s1*s2
		got := complex(a.ec, -a.es)
		assert.InDelta(t, want, mag2(got), 1e-9*want)
	}
}

// Windows: coherent gain, equivalent noise bandwidth [bins] and scalloping loss [dB] (computed independently with mpmath; Harris, Proc. IEEE 66
// (1978), Table I prints 1.42, 1.10 and 3.92 dB, from memory). The survey's spectrum uses the Hann window, a hop of the lock-in is
// rectangular; the third is there to show that the reckoning is right. go-dsp's windows are symmetric: the first n of n+1 are periodic.
func TestWindowsAreThosePublished(t *testing.T) {
	const n = 4096
	for name, c := range map[string]struct {
		win                         []float64
		gain, bandwidth, scalloping float64
	}{
		"Hann":        {newSpectrum(n, 3, 200).win, 0.5, 1.5, 1.4236},
		"Blackman":    {window.Blackman(n + 1)[:n], 0.42, 1.72676, 1.0989},
		"rectangular": {window.Rectangular(n), 1, 1, 3.9224},
	} {
		t.Run(name, func(t *testing.T) {
			var sum, sq float64
			var half complex128 // at half a bin
			for i, w := range c.win {
				sum += w
				sq += w * w
				half += complex(w, 0) * cmplx.Rect(1, math.Pi*float64(i)/n)
			}
			assert.InDelta(t, c.gain, sum/n, 1e-6)
			assert.InDelta(t, c.bandwidth, n*sq/(sum*sum), 1e-5)
			assert.InDelta(t, c.scalloping, -20*math.Log10(cmplx.Abs(half)/sum), 1e-4)
		})
	}
}
