package detect

import (
	"math"
	"math/cmplx"

	"github.com/mjibson/go-dsp/window"
)

// spectrum gathers, for one channel, what the short-time spectrum tells about each frequency bin, in constant memory.
//
// Samples are cut into pairs of Hann-windowed blocks of n samples, the second starting n/2 after the first. Both blocks
// of a pair share one complex FFT (first block as the real part, second as the imaginary part; for real blocks
// X1[k] = (Z[k]+Z*[n-k])/2 and X2[k] = (Z[k]-Z*[n-k])/2j).
//
// A steady tone advances by the same angle from X1 to X2 in every pair, so |sum X2 X1*| / sum |X2 X1| is 1 for a tone, 1/6
// for white noise (the overlap of the Hann windows) and between for voices. The angle of the sum is its frequency.
type spectrum struct {
	lo, hi int       // bins looked at, both included
	n      int       // block length, a power of two
	win    []float64 // Hann window
	gain   float64   // coherent gain times n/2: a tone of amplitude 1 in mid-bin gives |X| = gain
	scale  float64   // 1/gain^2
	buf    []float64 // samples of the pair being filled, 3n/2
	fill   int
	skip   int // samples still to pass over before the next pair
	seen   int64

	fft   *transform
	pack  []complex128
	cross []complex128 // sum X2 X1*
	still []complex128 // the same over steady pairs only: pairs with an edge in them turn too far
	pitch []pitch      // what steady pairs in a row tell
	prod  []float64    // sum |X2||X1|
	power []float64    // sum of |X1|^2 + |X2|^2
	pairs int64
	// Histograms of the level of a pair [bin][levelStep]: steady pairs (both blocks alike within steadyDB) by their mean
	// level, those of them that follow a steady pair of the same level (a state that lasts, not a chance), and all pairs by
	// the larger block.
	steady, held, upper [][]uint32
	last                []int16 // class of the steady pair just before, -1: none
	again               bool    // one pair more before the next skip
	traces              traces

	heard int64   // samples taken, those passed over left out
	zeros int64   // of them those that are exactly 0 or no number
	lead  int64   // of them those before the first that is not: padding, which tells nothing of the contacts
	sum   float64 // of the samples
}

const (
	levelFloor = -150.0 // lowest level kept apart in the histograms [dBFS]
	levelStep  = 0.25   // width of a histogram class [dB]
	levelCount = 1000   // classes: -150..+100 dBFS: a float file may be scaled as 16-bit numbers
	steadyDB   = 1.0    // blocks of a pair that differ less than this hold one state [dB]
	// After denseSeconds of sound only two pairs in 2*thinning are analysed: the tone and its levels are known well by then.
	denseSeconds = 30
	thinning     = 24
)

// blockLength returns the power of two nearest below 12 ms: 512 frames at 48 kHz, 64 at 8 kHz.
func blockLength(sampleRate int) int {
	n := 64
	for 2*n <= sampleRate*12/1000 {
		n *= 2
	}
	return n
}

// newSpectrum returns a spectrum of blocks of n samples that looks at the bins lo to hi, within 1..n/2-1.
func newSpectrum(n, lo, hi int) *spectrum {
	s := &spectrum{n: n, lo: max(lo, 1), hi: min(hi, n/2-1), win: make([]float64, n), buf: make([]float64, n+n/2), pack: make([]complex128, n),
		fft: newTransform(n)}
	// The periodic Hann window: the symmetric one of n+1 points without its last (go-dsp has symmetric windows only).
	copy(s.win, window.Hann(n + 1)[:n])
	for _, w := range s.win {
		s.gain += w / 2
	}
	s.scale = 1 / (s.gain * s.gain)
	bins := n/2 + 1
	s.cross, s.still = make([]complex128, bins), make([]complex128, bins)
	s.prod, s.power = make([]float64, bins), make([]float64, bins)
	s.pitch = make([]pitch, bins)
	table := func() [][]uint32 {
		t, all := make([][]uint32, bins), make([]uint32, bins*levelCount) // one piece: single ones would all begin in the same places of a cache
		for k := s.lo; k <= s.hi; k++ {
			t[k] = all[k*levelCount:][:levelCount:levelCount]
		}
		return t
	}
	s.steady, s.held, s.upper = table(), table(), table()
	s.last = make([]int16, bins)
	s.apart()
	return s
}

// add takes the samples x; they must be finite. dense is the number of samples after which pairs are thinned out.
func (s *spectrum) add(x []float64, dense int64) {
	for len(x) > 0 {
		if s.skip > 0 {
			n := min(s.skip, len(x))
			s.skip -= n
			s.seen += int64(n)
			x = x[n:]
			continue
		}
		n := copy(s.buf[s.fill:], x)
		s.fill += n
		s.seen += int64(n)
		x = x[n:]
		if s.fill < len(s.buf) {
			return
		}
		s.pair()
		if s.again = !s.again; s.seen < dense || s.again {
			// Pairs start every n samples, so the last n/2 of this one begin the next.
			copy(s.buf, s.buf[s.n:])
			s.fill = s.n / 2
		} else {
			s.fill, s.skip = 0, s.n*2*thinning-len(s.buf)-s.n
			s.apart()
		}
	}
}

