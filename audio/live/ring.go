package live

import (
	"sync/atomic"

	"breakcue/audio"
)

// ring carries frames from the callback to the reader, and where frames are missing between them. One goroutine writes,
// one reads; neither ever waits for the other.
type ring struct {
	samples  []float32
	channels int
	frames   int64        // room
	written  atomic.Int64 // frames put in
	read     atomic.Int64 // frames taken out

	gaps      [64]gap
	gapsPut   atomic.Int64
	gapsTaken atomic.Int64

	pending int64 // frames lost that the reader does not know of; the writer's
	lost    int64 // frames lost that the reader has been told of; the reader's
}

// gap says that frames are missing before the frame that is put in as number at.
type gap struct{ at, lost int64 }

func newRing(frames, channels int) *ring {
	return &ring{samples: make([]float32, frames*channels), channels: channels, frames: int64(frames)}
}

// unread returns how many frames wait for the reader.
func (r *ring) unread() int64 { return r.written.Load() - r.read.Load() }

// lose notes that n frames are missing here.
func (r *ring) lose(n int64) { r.pending += n }

// write puts in as many of the frames of in as there is room for and returns how many that leaves: these are lost. After a loss it takes
// nothing until a quarter of the room is free, so that a reader who is a little too slow hears of few gaps, not of
// thousands.
func (r *ring) write(in []float32) (lost int64) {
	n := int64(len(in) / r.channels)
	at := r.written.Load()
	room := r.frames - (at - r.read.Load())
	if r.pending > 0 && n > 0 {
		put := r.gapsPut.Load()
		if room < max(1, r.frames/4) || put-r.gapsTaken.Load() == int64(len(r.gaps)) {
			r.pending += n
			return n
		}
		r.gaps[put%int64(len(r.gaps))] = gap{at, r.pending}
		r.gapsPut.Store(put + 1)
		r.pending = 0
	}
	fits := min(n, room)
	samples := in[:fits*int64(r.channels)]
	start := at % r.frames * int64(r.channels)
	copied := copy(r.samples[start:], samples)
	copy(r.samples, samples[copied:])
	r.written.Store(at + fits)
	r.pending += n - fits
	return n - fits
}

// take moves frames to dst, up to the next gap, and returns how many; or the gap when that comes first. Both are zero when nothing waits.
func (r *ring) take(dst []float32) (int, *audio.GapError) {
	at := r.read.Load()
	n := min(r.written.Load()-at, int64(len(dst)/r.channels)) // loaded before the gaps: each gap is put before its frames
	if i := r.gapsTaken.Load(); i < r.gapsPut.Load() {
		g := r.gaps[i%int64(len(r.gaps))]
		if g.at == at {
			r.gapsTaken.Store(i + 1)
			r.lost += g.lost
			return 0, &audio.GapError{At: at + r.lost, Lost: g.lost}
		}
		n = min(n, g.at-at)
	}
	dst = dst[:n*int64(r.channels)]
	copied := copy(dst, r.samples[at%r.frames*int64(r.channels):])
	copy(dst[copied:], r.samples)
	r.read.Store(at + n)
	return int(n), nil
}
