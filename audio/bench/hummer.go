package bench

import "math/rand/v2"

// hummer makes hum, frame after frame. The zero hummer is silent.
type hummer struct {
	fundamental phasor
	amp         []float64 // amplitudes of the harmonics, from the fundamental
}

// newHummer returns the hum of a Config, checked before; its phase is the next of phases, which is asked only where there is hum.
func newHummer(h Hum, sampleRate int, phases *rand.Rand) hummer {
	if !(h.Hz > 0 && h.Level > 0) {
		return hummer{}
	}
	m := hummer{fundamental: newPhasor(h.Hz/float64(sampleRate), phases.Float64())}
	for k := 1; k <= h.Harmonics && float64(k)*h.Hz < float64(sampleRate)/2; k++ {
		m.amp = append(m.amp, h.Level/float64(k))
	}
	return m
}

// at returns the hum in frame n, scaled by a gain. Harmonic k is the k-th power of the fundamental's phasor.
func (m *hummer) at(n int64, gain float64) float64 {
	if len(m.amp) == 0 {
		return 0
	}
	z := m.fundamental.at(n)
	sum, power := 0.0, complex(gain, 0)
	for _, a := range m.amp {
		power *= z
		sum += a * imag(power)
	}
	return sum
}
