package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// humming is two seconds of two tones, of which the second is so many times as loud as the first and each changes some eleven times a second, with hum
// of so many dB over the first.
func humming(seed uint64, down, hz, db float64) (x []float32, tones [2]float64) {
	tones = [2]float64{1010, 1630}
	s := pairTake(seed, 30, tones, [2]float64{0.25, 0.25 * down}, 30)
	s.a.turns, s.b.turns = nil, nil
	for at := 4000 + int(seed)*100; at < 48000; at += 4300 + at%97 {
		s.a.turns, s.b.turns = append(s.a.turns, at), append(s.b.turns, at+1500+at%61)
	}
	s.a.n, s.b.n = 96000, 96000
	x = s.render()
	addHum(x, 48000, hz, 0, 0.25/math.Sqrt2, db)
	return x, tones
}

// The hum is told from the edges of two tones, from 30 dB below the first up: what it has to be in the second after, as its frequency and its
// phases have it, takes nine tenths of its power off, which at the least is a tenth of the noise.
func TestHumIsToldFromTwoTonesThatChange(t *testing.T) {
	for _, down := range []float64{1, 0.316} {
		for _, hz := range []float64{50.03, 59.96} {
			for _, db := range []float64{-30, -20, -10, 0, 10} {
				x, tones := humming(3, down, hz, db)
				h := HumOfTwo(x[:48000], 48000, tones, 0)
				require.NotZero(t, h.Freq, "%g %g %g", down, hz, db)
				assert.InDelta(t, hz, h.Freq, 0.015, "%g dB: a twentieth of a turn of the third harmonic in a second", db)
				assert.True(t, MayHum(x[:9600], 48000, tones, 0), "%g dB", db)
				clean := make([]float32, len(x))
				addHum(clean, 48000, hz, 0, 0.25/math.Sqrt2, db)
				table := make([]float64, humBins+1)
				h = h.After(48000, 48000)
				h.fill(table)
				var left, all float64
				for i, v := range clean[48000:57600] {
					_, phase := math.Modf(h.Freq * float64(i) / 48000)
					off := float64(v) - table[int(phase*humBins)]
					left, all = left+off*off, all+float64(v)*float64(v)
				}
				sigma := snr(0.25*down, 30)
				assert.Less(t, left/9600, 0.1*all/9600+sigma*sigma, "%g times, %g Hz, %g dB", down, hz, db)
			}
		}
	}
}

func TestThereIsNoHumInTwoTonesThatChange(t *testing.T) {
	waits := 0
	for seed := range uint64(10) {
		x, tones := humming(seed, 0.316, 50, -200)
		assert.Zero(t, HumOfTwo(x[:48000], 48000, tones, 0).Freq)
		if MayHum(x[50000:59600], 48000, tones, 0) {
			waits++
		}
	}
	assert.LessOrEqual(t, waits, 2, "sound without hum seldom waits: ten periods of noise may look like it")
	x, tones := humming(1, 1, 50, 0)
	assert.Zero(t, HumOfTwo(x[:48000], 48000, tones, 50).Freq, "nothing beside tones that are known to be so loud at times")
	assert.False(t, MayHum(x[:9600], 48000, tones, 50))
	assert.Zero(t, HumOfTwo(x[:11999], 48000, tones, 0).Freq, "too short to tell")
	assert.Zero(t, HumOfTwo(nil, 48000, tones, 0).Freq)
	assert.False(t, MayHum(nil, 48000, tones, 0))
	for i := 0; i < len(x); i += 1000 {
		x[i] = float32(math.NaN())
	}
	assert.InDelta(t, 50, HumOfTwo(x[:48000], 48000, tones, 0).Freq, 0.02, "samples that are no numbers are left out")
}

// A mains frequency that slides by 0.2 Hz/s and hum that swells by a fifth in a second.
func TestHumOfTwoSlidesAndSwells(t *testing.T) {
	x, tones := humming(5, 1, 50, -200)
	for i := range x {
		s := float64(i) / 48000
		turn := 2 * math.Pi * (49.9*s + 0.1*s*s)
		x[i] += float32(0.1 * (1 + 0.2*s) * (math.Sin(turn) + math.Sin(3*turn)/3 + math.Sin(7*turn)/7))
	}
	h := HumOfTwo(x[:48000], 48000, tones, 0)
	assert.InDelta(t, 49.9, h.Freq, 0.02)
	later := h.After(48000, 48000)
	assert.InDelta(t, 50.1, later.Freq, 0.02)
	assert.InDelta(t, 1.2, later.Level()/h.Level(), 0.04)
	assert.Zero(t, Hum{}.After(48000, 48000).Freq)
	assert.Zero(t, Hum{Freq: 50, swell: -1}.After(96000, 48000).Freq, "it has gone")
}

// A harmonic that lies at the second tone is not taken for hum, nor is the tone.
func TestAHarmonicAtTheSecondToneIsLeftToIt(t *testing.T) {
	var c canceller
	c.begin(Hum{Freq: 50, Harmonics: []complex128{1}}, 48000, 1010, 1600)
	assert.Equal(t, [2]int{0, 32}, c.atTone)
	for i := range c.table {
		c.table[i] += 0.5 * math.Cos(2*math.Pi*32*float64(i)/humBins+0.3)
	}
	for range 2000 { // two periods
		c.next()
	}
	for i, v := range c.table {
		assert.InDelta(t, math.Cos(2*math.Pi*float64(i)/humBins), v, 1e-9)
	}
}

// A Split that takes hum off takes two tones apart as if there were none.
func TestSplitTakesHumOff(t *testing.T) {
	s := pairTake(3, 30, [2]float64{1010, 1630}, [2]float64{0.25, 0.1}, 30)
	x := s.render()
	addHum(x, 48000, 50.02, 0, 0.25/math.Sqrt2, 0)
	p, err := NewSplit(48000, 1, 0, [2]float64{1010, 1630})
	require.NoError(t, err)
	h := HumOfTwo(x[:48000], 48000, [2]float64{1010, 1630}, 0)
	p.TakeOff(h)
	var out [2][]float32
	var unheard [2]int64
	for at := 0; at < len(x); {
		n := min(p.Most(), len(x)-at)
		p.Process(x[at : at+n])
		at += n
		for i := range out {
			sound, missed := p.Take(i)
			out[i], unheard[i] = append(out[i], sound...), unheard[i]+missed
		}
	}
	for i, one := range []synth{s.a, s.b} {
		want := one.render()[unheard[i]:]
		var off float64
		for n, v := range out[i] {
			d := float64(v - want[n])
			off += d * d
		}
		assert.Less(t, math.Sqrt(off/float64(len(want))), 0.5*one.sigma, "tone %d", i)
	}
}
