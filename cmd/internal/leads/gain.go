package leads

import (
	"math"
	"math/cmplx"
)

const (
	gainSNR   = 10.0 // times its noise that a block's level must be for the gain to be read
	gainFirst = 1    // block after the arrival with which the trace begins: the rise is past
	gainHead  = 3    // blocks that are its beginning
	gainTail  = 8    // blocks that are its end
)

// trace returns the levels of the single tone, over what is played, block by block from the first one that holds it to its full; nil where it does
// not come back.
func (r *run) trace(i int) (z []complex128, f float64) {
	single := r.c.single()
	f = single.Hz[0]
	played := math.Pow(10, single.Level/20)
	x, n := r.single.sound[i], int(r.period())
	var all []complex128
	for at := 0; at+n <= len(x); at += n {
		if b := len(all); b > 0 && all[b-1] != 0 && zeros(x[at:at+n], r.c.opt.Format.SampleRate) > 0 {
			all = append(all, all[b-1]) // lost; the level before stands in
			continue
		}
		all = append(all, correlate(x[at:at+n], r.single.at(at), f, r.c.opt.Format.SampleRate, nil)/complex(played, 0))
	}
	skip := int(math.Ceil(float64(r.singleFrom+r.frames(guardTime)-r.single.first) / float64(n)))
	if t := r.c.trip; t.known {
		skip = int(math.Ceil((float64(r.singleFrom) + t.frames - float64(r.single.first)) / float64(n)))
	} else {
		var top float64
		for _, v := range all[min(gainFirst, len(all)):] {
			top = math.Max(top, cmplx.Abs(v))
		}
		for b, v := range all {
			if cmplx.Abs(v) > top/2 && b >= int(float64(r.singleFrom-r.single.first)/float64(n)) {
				skip = b + 1
				break
			}
		}
	}
	skip = min(max(skip, 0), len(all))
	for b := skip; b < len(all); b++ {
		r.zeros += zeros(x[b*n:(b+1)*n], r.c.opt.Format.SampleRate)
	}
	return all[skip:], f
}

// findGain reads off the single tone whether the gain stays, and against the comb whether it depends on what it is given.
func (r *run) findGain(m *Measure, i int) {
	z, f := r.trace(i)
	if len(z) < gainFirst+2*gainTail {
		return
	}
	m.Power = 20 * math.Log10(math.Max(1e-10, cmplx.Abs(z[len(z)-1])*math.Pow(10, r.c.opt.Level/20)))
	z = z[gainFirst:]
	a := make([]float64, len(z))
	for b, v := range z {
		a[b] = cmplx.Abs(v)
	}
	// The noise of a block: from the differences of neighbours, in the quarter of the trace where they are least.
	u := quietDifference(z)
	head, tail := average(a[:gainHead]), average(a[len(a)-gainTail:])
	if math.Min(head, tail) < gainSNR*u || tail == 0 {
		return
	}
	m.Gain.Known = true
	db := 20 / math.Ln10
	m.Gain.Fade = Quantity{Value: db * math.Log(tail/head), U: db * math.Hypot(u/head/math.Sqrt(gainHead), u/tail/math.Sqrt(gainTail))}
	half := (head + tail) / 2
	m.Gain.After = float64(len(a)) / grid
	for b, v := range a {
		if (v > half) == (tail > head) || v == half {
			m.Gain.After = float64(b) / grid
			break
		}
	}
	for _, t := range m.Tones {
		if t.Hz == f {
			all := cmplx.Abs(t.Level.Value())
			// The middle of the first second: a gain control is done, noise suppression has not begun.
			lo, hi := min(len(a)-1, grid*3/10), min(len(a), grid*7/10)
			now := average(a[lo:hi])
			if all > gainSNR*t.U {
				m.Gain.Shift = Quantity{Value: db * math.Log(now/all), U: db * math.Hypot(t.U/all, u/now/math.Sqrt(float64(hi-lo)))}
			} else {
				m.Gain.Known = false
			}
		}
	}
}

// quietDifference returns the standard deviation of the magnitude of a block's level: that of the real part of the differences of neighbours
// over sqrt(2), in the quarter where they are least.
func quietDifference(z []complex128) float64 {
	n := len(z) / 4
	least := math.Inf(1)
	for q := range 4 {
		var sum float64
		for b := q*n + 1; b < (q+1)*n; b++ {
			sum += abs2(z[b]-z[b-1]) / 4
		}
		least = math.Min(least, sum/float64(max(1, n-1)))
	}
	return math.Sqrt(least)
}

func average(a []float64) (m float64) {
	for _, v := range a {
		m += v / float64(len(a))
	}
	return m
}
