package wav

import "io"

// input is a reader with a buffer of fixed size that can be looked into. It works on what does not seek.
type input struct {
	r      io.Reader
	seeker io.Seeker // of r; nil when it does not seek
	size   int64     // of what seeks, in bytes
	piece  int       // bytes read at a time, from leastPiece on; 0: as many as buf holds
	buf    [32 << 10]byte
	lo, hi int   // buf[lo:hi] is read but not consumed
	pos    int64 // bytes consumed
	err    error // of r, once it failed; io.EOF at its end
}

// leastPiece is how much is read after a seek: who seeks once may soon seek again. As long as nobody does, each piece is twice as long as
// the one before.
const leastPiece = 4 << 10

// noProgress is how many empty reads in a row count as a failure.
const noProgress = 100

// fill makes at least n bytes (at most the size of buf) available, or as many as there are and the error.
func (in *input) fill(n int) error {
	if in.hi-in.lo >= n {
		return nil
	}
	in.hi = copy(in.buf[:], in.buf[in.lo:in.hi])
	in.lo = 0
	for empty := 0; in.hi < n && in.err == nil; {
		room := in.buf[in.hi:]
		if in.piece > 0 && in.piece < len(room) {
			room = room[:in.piece]
			in.piece *= 2
		}
		var got int
		got, in.err = in.r.Read(room)
		in.hi += got
		if got > 0 {
			empty = 0
		} else if empty++; empty == noProgress && in.err == nil {
			in.err = io.ErrNoProgress
		}
	}
	if in.hi >= n {
		return nil
	}
	return in.err
}

// peek returns up to n bytes that stay unread; fewer when the input ends.
func (in *input) peek(n int) []byte {
	in.fill(n)
	return in.buf[in.lo:min(in.lo+n, in.hi)]
}

// take consumes n buffered bytes and returns them; they are valid until the next call.
func (in *input) take(n int) []byte {
	b := in.buf[in.lo : in.lo+n]
	in.lo += n
	in.pos += int64(n)
	return b
}

// next reads n bytes (at most the size of buf); they are valid until the next call.
func (in *input) next(n int) ([]byte, error) {
	if err := in.fill(n); err != nil {
		return nil, err
	}
	return in.take(n), nil
}

// pass passes over bytes without reading them, at most n, and returns how many: none that are not there, and only what is in the
// buffer where the input does not seek.
func (in *input) pass(n int64) int64 {
	passed := min(n, int64(in.hi-in.lo))
	in.take(int(passed))
	over := min(n-passed, in.size-in.pos)
	if over <= 0 || in.seeker == nil || in.err != nil {
		return passed
	}
	if _, in.err = in.seeker.Seek(over, io.SeekCurrent); in.err != nil {
		return passed
	}
	in.pos += over
	in.piece = leastPiece
	return passed + over
}

// skip passes over n bytes, those that cannot be passed over unread are read and dropped.
func (in *input) skip(n int64) error {
	for n -= in.pass(n); n > 0; {
		if err := in.fill(1); err != nil {
			return err
		}
		n -= int64(len(in.take(int(min(n, int64(in.hi-in.lo))))))
	}
	return nil
}
