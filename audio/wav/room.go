package wav

import "math"

// The room is a place before the data for cue points, so that they are in the file while the recording goes on:
//
//	"JUNK" skip | first slot | second slot
//
// Each slot holds a "cue " and a LIST chunk and then a JUNK chunk that reaches to the end of the room. How far the JUNK
// chunk in front reaches decides what a reader sees: over both slots, nothing; over neither, the first slot; over the
// first, the second. So new lists are written where no reader looks, and one write of the header shows them.
type room struct {
	slot int64  // bytes of a slot; 0 when there is no room
	used int64  // bytes that the cue points that fit take
	fit  int    // cue points that fit, counted from the first
	held int    // of these, how many are in the file
	skip int64  // bytes that the JUNK chunk in front jumps over
	buf  []byte // scratch
}

const (
	chunkHeader = 8
	// emptyLists is the length of the two chunks without cue points: their headers, the count, "adtl".
	emptyLists = chunkHeader + 4 + chunkHeader + 4
	// cueBytes is the length of a cue point, labelHeader that of a labl chunk without its text.
	cueBytes    = 24
	labelHeader = chunkHeader + 4
	// roomLabel is the length of a label, with its NUL, for which each cue point has room.
	roomLabel = 36
)

// slotBytes returns the length of a slot. There is always place for the header of the JUNK chunk that fills it.
func (s Spec) slotBytes() int64 {
	if s.Room == 0 {
		return 0
	}
	return emptyLists + chunkHeader + int64(s.Room)*(cueBytes+labelHeader+roomLabel)
}

func newRoom(slot int64) room { return room{slot: slot, used: emptyLists, skip: 2 * slot} }

// hidden is the skip with which no reader sees a slot.
func (r *room) hidden() int64 { return 2 * r.slot }

// add counts the next cue point of the recording, in if it fits. Behind the first that does not fit none does: what
// survives a crash is the beginning of the list.
func (r *room) add(label string) {
	if r.used += cueBytes + labelBytes(label); r.used > r.slot-chunkHeader {
		r.used = math.MaxInt64 / 2 // full for good
		return
	}
	r.fit++
}

// next returns the lists of the cue points that fit, for the slot that no reader sees, which is off bytes behind the
// JUNK header in front.
func (r *room) next(cues []Cue) (lists []byte, off int64) {
	if r.skip == 0 {
		off = r.slot
	}
	r.buf = appendCues(r.buf[:0], cues[:r.fit])
	rest := 2*r.slot - off - int64(len(r.buf)) - chunkHeader
	r.buf = append(r.buf, "JUNK"...)
	r.buf = le.AppendUint32(r.buf, uint32(rest))
	return r.buf, off
}

// placeCues writes the cue points that fit into the room, where no reader sees them before the next header is written.
// They are on the disk before that.
func (w *Writer) placeCues() error {
	if w.room.held == w.room.fit {
		return nil
	}
	lists, off := w.room.next(w.cues)
	if _, err := w.file.WriteAt(lists, w.start-chunkHeader-2*w.room.slot+off); err != nil {
		return err
	}
	if err := w.file.Sync(); err != nil {
		return err
	}
	w.room.skip, w.room.held = off, w.room.fit
	return nil
}

// labelBytes returns the length of the labl chunk of a label; an empty one has none.
func labelBytes(label string) int64 {
	if label == "" {
		return 0
	}
	text := int64(len(label)) + 1
	return labelHeader + text + text%2
}
