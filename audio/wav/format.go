package wav

import (
	"bytes"
	"fmt"
)

// MaxChannels and MaxSampleRate [frames/s] are the largest that a header may declare.
const (
	MaxChannels   = 256
	MaxSampleRate = 768000
)

// Format tags, from memory of mmreg.h.
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xfffe
)

// tagNames holds the encodings that are met in practice and not decoded here.
var tagNames = map[uint16]string{
	0x0002: "Microsoft ADPCM", 0x0006: "A-law", 0x0007: "mu-law", 0x0011: "IMA ADPCM", 0x0031: "GSM 6.10",
	0x0040: "G.721 ADPCM", 0x0045: "G.726 ADPCM", 0x0050: "MPEG audio", 0x0055: "MP3", 0x00ff: "AAC", 0x0161: "WMA",
	0x2000: "AC-3", 0xf1ac: "FLAC",
}

// subformatTail is what follows the two bytes of the format tag in the GUID of an extensible header.
var subformatTail = []byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71}

// fmtLen is how much of a fmt chunk is looked at.
const fmtLen = 40

// layout is how the samples lie in the data.
type layout struct {
	rate, channels int
	frameBytes     int
	encoding       string
	decode         func(dst []float32, src []byte) // len(dst) samples
}

// parseFmt reads a fmt chunk, of which b is the body, cut to fmtLen bytes.
func parseFmt(b []byte) (layout, error) {
	if len(b) < 16 {
		return layout{}, badHeader("fmt chunk", fmt.Sprintf("%d bytes", len(b)), "16 or more")
	}
	tag, bits := le.Uint16(b), int(le.Uint16(b[14:]))
	align := int(le.Uint16(b[12:]))
	l := layout{channels: int(le.Uint16(b[2:])), rate: int(le.Uint32(b[4:]))}
	if l.channels < 1 || l.channels > MaxChannels {
		return layout{}, badHeader("channels", l.channels, "1..%d", MaxChannels)
	}
	if l.rate < 1 || l.rate > MaxSampleRate {
		return layout{}, badHeader("sample rate", l.rate, "1..%d frames/s", MaxSampleRate)
	}
	valid := bits
	if tag == tagExtensible {
		var err error
		if tag, valid, err = parseExtension(b, bits); err != nil {
			return layout{}, err
		}
	}
	if err := l.setEncoding(tag, bits, valid); err != nil {
		return layout{}, err
	}
	if align != l.frameBytes {
		return layout{}, badHeader("block align", align, "%d (%d channels of %d bits)", l.frameBytes, l.channels, bits)
	}
	return l, nil
}

// parseExtension returns the format tag and the valid bits of an extensible header.
func parseExtension(b []byte, bits int) (tag uint16, valid int, err error) {
	if len(b) < fmtLen {
		return 0, 0, badHeader("extensible fmt chunk", fmt.Sprintf("%d bytes", len(b)), "%d or more", fmtLen)
	}
	if n := le.Uint16(b[16:]); n < 22 {
		return 0, 0, badHeader("extension of the fmt chunk", fmt.Sprintf("%d bytes", n), "22 or more")
	}
	if guid := b[24:40]; !bytes.Equal(guid[2:], subformatTail) {
		return 0, 0, &UnsupportedError{Encoding: fmt.Sprintf("subformat %x", guid)}
	}
	if bits%8 != 0 {
		return 0, 0, badHeader("bits per sample", bits, "a multiple of 8 in an extensible header")
	}
	valid = int(le.Uint16(b[18:]))
	if valid == 0 {
		valid = bits
	}
	if valid > bits {
		return 0, 0, badHeader("valid bits", valid, "1..%d, the bits per sample", bits)
	}
	return le.Uint16(b[24:]), valid, nil
}

// setEncoding chooses the decoder. Samples of fewer valid bits than their bytes hold are left-justified, so that they
// are decoded like full ones.
func (l *layout) setEncoding(tag uint16, bits, valid int) error {
	name, known := tagNames[tag]
	switch {
	case tag != tagPCM && tag != tagFloat && known:
		return &UnsupportedError{Encoding: name}
	case tag != tagPCM && tag != tagFloat:
		return &UnsupportedError{Encoding: fmt.Sprintf("format 0x%04x", tag)}
	case bits == 0:
		return badHeader("bits per sample", bits, "8..32 (PCM), 32 or 64 (float)")
	}
	bytes := (bits + 7) / 8
	l.frameBytes = bytes * l.channels
	if tag == tagFloat {
		l.encoding = fmt.Sprintf("%d-bit float", bits)
		l.decode = map[int]func([]float32, []byte){32: decodeF32, 64: decodeF64}[bits]
	} else {
		l.encoding = fmt.Sprintf("%d-bit PCM", valid)
		if valid != 8*bytes {
			l.encoding += fmt.Sprintf(" in %d bits", 8*bytes)
		}
		l.decode = map[int]func([]float32, []byte){1: decodeU8, 2: decodeS16, 3: decodeS24, 4: decodeS32}[bytes]
	}
	if l.decode == nil {
		return &UnsupportedError{Encoding: l.encoding}
	}
	return nil
}
