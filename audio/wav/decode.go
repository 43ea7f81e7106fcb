package wav

import "math"

func decodeU8(dst []float32, src []byte) {
	src = src[:len(dst)]
	for i := range dst {
		dst[i] = float32(int(src[i])-128) * (1. / (1 << 7))
	}
}

// decodeS16 takes four samples at a time: most recordings are of this kind.
func decodeS16(dst []float32, src []byte) {
	const scale = 1. / (1 << 15)
	for len(dst) >= 4 && len(src) >= 8 {
		v := le.Uint64(src)
		dst[0] = float32(int16(v)) * scale
		dst[1] = float32(int16(v>>16)) * scale
		dst[2] = float32(int16(v>>32)) * scale
		dst[3] = float32(int16(v>>48)) * scale
		dst, src = dst[4:], src[8:]
	}
	for i := range dst {
		dst[i] = float32(int16(le.Uint16(src[2*i:]))) * scale
	}
}

func decodeS24(dst []float32, src []byte) {
	for i := range dst {
		b := src[3*i : 3*i+3 : 3*i+3]
		v := int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24) >> 8
		dst[i] = float32(v) * (1. / (1 << 23))
	}
}

func decodeS32(dst []float32, src []byte) {
	for i := range dst {
		b := src[4*i : 4*i+4 : 4*i+4]
		dst[i] = float32(int32(le.Uint32(b))) * (1. / (1 << 31))
	}
}

func decodeF32(dst []float32, src []byte) {
	for i := range dst {
		b := src[4*i : 4*i+4 : 4*i+4]
		dst[i] = math.Float32frombits(le.Uint32(b))
	}
}

func decodeF64(dst []float32, src []byte) {
	for i := range dst {
		b := src[8*i : 8*i+8 : 8*i+8]
		dst[i] = float32(math.Float64frombits(le.Uint64(b)))
	}
}
