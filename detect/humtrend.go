package detect

import (
	"math"
	"math/cmplx"
)

// humTrend is how the hum of a second changes within it.
type humTrend struct {
	freq  float64 // fundamental in the middle [Hz]
	slide float64 // by which it grows [Hz/s]
	swell float64 // by which the hum grows in a second, over its level in the middle
}

const (
	trendParts    = 5    // of the second, in which phase and size are measured
	humMaxSlide   = 0.5  // [Hz/s] of the mains; what changes faster is none
	humMaxSwell   = 0.5  // [1/s]
	humTrendSlide = 0.01 // [Hz/s] and
	humTrendSwell = 0.01 // [1/s] that are worth following
)

// trend measures the trend of hum of the fundamental hz in the sound x, beside a tone [Hz]. In each part of it the humHarmonics, over what they
// are in all of it, tell how far it is ahead [periods] and how large it is, a strong and a high harmonic more than others; a parabola through the
// first gives frequency and slide, a line through the second the swelling.
func trend(x []float32, fs, hz, tone float64) humTrend {
	y := lowered(x, fs)
	rate := fs / float64(lowerBy(fs))
	n := len(y) / trendParts
	seconds := float64(n) / rate
	var ahead, size, sure, all [trendParts]float64
	for _, k := range humHarmonics {
		if math.Abs(k*hz-tone) <= humNearTone {
			continue
		}
		w := 2 * math.Pi * k * hz / rate
		var z [trendParts]complex128
		var whole complex128
		for p := range z {
			part := append([]float64(nil), y[p*n:(p+1)*n]...)
			hann(part)
			z[p] = goertzel(part, []float64{w})[0] * cmplx.Rect(1, -math.Mod(w*float64(p*n), 2*math.Pi))
			whole += z[p] / trendParts
		}
		for p := range z {
			over := z[p] * cmplx.Conj(whole)
			ahead[p] += k * mag(over) * cmplx.Phase(over) / (2 * math.Pi)
			sure[p] += k * k * mag(over)
			size[p] += mag(over)
			all[p] += mag2(whole)
		}
	}
	// Least squares over t = -2..2: a line has the slope sum t v / 10, a parabola the bend sum (t^2 - 2) v / 14.
	var slope, bend, grows, level float64
	for p := range ahead {
		if sure[p] == 0 || all[p] == 0 {
			return humTrend{freq: hz}
		}
		t, a, s := float64(p-trendParts/2), ahead[p]/sure[p], size[p]/all[p]
		slope += t * a / 10
		bend += (t*t - 2) * a / 14
		grows += t * s / 10
		level += s / trendParts
	}
	out := humTrend{freq: hz + slope/seconds, slide: 2 * bend / (seconds * seconds), swell: grows / level / seconds}
	if math.Abs(out.slide) > humMaxSlide || math.Abs(out.swell) > humMaxSwell {
		return humTrend{freq: hz}
	}
	return out
}

// steady returns the sound x as it would be if its hum had the frequency and the level that it has at frame 0, at all frames.
func (t humTrend) steady(x []float32, fs float64) []float32 {
	y := make([]float32, len(x))
	middle := float64(len(x)) / 2 / fs
	first := t.freq - t.slide*middle // frequency at frame 0
	for i := range y {
		// Periods first s + slide s^2 / 2 have passed at s seconds.
		want := float64(i) / fs
		s := want
		for range 2 {
			s = want - t.slide*s*s/2/first
		}
		y[i] = between(x, s*fs) / float32((1+t.swell*(s-middle))/(1-t.swell*middle))
	}
	return y
}

// between returns x at a place between frames, by a cubic through its four neighbours.
func between(x []float32, at float64) float32 {
	i := int(at)
	if i < 1 || i+2 >= len(x) {
		return x[max(0, min(len(x)-1, i))]
	}
	f := float32(at - float64(i))
	a, b, c, d := x[i-1], x[i], x[i+1], x[i+2]
	return b + f/2*(c-a+f*(2*a-5*b+4*c-d+f*(3*(b-c)+d-a)))
}
