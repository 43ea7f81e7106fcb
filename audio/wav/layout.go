package wav

import "math"

// maxRIFF is the largest size that a RIFF header can declare; beyond it the file turns to RF64.
const maxRIFF = math.MaxUint32 - 1

// appendFront appends everything that stands before the room for cue points, or before the data chunk when there is
// none: always of the same length for a Spec, so that it can be written over as the file grows. rest is the number of
// bytes that follow the data, skip how much of the room no reader shall see.
//
// Up to 4 GiB it is a RIFF file with a JUNK chunk that keeps the place of ds64 (EBU Tech 3306); beyond it is RF64.
func (s Spec) appendFront(b []byte, data, rest, skip int64) []byte {
	from := len(b)
	b = append(b, "RIFF\xff\xff\xff\xffWAVEJUNK"...)
	b = le.AppendUint32(b, 28)
	b = append(b, make([]byte, 28)...)
	b = s.appendFmt(b)
	frames := data / int64(s.frameBytes())
	if s.Encoding == Float32 || s.extensible() { // all but plain PCM must tell the frames here too
		b = append(b, "fact"...)
		b = le.AppendUint32(b, 4)
		b = le.AppendUint32(b, uint32(min(frames, math.MaxUint32)))
	}
	if s.Room > 0 {
		b = append(b, "JUNK"...)
		b = le.AppendUint32(b, uint32(skip))
	}

	head := b[from:]
	size := int64(len(head)) + 2*s.slotBytes() + data + rest // without its own header, with that of the data
	if size <= maxRIFF {
		le.PutUint32(head[4:], uint32(size))
		return b
	}
	copy(head, "RF64")
	copy(head[12:], "ds64")
	le.PutUint64(head[20:], uint64(size))
	le.PutUint64(head[28:], uint64(data))
	le.PutUint64(head[36:], uint64(frames))
	return b
}

// appendDataHeader appends the header of the data chunk. A size of all ones refers to ds64; one that is smaller counts
// in RF64 too (EBU Tech 3306, from memory).
func appendDataHeader(b []byte, data int64) []byte {
	b = append(b, "data"...)
	return le.AppendUint32(b, uint32(min(data, math.MaxUint32)))
}

// extensible tells whether the header must be of the extensible kind: with more than two channels.
func (s Spec) extensible() bool { return s.Channels > 2 }

// appendFmt appends the fmt chunk. An extensible one names no speaker positions.
func (s Spec) appendFmt(b []byte) []byte {
	tag := uint16(tagPCM)
	if s.Encoding == Float32 {
		tag = tagFloat
	}
	bits := uint16(8 * s.Encoding.bytes())
	size, outer := uint32(16), tag
	switch {
	case s.extensible():
		size, outer = 40, tagExtensible
	case tag == tagFloat:
		size = 18 // everything but PCM has an extension, here of length 0
	}
	b = append(b, "fmt "...)
	b = le.AppendUint32(b, size)
	b = le.AppendUint16(b, outer)
	b = le.AppendUint16(b, uint16(s.Channels))
	b = le.AppendUint32(b, uint32(s.SampleRate))
	b = le.AppendUint32(b, uint32(s.SampleRate*s.frameBytes()))
	b = le.AppendUint16(b, uint16(s.frameBytes()))
	b = le.AppendUint16(b, bits)
	switch {
	case s.extensible():
		b = le.AppendUint16(b, 22)
		b = le.AppendUint16(b, bits)
		b = le.AppendUint32(b, 0)
		b = le.AppendUint16(b, tag)
		b = append(b, subformatTail...)
	case tag == tagFloat:
		b = le.AppendUint16(b, 0)
	}
	return b
}

// appendCues appends a "cue " chunk and the labels in a LIST chunk of type adtl, numbered from 1; nothing without cues.
func appendCues(b []byte, cues []Cue) []byte {
	if len(cues) == 0 {
		return b
	}
	b = append(b, "cue "...)
	b = le.AppendUint32(b, uint32(4+24*len(cues)))
	b = le.AppendUint32(b, uint32(len(cues)))
	for i, c := range cues {
		b = le.AppendUint32(b, uint32(i+1))
		b = le.AppendUint32(b, uint32(c.Frame)) // in the play list, which is the whole file
		b = append(b, "data\x00\x00\x00\x00\x00\x00\x00\x00"...)
		b = le.AppendUint32(b, uint32(c.Frame))
	}
	b = append(b, "LIST"...)
	at := len(b)
	b = le.AppendUint32(b, 0)
	b = append(b, "adtl"...)
	for i, c := range cues {
		if c.Label == "" {
			continue
		}
		b = append(b, "labl"...)
		b = le.AppendUint32(b, uint32(4+len(c.Label)+1))
		b = le.AppendUint32(b, uint32(i+1))
		b = append(b, c.Label...)
		b = append(b, 0)
		if len(c.Label)%2 == 0 { // with its NUL odd: pad, which the size does not count
			b = append(b, 0)
		}
	}
	le.PutUint32(b[at:], uint32(len(b)-at-4))
	return b
}
