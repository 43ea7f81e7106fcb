package leads

import (
	"math"
	"math/cmplx"

	"breakcue/audio"
)

// finish measures what was kept, channel by channel.
func (r *run) finish() {
	list := make([]*Measure, r.c.opt.Format.Channels)
	for i, ch := range r.heard {
		m := r.measure(i)
		m.Channel = ch + 1
		list[ch] = m
	}
	r.c.done[r.step] = list
}

// measure measures the kept channel i.
func (r *run) measure(i int) *Measure {
	rate := r.c.opt.Format.SampleRate
	m := &Measure{Step: r.step, Steady: r.steady, Lost: r.lost, Jumps: r.jumps}
	comb, quiet, single := r.comb.sound[i], r.quiet.sound[i], r.single.sound[i]
	m.Offset = mean(quiet)
	x := without(comb, mean(comb))
	first := r.comb.at(0)
	w := hann(len(x))
	z := r.c.levels(x, first, w)
	noise := sideNoise(x, r.c.hz, rate, w)
	m.Hum = findHum(x, rate, w, r.c.hz)
	m.Clipped, m.Over = clipping(single, comb)
	m.Noise = residual(x, r.c)
	if m.Hum.Hz > 0 || r.c.beside() {
		m.Noise = besideAll(noise, w)
	}
	if m.Clipped > 0 {
		m.Noise = math.Sqrt(math.Max(0, meanSquare(without(quiet, m.Offset))-m.Hum.Level*m.Hum.Level/2))
	}
	for k, f := range r.c.hz {
		played := cmplx.Abs(r.c.comb.Level(k))
		amplitude := cmplx.Abs(z[k]) * played
		m.Tones = append(m.Tones, Tone{
			Hz:    f,
			Level: of(z[k]),
			U:     math.Sqrt(smooth(noise, k)/2) / played,
			SNR:   20 * math.Log10(math.Max(amplitude, 1e-10)/math.Sqrt2/math.Max(m.Noise, 1e-7)),
		})
	}
	m.Zeros = r.zeros
	r.findTrip(m, i, z)
	r.findGain(m, i)
	return m
}

// smooth is the mean of noise[k] and its neighbours: there are few places beside each tone.
func smooth(noise []float64, k int) float64 {
	lo, hi := max(0, k-1), min(len(noise), k+2)
	var sum float64
	for _, v := range noise[lo:hi] {
		sum += v / float64(hi-lo)
	}
	return sum
}

// findTrip reads the round trip off the comb, and from its onset how often the comb's period goes into it.
func (r *run) findTrip(m *Measure, i int, z []complex128) {
	if math.Sqrt(norm2(z)) < tripSNR*r.noise[i] || m.Clipped > 0 {
		return
	}
	frames, match := r.c.delay(r.c.common(z))
	if match < tripMatch {
		return
	}
	about := r.c.trip.frames
	if !r.c.trip.known {
		onset, ok := r.c.onsetAt(r.onset.sound[i], r.onset.first)
		if !ok || r.onset.shift != r.comb.shift {
			return
		}
		about = float64(onset - (r.from - r.frames(audio.SoftStart.Seconds()/2)))
	}
	half := float64(r.period()) / 2 // it turns all tones by half a turn: the polarity of a sound card is not known
	frames += half * math.Round((about-frames)/half)
	m.Trip = &Quantity{Value: frames, U: 3}
	if !r.c.trip.known {
		r.c.trip = trip{known: true, frames: frames}
	}
}

// besideAll returns the standard deviation of white noise that has the mean of these powers beside the tones.
func besideAll(noise, w []float64) float64 {
	var sum, square float64
	for _, v := range w {
		sum, square = sum+v, square+v*v
	}
	return math.Sqrt(average(noise) * sum * sum / (4 * square))
}

// residual returns the standard deviation of the noise in the comb: what is left of the power without the tones.
func residual(x []float32, c *Check) float64 {
	p := meanSquare(x)
	for k, v := range c.levels(x, 0, nil) { // over whole periods all tones are orthogonal
		p -= abs2(v*c.comb.Level(k)) / 2
	}
	return math.Sqrt(math.Max(p, 0))
}

func mean(x []float32) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v)
	}
	return sum / float64(max(1, len(x)))
}

func meanSquare(x []float32) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return sum / float64(max(1, len(x)))
}

func without(x []float32, offset float64) []float32 {
	y := make([]float32, len(x))
	for i, v := range x {
		y[i] = v - float32(offset)
	}
	return y
}

// zeros counts samples of exactly 0 in runs of a millisecond or more, where there is sound otherwise.
func zeros(x []float32, rate int) (n int64) {
	run, least := 0, max(4, rate/1000)
	for i := 0; i <= len(x); i++ {
		if i < len(x) && x[i] == 0 {
			run++
			continue
		}
		if run >= least {
			n += int64(run)
		}
		run = 0
	}
	if n == int64(len(x)) {
		return 0
	}
	return n
}
