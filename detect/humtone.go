package detect

import "math"

const (
	toneReach = 15.0 // [Hz] by which hum may have drawn the tone's frequency aside
	toneStep  = 0.25 // [Hz] of the search: a second resolves 2 Hz
)

// toneBeside returns the frequency of the tone [Hz] near the one given in the sound x less the hum h, which has left out the harmonics near it: that
// of the strongest line there.
func toneBeside(x []float32, fs, near float64, h Hum) float64 {
	y := make([]float64, len(x))
	table := make([]float64, humBins+1)
	h.fill(table)
	for i, v := range x {
		if v-v != 0 {
			continue
		}
		t := float64(i) / fs
		_, phase := math.Modf((h.Freq + h.slide*t/2) * t)
		at := phase * humBins
		k := int(at)
		hum := (1 + h.swell*t) * (table[k] + (at-float64(k))*(table[k+1]-table[k]))
		y[i] = float64(v) - hum
	}
	hann(y)
	var w []float64
	for o := -toneReach; o <= toneReach; o += toneStep {
		w = append(w, 2*math.Pi*(near+o)/fs)
	}
	most, best := 0, 0.0
	p := make([]float64, len(w))
	for i, z := range goertzel(y, w) {
		if p[i] = math.Log(mag2(z) + 1e-30); i == 0 || p[i] > best {
			most, best = i, p[i]
		}
	}
	if most == 0 || most == len(p)-1 {
		return near
	}
	// A parabola through the logarithms of a peak and its neighbours.
	a, b := p[most-1]-p[most], p[most+1]-p[most]
	return near - toneReach + toneStep*(float64(most)+(a-b)/(2*(a+b)))
}
