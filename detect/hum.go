package detect

import (
	"math"
	"math/cmplx"
	"slices"
)

// Hum is mains hum: a periodic disturbance of 50 or 60 Hz and its harmonics.
type Hum struct {
	Freq float64 // fundamental [Hz]; 0: no hum worth taking off
	// Harmonics[k-1] is the level of harmonic k [full scale], with the phase that it has at frame 0 of the stream. Harmonics that lie at
	// the tone are left out: they are a slow turning of its level.
	Harmonics []complex128
	late      bool    // not there at the beginning, as far as is known
	slide     float64 // by which Freq grows at the beginning [Hz/s]
	swell     float64 // by which the hum grows in a second, over its level at the beginning
	tone      float64 // frequency of the tone [Hz], as it is read beside the hum; 0: not read
}

// Level returns the power of the hum as the amplitude of a sine of the same power [full scale].
func (h Hum) Level() float64 {
	var p float64
	for _, a := range h.Harmonics {
		p += mag2(a)
	}
	return math.Sqrt(p)
}

// later returns the hum with the phases that it has so many frames later.
func (h Hum) later(frames int64, fs float64) Hum {
	for k, a := range h.Harmonics {
		h.Harmonics[k] = a * cmplx.Rect(1, 2*math.Pi*math.Mod(float64(k+1)*h.Freq*float64(frames)/fs, 1))
	}
	return h
}

const (
	humSeconds  = 1.0      // [s] of sound from which the hum is learnt
	humReach    = 0.6      // [Hz] by which the mains frequency may be off
	humTop      = 3000.0   // [Hz] highest harmonic taken off
	humNearTone = 5.0      // [Hz] within which of the tone a harmonic is left to the tone's level
	humBlock    = 0.100    // [s] over which the tone's level is left free while the hum is learnt
	humLeast    = 0.03     // least level worth taking off, of the tone's (-30 dB)
	humStands   = 10.0     // least power at the mains frequency, over that at its neighbours: an engine holds all of them
	humBins     = 1024     // bins of a period in the canceller
	humGain     = 1.0 / 20 // of the residual that a bin of the table takes
)

// findHum looks for hum in the sound x, which begins at frame 0, beside a tone of f cycles per frame and amplitude a that
// comes and goes, in noise of standard deviation sigma. The zero Hum means that there is none worth taking off. The tone's frequency [Hz] is read
// anew beside the hum, which may have drawn it aside.
func findHum(x []float32, fs, f, a, sigma float64) Hum {
	if float64(len(x)) < 0.25*fs {
		return Hum{}
	}
	base, amplitude := humFrequency(x, fs, f*fs)
	// White noise alone gives a power of 6 sigma^2/n in each of the four harmonics; four times the sum is no chance.
	if chance := math.Sqrt(96/float64(len(x))) * sigma; amplitude < math.Max(chance, 0.5*humLeast*a) {
		return Hum{}
	}
	t := trend(x, fs, base, f*fs)
	h := Hum{Freq: t.freq}
	even := x
	if math.Abs(t.slide) > humTrendSlide || math.Abs(t.swell) > humTrendSwell {
		middle := float64(len(x)) / 2 / fs
		h = Hum{Freq: t.freq - t.slide*middle, slide: t.slide, swell: t.swell / (1 - t.swell*middle)}
		even = t.steady(x, fs)
	}
	h.Harmonics = humLevels(even, fs, f, h.Freq, toneReach)
	h.tone = toneBeside(x, fs, f*fs, h)
	h.Harmonics = newHumTwo(fs, h.tone).beside(even, h.Freq)
	if h.Level() < humLeast*a {
		return Hum{}
	}
	return h
}

// humHarmonics are those by which hum is told: they are the strongest.
var humHarmonics = []float64{1, 2, 3, 5}

// humFrequency returns the fundamental [Hz], within humReach of 50 or 60 Hz, for which humHarmonics together hold most power, and the amplitude
// of a sine of that power [full scale], 0 where it stands out too little. A harmonic at the tone [Hz] does not count.
func humFrequency(x []float32, fs, tone float64) (hz, amplitude float64) {
	y := lowered(x, fs)
	hann(y)
	rate := fs / float64(lowerBy(fs))
	power := func(hz float64) (p float64) {
		for _, k := range humHarmonics {
			if math.Abs(k*hz-tone) > humNearTone {
				p += mag2(goertzel(y, []float64{2 * math.Pi * k * hz / rate})[0]) * 16 / float64(len(y)*len(y))
			}
		}
		return p
	}
	best := 0.0
	for _, mains := range []float64{50, 60} {
		for o := -humReach; o <= humReach; o += 0.05 {
			if p := power(mains + o); p > best {
				best, hz = p, mains+o
			}
		}
	}
	var beside []float64
	for _, o := range []float64{-8.5, -7, -5.5, -4, 4, 5.5, 7, 8.5} { // a second resolves 2 Hz
		beside = append(beside, power(hz+o))
	}
	slices.Sort(beside)
	if best < humStands*beside[len(beside)/2] {
		return hz, 0
	}
	for d := 0.025; d > 2e-4; d /= 2 {
		for _, o := range []float64{-d, d} {
			if p := power(hz + o); p > best {
				best, hz = p, hz+o
			}
		}
	}
	return hz, math.Sqrt(best)
}
