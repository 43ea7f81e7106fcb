package detect

import "math"

// humSecond picks, out of all the sound of a channel, the second from which hum is learnt best. Hum may begin late, by switching on a lamp,
// and what comes before it may be padding, silence or noise.
//
// Seconds on end are gathered as long as the survey hears everything, then one out of humRare. A second counts by the power P at 50 and 60 Hz and
// their first harmonics, times its share of all power below about 300 Hz: P^2/total. The first second stays
// until one counts more than humBetter times as much, for phases are carried from there to frame 0.
type humSecond struct {
	rate    float64
	sound   []float32 // of the second being gathered
	best    []float32
	from    int64 // frame of sound[0]
	bestAt  int64
	score   float64
	begin   int64 // frame at which the sound begins
	next    int64 // frame at which the next second begins
	started bool  // the padding is over
}

const (
	humRare   = 16  // seconds, of which one is gathered where the survey passes over sound
	humBetter = 2.0 // a second of which the hum fills four fifths has half the score of a full one
)

func (h *humSecond) length() int { return int(humSeconds * h.rate) }

// wants returns how many frames from the frame now on are to be heard, 0: none before the frame next.
func (h *humSecond) wants(now int64) (frames, next int64) {
	switch {
	case !h.started:
		return 0, math.MaxInt64
	case len(h.sound) > 0 || now >= h.next:
		return int64(h.length() - len(h.sound)), h.next
	}
	return 0, h.next
}

// add takes the sound x, whose first sample is frame at; past the frame dense seconds are gathered rarely.
func (h *humSecond) add(x []float64, at, dense int64) {
	if !h.started {
		h.started, h.begin, h.next = true, at, at
	}
	for len(x) > 0 {
		if len(h.sound) == 0 {
			if skip := min(h.next-at, int64(len(x))); skip > 0 {
				x, at = x[skip:], at+skip
				continue
			}
			h.from = at
			if h.sound == nil {
				h.sound = make([]float32, 0, h.length())
			}
		}
		n := min(h.length()-len(h.sound), len(x))
		for _, v := range x[:n] {
			h.sound = append(h.sound, float32(v))
		}
		x, at = x[n:], at+int64(n)
		if len(h.sound) == h.length() {
			h.weigh()
			h.next = at
			if at >= dense {
				h.next += (humRare - 1) * int64(h.length())
			}
		}
	}
}

// weigh keeps the second that is full if it counts more than the best.
func (h *humSecond) weigh() {
	score := humScore(h.sound, h.rate)
	if h.best == nil || score > humBetter*h.score {
		h.best, h.sound = h.sound, h.best
		h.bestAt, h.score = h.from, score
	}
	h.sound = h.sound[:0]
}

// pick returns the second, or what there is of the first, the frame at which it begins, and whether it is a later one than the first.
func (h *humSecond) pick() (sound []float32, from int64, late bool) {
	if h.best == nil {
		return h.sound, h.from, false
	}
	return h.best, h.bestAt, h.bestAt > h.begin
}

// humScore returns P^2/total of a second of sound.
func humScore(x []float32, fs float64) float64 {
	y := lowered(x, fs)
	var mean, total float64
	for _, v := range y {
		mean += v / float64(len(y))
	}
	for i := range y {
		y[i] -= mean
		total += y[i] * y[i]
	}
	if total == 0 {
		return 0
	}
	rate := fs / float64(lowerBy(fs))
	var most float64
	for _, mains := range []float64{50, 60} {
		var p float64
		for _, k := range humHarmonics {
			for _, off := range []float64{-0.4, 0, 0.4} { // a second resolves 1 Hz
				p += mag2(goertzel(y, []float64{2 * math.Pi * k * (mains + off) / rate})[0])
			}
		}
		most = math.Max(most, p)
	}
	p := most * 2 / float64(len(y)) // a sine has |sum|^2 = n/2 times its sum of squares
	return p * p / total
}

// lowerBy returns how many samples are taken together for sound up to 300 Hz: a mean over 1/1500 s is enough of a low-pass.
func lowerBy(fs float64) int { return max(1, int(fs/1500)) }

// lowered returns the means of the samples of x, lowerBy at a time. Samples that are not finite count as 0.
func lowered(x []float32, fs float64) []float64 {
	step := lowerBy(fs)
	y := make([]float64, len(x)/step)
	for i := range y {
		for _, v := range x[i*step : (i+1)*step] {
			if v-v == 0 {
				y[i] += float64(v) / float64(step)
			}
		}
	}
	return y
}
