package detect

import (
	"math"
	"math/cmplx"
)

const (
	splitHumLeast  = humLeast / 2 // of the weaker tone: hum that is worth taking off before the tones are taken apart
	splitHumBeside = 22.0         // [Hz], where there is no hum; 0.2 s resolve 10 Hz
	splitHumStands = 3.0          // least power at the mains frequency, over that beside it
	splitHumLook   = 0.05         // [s] over which the tones' levels are read
)

// HumSeconds is how much sound HumOfTwo wants to learn hum from [s].
const HumSeconds = humSeconds

// HumOfTwo looks for hum in x, the sound of one channel that holds two tones [Hz], of which the weaker is known to be as loud as level at times
// [full scale], 0 where that is not known. Its phases are those at the first sample. The zero Hum means that there is none worth taking off. Less than a quarter of a second
// tells nothing.
func HumOfTwo(x []float32, sampleRate int, tones [2]float64, level float64) Hum {
	fs := float64(sampleRate)
	if float64(len(x)) < 0.25*fs {
		return Hum{}
	}
	least := splitHumLeast * math.Max(level, math.Min(loudest(x, fs, tones[0]), loudest(x, fs, tones[1])))
	return humOfTwo(x, fs, tones, least)
}

// humOfTwo is HumOfTwo for hum of the level least and above [full scale].
func humOfTwo(x []float32, fs float64, tones [2]float64, least float64) Hum {
	base, amplitude := humFrequency(x, fs, tones[0])
	if amplitude == 0 || amplitude < 0.5*least {
		return Hum{}
	}
	f := newHumTwo(fs, tones[:]...)
	h, ok := f.learn(x, base)
	if h.tone = tones[0]; !ok || h.Level() < least {
		return Hum{}
	}
	return h
}

// humBeside looks for hum in x, where a tone of the level a [full scale] was read at tones[0], and another was named. Hum may have drawn what was read
// aside: it is read anew.
func humBeside(x []float32, fs float64, tones [2]float64, a float64) Hum {
	if float64(len(x)) < 0.25*fs {
		return Hum{}
	}
	h := humOfTwo(x, fs, tones, splitHumLeast*a)
	if h.Freq == 0 {
		return h
	}
	for i := range tones {
		tones[i] = toneBeside(x, fs, tones[i], h)
	}
	return humOfTwo(x, fs, tones, splitHumLeast*a)
}

// MayHum tells that x, the sound of one channel with two tones [Hz], of 0.2 s at least, may hold hum that HumOfTwo would find in more of it;
// level is as there.
func MayHum(x []float32, sampleRate int, tones [2]float64, level float64) bool {
	fs := float64(sampleRate)
	least := 0.5 * splitHumLeast * math.Max(level, math.Min(loudest(x, fs, tones[0]), loudest(x, fs, tones[1])))
	f := newHumTwo(fs, tones[:]...)
	y := lowered(f.still(x), fs)
	hann(y)
	rate := fs / float64(lowerBy(fs))
	power := func(hz float64) float64 {
		return mag2(goertzel(y, []float64{2 * math.Pi * hz / rate})[0]) * 16 / float64(len(y)*len(y))
	}
	for _, mains := range []float64{50, 60} {
		at, beside := 0.0, 0.0
		for _, k := range humHarmonics {
			at += power(k * mains)
			beside += (power(k*mains-splitHumBeside) + power(k*mains+splitHumBeside)) / 2
		}
		if at > least*least && at > splitHumStands*beside {
			return true
		}
	}
	return false
}

// loudest returns the loudest level of a tone [Hz] in the sound x [full scale].
func loudest(x []float32, fs, tone float64) (most float64) {
	n := int(splitHumLook * fs)
	y := make([]float64, n)
	for ; len(x) >= n; x = x[n:] {
		for i, v := range x[:n] {
			if y[i] = float64(v); v-v != 0 {
				y[i] = 0
			}
		}
		hann(y)
		most = math.Max(most, 4/float64(n)*mag(goertzel(y, []float64{2 * math.Pi * tone / fs})[0]))
	}
	return most
}

// After returns the hum as it is so many frames later, as far as its slide and its swelling tell.
func (h Hum) After(frames int64, sampleRate int) Hum {
	t := float64(frames) / float64(sampleRate)
	grown := 1 + h.swell*t
	if h.Freq == 0 || !(grown > 0) {
		return Hum{}
	}
	_, periods := math.Modf((h.Freq + h.slide*t/2) * t)
	levels := make([]complex128, len(h.Harmonics))
	for k, a := range h.Harmonics {
		levels[k] = a * cmplx.Rect(grown, 2*math.Pi*float64(k+1)*periods)
	}
	h.Harmonics, h.Freq, h.swell = levels, h.Freq+h.slide*t, h.swell/grown
	return h
}

// TakeOff has hum taken off from the next frame on, at which its phases are those given.
func (s *Split) TakeOff(h Hum) {
	s.p.hum.begin(h, s.p.fs, s.p.cfg[0].Profile.Tone, s.p.cfg[1].Profile.Tone)
}
