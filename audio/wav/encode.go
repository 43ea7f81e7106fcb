package wav

import "math"

// appendSamples appends samples in an encoding and returns how many lay past full scale, NaN included.
// Integers are rounded to the nearest; NaN becomes 0.
func (e Encoding) appendSamples(b []byte, samples []float32) (out []byte, clipped int64) {
	switch e {
	case PCM16:
		for _, x := range samples {
			v, bad := quantise(x, 1<<15)
			clipped += bad
			b = le.AppendUint16(b, uint16(v))
		}
	case PCM24:
		for _, x := range samples {
			v, bad := quantise(x, 1<<23)
			clipped += bad
			b = append(b, byte(v), byte(v>>8), byte(v>>16))
		}
	default:
		for _, x := range samples {
			if !(x >= -1 && x <= 1) {
				clipped++
			}
			b = le.AppendUint32(b, math.Float32bits(x))
		}
	}
	return b, clipped
}

// quantise returns x*scale, rounded and held to -scale..scale-1, and 1 when x lay outside -1..1. Full scale itself, +1,
// which the integers miss by one step, is not counted.
func quantise(x float32, scale float64) (v int32, clipped int64) {
	switch {
	case x != x:
		return 0, 1
	case x > 1:
		return int32(scale) - 1, 1
	case x < -1:
		return -int32(scale), 1
	}
	return int32(min(math.RoundToEven(float64(x)*scale), scale-1)), 0
}
