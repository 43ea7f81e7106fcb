package pump

// recent keeps the newest frames of a stream.
type recent struct {
	buf      []float32 // interleaved, a ring of whole frames
	channels int
	end      int64 // number of the next frame
	held     int64 // frames held
}

func newRecent(frames int64, channels int) recent {
	return recent{buf: make([]float32, frames*int64(channels)), channels: channels}
}

// add takes a block of whole frames.
func (r *recent) add(block []float32) {
	size := int64(len(r.buf) / r.channels)
	n := int64(len(block) / r.channels)
	if n > size {
		r.end += n - size
		block = block[(n-size)*int64(r.channels):]
		n = size
	}
	at := int(r.end%size) * r.channels
	m := copy(r.buf[at:], block)
	copy(r.buf, block[m:])
	r.end += n
	r.held = min(size, r.held+n)
}

// skip passes over lost frames: what came before them is forgotten.
func (r *recent) skip(lost int64) { r.end, r.held = r.end+lost, 0 }

// from is the number of the oldest frame.
func (r *recent) from() int64 { return r.end - r.held }

// each calls f with the frames from..end-1, which must be held, in order.
func (r *recent) each(from int64, f func(block []float32)) {
	size := int64(len(r.buf) / r.channels)
	for from < r.end {
		at := from % size
		n := min(r.end-from, size-at)
		f(r.buf[at*int64(r.channels) : (at+n)*int64(r.channels)])
		from += n
	}
}
