package wav

import "math"

func decodeU8(dst []float32, src []byte) {
	src = src[:len(dst)]
	for i := range dst {
		dst[i] = float32(int(src[i])-128) * (1. / (1 << 7))
	}
}

// decodeS16 takes eight samples at a time, with no index to check: most recordings are of this kind.
func decodeS16(dst []float32, src []byte) {
	const scale = 1. / (1 << 15)
	for len(dst) >= 8 && len(src) >= 16 {
		d, b := (*[8]float32)(dst), (*[16]byte)(src)
		d[0] = float32(int16(le.Uint16(b[0:]))) * scale
		d[1] = float32(int16(le.Uint16(b[2:]))) * scale
		d[2] = float32(int16(le.Uint16(b[4:]))) * scale
		d[3] = float32(int16(le.Uint16(b[6:]))) * scale
		d[4] = float32(int16(le.Uint16(b[8:]))) * scale
		d[5] = float32(int16(le.Uint16(b[10:]))) * scale
		d[6] = float32(int16(le.Uint16(b[12:]))) * scale
		d[7] = float32(int16(le.Uint16(b[14:]))) * scale
		dst, src = dst[8:], src[16:]
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
