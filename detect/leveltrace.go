package detect

// trace is the complex level of one bin, pair after pair: what the histograms forget. States that are equally loud show in it, by the
// angle through which the tone turns when the contacts change.
type trace struct {
	bin int
	at  []int32     // beginning of the pair, in blocks
	z   []complex64 // X of its first block
}

const (
	tracePast  = 64      // pairs of every bin that are kept, so that a trace begins that long before its bin is found to be one of a tone
	traceEvery = 32      // pairs after which new tones are looked for
	traceMost  = 1 << 14 // pairs in a trace: 30 s, and then 40 minutes at 48 kHz; what comes after is not traced
	traceTones = 8       // bins that are traced
)

// traces keeps the newest spectra and the traces of the bins that hold a tone.
type traces struct {
	past  [tracePast][]complex64
	at    [tracePast]int32
	pairs int
	of    []trace
}

// row returns the place for the spectrum of the pair that begins at block at, of so many bins.
func (t *traces) row(at int32, bins int) []complex64 {
	i := t.pairs % tracePast
	if t.past[i] == nil {
		t.past[i] = make([]complex64, bins)
	}
	t.at[i] = at
	return t.past[i]
}

// next takes the row that has been filled; its first bin is lo.
func (t *traces) next(lo int) {
	i := t.pairs % tracePast
	t.pairs++
	for j := range t.of {
		if tr := &t.of[j]; len(tr.z) < traceMost {
			tr.at, tr.z = append(tr.at, t.at[i]), append(tr.z, t.past[i][tr.bin-lo])
		}
	}
}

// begin traces a bin from the oldest spectrum kept on, where it is not traced already and there is room.
func (t *traces) begin(bin, lo int) {
	if len(t.of) < traceTones && t.find(bin) < 0 {
		t.of = append(t.of, t.recent(bin, lo))
	}
}

func (t *traces) find(bin int) int {
	for j := range t.of {
		if t.of[j].bin == bin {
			return j
		}
	}
	return -1
}

// recent returns the trace of a bin through the spectra that are kept.
func (t *traces) recent(bin, lo int) trace {
	tr := trace{bin: bin}
	for p := max(0, t.pairs-tracePast); p < t.pairs; p++ {
		tr.at = append(tr.at, t.at[p%tracePast])
		tr.z = append(tr.z, t.past[p%tracePast][bin-lo])
	}
	return tr
}

// trace returns the trace of bin k, as long as there is one.
func (s *spectrum) trace(k int) trace {
	if j := s.traces.find(k); j >= 0 {
		return s.traces.of[j]
	}
	return s.traces.recent(k, s.lo)
}

// seekTones begins a trace of the strongest bins that hold a tone.
func (s *spectrum) seekTones() {
	for range 2 {
		best := -1
		for k := s.lo + 1; k < s.hi; k++ {
			if s.prod[k] > s.prod[k-1] && s.prod[k] >= s.prod[k+1] && (best < 0 || s.prod[k] > s.prod[best]) &&
				s.coherence(k) >= minCoherence && s.traces.find(k) < 0 {
				best = k
			}
		}
		if best < 0 {
			return
		}
		s.traces.begin(best, s.lo)
	}
}
