package wav

import "encoding/binary"

var le = binary.LittleEndian

// chunk is the header of a RIFF chunk and how much of its body is still to be read.
type chunk struct {
	id   string
	size int64
	left int64
}

// nextChunk reads a chunk header of 8 bytes.
func (in *input) nextChunk() (chunk, error) {
	b, err := in.next(8)
	if err != nil {
		return chunk{}, err
	}
	size := int64(le.Uint32(b[4:]))
	return chunk{id: string(b[:4]), size: size, left: size}, nil
}

// body reads the next n bytes of the chunk, or fewer where it ends.
func (in *input) body(c *chunk, n int) ([]byte, error) {
	b, err := in.next(int(min(int64(n), c.left)))
	c.left -= int64(len(b))
	return b, err
}

// leave skips what is left of the chunk, and its pad byte.
func (in *input) leave(c *chunk) error {
	if err := in.skip(c.left); err != nil {
		return err
	}
	c.left = 0
	if c.size%2 == 1 && in.padded() {
		return in.skip(1)
	}
	return nil
}

// padded tells whether the byte after an odd chunk is the pad that the format demands. Some writers leave it out: then
// the four bytes right here look more like a chunk name than the four that follow a pad.
func (in *input) padded() bool {
	b := in.peek(5)
	if len(b) < 5 {
		return len(b) > 0
	}
	return idLooks(b[1:5]) >= idLooks(b[:4])
}

// idLooks rates four bytes as the name of a chunk: 2 known, 1 possible, 0 impossible.
func idLooks(id []byte) int {
	switch string(id) {
	case "fmt ", "data", "LIST", "cue ", "fact", "JUNK", "junk", "PAD ", "FLLR", "bext", "iXML", "axml", "chna", "PEAK",
		"smpl", "inst", "plst", "id3 ", "ID3 ", "labl", "note", "ltxt", "levl", "cart", "acid", "umid", "_PMX":
		return 2
	}
	for _, c := range id {
		if c < 0x20 || c > 0x7e {
			return 0
		}
	}
	return 1
}
