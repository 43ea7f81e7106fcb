package detect

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestHumThatIsNotThereIsNotTakenOff(t *testing.T) {
	const fs = 16000
	hum := func(i int) float64 { return 0.4 * math.Cos(2*math.Pi*50*float64(i)/fs+1) }
	h := Hum{Freq: 50, Harmonics: []complex128{complex(0.4*math.Cos(1), 0.4*math.Sin(1))}}
	var c canceller
	c.begin(h, fs, 1013)
	var left, before float64 // power over a quarter of a second that begins when things have settled
	for i := range 4 * fs {
		there := i >= fs && i < 3*fs
		tone := 0.04 * math.Cos(2*math.Pi*1013*float64(i)/fs)
		x := tone
		if there {
			x += hum(i)
		}
		e := c.off(x) - tone
		c.learn(e, 0.1)
		c.next()
		if second, part := i/fs, i%fs; part >= fs/4 {
			left += e * e
			if second == 0 || second == 3 {
				before += e * e
			}
		}
	}
	// A hundredth of the hum's power, which would be 0.08 a sample.
	assert.Less(t, left/(3*fs), 8e-4)
	assert.Less(t, before/(1.5*fs), 1e-12, "untouched without hum")
}

// followed lets a canceller that knows the hum of the beginning follow one that wanders, beside a tone that it does not know, and
// returns what is left after the first second, over the tone's level [dB].
func followed(hz, wander, swell, tone, over float64) float64 {
	const fs, amplitude = 16000, 0.04
	var h Hum
	h.Freq = hz
	for k := 1; k <= 20; k++ {
		a := cmplx.Rect(math.Pow(float64(k), -1.5), float64(k*k))
		if float64(k)*hz == tone {
			a = 0 // the canceller leaves it to the tone
		}
		h.Harmonics = append(h.Harmonics, a)
	}
	g := amplitude * math.Pow(10, over/20) / h.Level()
	for k := range h.Harmonics {
		h.Harmonics[k] *= complex(g, 0)
	}
	var c canceller
	c.begin(h, fs, tone)
	var phase, left float64
	for i := range 12 * fs {
		at := float64(i) / fs
		var hum float64
		for k, a := range h.Harmonics {
			hum += real(a * cmplx.Rect(1+swell*math.Sin(2*math.Pi*at/7), 2*math.Pi*float64(k+1)*phase))
		}
		x := hum
		if int(at*7)%2 == 0 {
			x += amplitude * math.Cos(2*math.Pi*tone*at)
		}
		d := c.off(x) - (x - hum)
		if at >= 1 {
			left += d * d
		}
		c.next()
		_, phase = math.Modf(phase + (hz+wander*math.Sin(2*math.Pi*at/10))/fs)
	}
	return 10 * math.Log10(2*left/(11*fs)/(amplitude*amplitude))
}

func TestWanderingHumIsFollowed(t *testing.T) {
	for name, c := range map[string]struct{ hz, wander, swell, tone, over, want float64 }{
		// The loops lag behind neither a slide nor a swelling that goes on; what is left is that of the table, a broken line.
		"steady":                  {50, 0, 0, 1013, 20, -35},
		"wandering":               {50, 0.1, 0, 1013, 20, -35},
		"swelling":                {50, 0, 0.2, 1013, 20, -35},
		"both":                    {50, 0.1, 0.2, 1013, 20, -35},
		"both, 60 Hz":             {60, 0.1, 0.2, 1013, 20, -30},
		"on a harmonic":           {50, 0.1, 0.2, 1000, 20, -35},
		"both, as loud as a tone": {50, 0.1, 0.2, 1013, 0, -35},
	} {
		got := followed(c.hz, c.wander, c.swell, c.tone, c.over)
		assert.Less(t, got, c.want, name)
	}
}
