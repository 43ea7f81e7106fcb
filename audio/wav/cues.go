package wav

import "bytes"

// Cue is a marked place in a recording.
type Cue struct {
	Frame int64  // from the start of the data
	Label string // empty when the file has none for this place
}

// Limits on what a file can make this package keep.
const (
	maxCues      = 1 << 16
	maxLabel     = 4 << 10 // bytes of one label; the rest is cut off
	maxAllLabels = 4 << 20 // bytes of all labels together
)

// cueList collects cue points and their labels, which come in any order and refer to each other by number. A point that
// comes again with its number and its frame is the same one: a recorder that is stopped while it moves its list from
// before the data to behind it leaves both.
type cueList struct {
	points     []cuePoint
	seen       map[cuePoint]bool
	labels     map[uint32]string
	labelBytes int
}

type cuePoint struct {
	id    uint32
	frame int64
}

// cues joins what was collected, in the order of the file.
func (l *cueList) cues() []Cue {
	var all []Cue
	for _, p := range l.points {
		all = append(all, Cue{Frame: p.frame, Label: l.labels[p.id]})
	}
	return all
}

// read takes in the body of a chunk when it is a "cue " or "LIST" chunk, and leaves others alone.
func (l *cueList) read(in *input, c *chunk) error {
	switch c.id {
	case "cue ":
		return l.readPoints(in, c)
	case "LIST":
		if kind, err := in.body(c, 4); err != nil || string(kind) != "adtl" {
			return err
		}
		return l.readLabels(in, c)
	}
	return nil
}

// readPoints reads a count and that many points of 24 bytes: number, position in the play list, name of the data
// chunk, two starts for compressed data, and the frame.
func (l *cueList) readPoints(in *input, c *chunk) error {
	b, err := in.body(c, 4)
	if err != nil || len(b) < 4 {
		return err
	}
	for n := le.Uint32(b); n > 0 && c.left >= 24 && len(l.points) < maxCues; n-- {
		if b, err = in.body(c, 24); err != nil {
			return err
		}
		l.addPoint(cuePoint{id: le.Uint32(b), frame: int64(le.Uint32(b[20:]))})
	}
	return nil
}

func (l *cueList) addPoint(p cuePoint) {
	if l.seen[p] {
		return
	}
	if l.seen == nil {
		l.seen = make(map[cuePoint]bool)
	}
	l.seen[p] = true
	l.points = append(l.points, p)
}

// readLabels reads the chunks in an adtl list: labl holds the number of a cue point and a text that ends in NUL.
func (l *cueList) readLabels(in *input, list *chunk) error {
	for list.left >= 8 {
		sub, err := in.nextChunk()
		if err != nil {
			return err
		}
		from := in.pos
		if sub.size > list.left-8 { // it lies, or the list does
			sub.size, sub.left = list.left-8, list.left-8
		}
		if sub.id == "labl" && sub.left >= 4 {
			b, err := in.body(&sub, 4+maxLabel)
			if err != nil {
				return err
			}
			l.addLabel(le.Uint32(b), b[4:])
		}
		if err := in.leave(&sub); err != nil {
			return err
		}
		list.left = max(0, list.left-8-(in.pos-from))
	}
	return nil
}

func (l *cueList) addLabel(id uint32, text []byte) {
	text, _, _ = bytes.Cut(text, []byte{0})
	if l.labelBytes += len(text); l.labelBytes > maxAllLabels || len(l.labels) == maxCues {
		return
	}
	if l.labels == nil {
		l.labels = make(map[uint32]string)
	}
	l.labels[id] = string(text)
}