// apart tells that the next pair does not follow the last one.
func (s *spectrum) apart() {
	for k := range s.pitch {
		s.pitch[k].end()
	}
	for k := range s.last {
		s.last[k] = -1
	}
}

// pair analyses the full buffer.
func (s *spectrum) pair() {
	h := s.n / 2
	for i, w := range s.win {
		s.pack[i] = complex(s.buf[i]*w, s.buf[i+h]*w)
	}
	z := s.pack
	s.fft.of(z)
	s.pairs++
	row := s.traces.row(int32((s.seen-int64(len(s.buf)))/int64(s.n)), s.hi-s.lo+1)
	for k := s.lo; k <= s.hi; k++ {
		a, b := z[k], cmplx.Conj(z[s.n-k])
		x1 := complex(real(a+b)/2, imag(a+b)/2)
		x2 := complex(imag(a-b)/2, -real(a-b)/2) // (a-b)/2i; a division of complex numbers takes long
		p1, p2 := real(x1)*real(x1)+imag(x1)*imag(x1), real(x2)*real(x2)+imag(x2)*imag(x2)
		row[k-s.lo] = complex64(x1)
		turn := x2 * cmplx.Conj(x1)
		s.cross[k] += turn
		s.prod[k] += math.Sqrt(p1 * p2)
		s.power[k] += p1 + p2
		if p1 < p2 {
			p1, p2 = p2, p1
		}
		hi, lo := s.class(p1), s.class(p2)
		s.upper[k][hi]++
		if float64(hi-lo)*levelStep < steadyDB {
			c := (hi + lo) / 2
			s.steady[k][c]++
			if l := int(s.last[k]); l >= 0 && abs(c-l) <= oneDB {
				s.held[k][c]++
			}
			s.last[k] = int16(c)
			s.still[k] += turn
			s.pitch[k].add(x1, hi)
		} else {
			s.pitch[k].end()
			s.last[k] = -1
		}
	}
	s.traces.next(s.lo)
	if s.pairs%traceEvery == 0 {
		s.seekTones()
	}
}

// log2Of holds log2(1 + i/256 + 1/512): a logarithm to 0.01 dB from the top eight bits of the mantissa. math.Log10 takes
// as long as the FFT.
var log2Of = func() (t [256]float64) {
	for i := range t {
		t[i] = math.Log2(1 + (float64(i)+0.5)/256)
	}
	return t
}()

// class returns the histogram class of a power |X|^2.
func (s *spectrum) class(p float64) int {
	b := math.Float64bits(p * s.scale)
	exp, top := int(b>>52&0x7ff)-1023, b>>44&0xff
	const perOctave = 3.010299956639812 // 10 log10(2) dB
	db := perOctave * (float64(exp) + log2Of[top])
	return min(max(int((db-levelFloor)/levelStep), 0), levelCount-1)
}

// level returns the amplitude in the middle of a class.
func level(class int) float64 {
	return math.Pow(10, (levelFloor+(float64(class)+0.5)*levelStep)/20)
}

// coherence returns |sum X2 X1*| / sum |X2 X1| of bin k, 0..1.
func (s *spectrum) coherence(k int) float64 {
	if s.prod[k] == 0 {
		return 0
	}
	return cmplx.Abs(s.cross[k]) / s.prod[k]
}

// frequency returns the tone frequency in cycles per sample that the phase advance of bin k tells.
func (s *spectrum) frequency(k int) float64 {
	hop := float64(s.n / 2)
	centre := float64(k) / float64(s.n)
	f := cmplx.Phase(s.still[k]) / (2 * math.Pi * hop)
	// The advance is known modulo one turn: take the turn that lies nearest to the middle of the bin.
	return s.pitch[k].refine(f+math.Round((centre-f)*hop)/hop, s.n)
}

// scallop returns the loss of a tone that lies d bins from the middle of a bin: the Hann window's response, 1 at d = 0.
func scallop(d float64) float64 {
	if math.Abs(d) < 1e-9 {
		return 1
	}
	return math.Sin(math.Pi*d) / (math.Pi * d) / (1 - d*d)
}

// noise returns the standard deviation of the white noise that the median bin shows.
func (s *spectrum) noise() float64 {
	if s.pairs == 0 || s.hi <= s.lo {
		return 0
	}
	var w2 float64
	for _, w := range s.win {
		w2 += w * w
	}
	p := make([]float64, 0, s.hi-s.lo+1)
	for k := s.lo; k <= s.hi; k++ {
		p = append(p, s.power[k]/float64(2*s.pairs))
	}
	return math.Sqrt(median(p) / w2)
}
