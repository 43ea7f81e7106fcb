package detect

import (
	"math"
	"math/cmplx"
)

// canceller takes hum off sample by sample. It keeps one period of the hum as a table over its phase, which all harmonics share. From period to
// period it follows the size of the hum, its phase and its frequency by what is left of the sound,
//
//	r = x - size h(phase),  size off by sum r h / sum h^2,  phase off by sum r h' / sum h'^2,
//
// in two loops of the third order, critically damped, which follow within some hundredths of a second and lag behind neither a steady slide of
// the mains frequency nor a steady swelling; the table itself follows the residual of the tone, slowly.
type canceller struct {
	on    bool
	phase float64 // periods, 0..1
	step  float64 // periods per frame
	slide float64 // by which step grows in a period
	size  float64 // of the hum, the table being 1
	grow  float64 // by which size grows in a frame, at present
	swell float64 // by which that grows in a period
	mean  float64 // step at the beginning
	table [humBins + 1]float64
	// A harmonic at a tone is no business of the table, which would take the tone for hum: those harmonics, 0 for none, and cos over the table.
	atTone [2]int
	cos    [humBins]float64

	now humSums // of the running period
	// r is what is left of the present sample, most what is believed of it, h the table and slope its slope there.
	r, most, h, slope float64

	// Hum that is not there yet, or no longer, must not be taken off.
	out   bool
	share float64       // of the table that the sound holds, over the last periods
	turn  [2]complex128 // fundamental of the sound over that of the table, in the last two periods
	first complex128    // fundamental of the table
}

// humSums are sums over a period of the hum.
type humSums struct {
	frames             int
	rh, hh, rs, ss, rr float64    // what is left r, table h, its slope s
	first              complex128 // sum of sound times exp(-j phase)
}

const (
	humGone       = 0.1  // share of the table below which it is left out: hum that is there may be down to a third by a gain control
	humThere      = 0.25 // and from which on it is taken off again
	humSpike      = 4.0  // times the root mean square of what is left, beyond which it is not believed
	humFold       = 0.01 // of the size less 1, in a period: two seconds
	humLatest     = 0.01 // [periods] that are put right at a time
	humMemory     = 0.8  // weight of a period over that of the next
	humStray      = 0.04 // by which the frequency may stray from that of the beginning, of it
	humSlide      = 2e-4 // by which a period may be shorter than the one before: 0.5 Hz/s
	humSwell      = 0.01 // by which the growth may change from period to period
	humChord      = 32   // bins over which the slope is taken: between neighbours it would be that of the noise in the table
	humLeastFirst = 0.3  // of the hum, that its fundamental must be to tell the phase
	humAgrees     = 0.3  // by which the fundamentals of two periods may differ when hum is found again
)

// off returns the sound x of the present frame less the hum. While the sound does not hold the hum the table would add it: the share
// sum x h / sum h^2 of each period tells (1: it is all there, 1/2: taking it off changes no power), and the table is left out and does not
// learn.
func (c *canceller) off(x float64) float64 {
	p := c.phase * humBins
	i := int(p)
	c.slope = (c.table[(i+humChord/2)%humBins] - c.table[(i+humBins-humChord/2)%humBins]) / humChord
	c.h = c.table[i] + (p-float64(i))*(c.table[i+1]-c.table[i])
	hum := c.size * c.h
	c.size += c.grow
	c.r = math.Max(-c.most, math.Min(c.most, x-hum))
	n := &c.now
	n.frames++
	n.rh += c.r * c.h
	n.hh += c.h * c.h
	n.rs += c.r * c.slope
	n.ss += c.slope * c.slope
	n.rr += c.r * c.r
	if c.out {
		s, cs := math.Sincos(2 * math.Pi * c.phase)
		n.first += complex(x*cs, -x*s)
		return x
	}
	return x - hum
}

// judge goes by the share of the period that has ended.
func (c *canceller) judge() {
	n := &c.now
	c.share += (c.size + n.rh/n.hh - c.share) / 2
	c.out = c.share < humGone || (c.out && c.share < humThere)
	if !c.out {
		c.turn = [2]complex128{}
		return
	}
	c.size, c.grow, c.swell, c.slide = 1, 0, 0, 0
	if c.first == 0 {
		return
	}
	// Hum that has come with another phase: two periods must agree on it.
	c.turn[0], c.turn[1] = c.turn[1], n.first*complex(2/float64(n.frames), 0)/c.first
	if a, b := c.turn[0], c.turn[1]; mag(b) > humThere && mag(a-b) < humAgrees*mag(b) {
		_, c.phase = math.Modf(c.phase + math.Atan2(imag(b), real(b))/(2*math.Pi) + 1)
		c.out, c.size, c.share, c.turn = false, mag(b), mag(b), [2]complex128{}
	}
}

// begin takes the hum h at frame 0 of a stream of fs frames/s, beside a tone, or two, of so many Hz.
func (c *canceller) begin(h Hum, fs, tone float64, second ...float64) {
	c.on = h.Freq > 0
	if !c.on {
		return
	}
	if h.tone > 0 {
		tone = h.tone
	}
	*c = canceller{on: true, step: h.Freq / fs, mean: h.Freq / fs, size: 1, share: 1, most: math.Inf(1), cos: c.cos}
	if c.cos[0] == 0 {
		for i := range c.cos {
			c.cos[i] = math.Cos(2 * math.Pi * float64(i) / humBins)
		}
	}
	for i, hz := range append([]float64{tone}, second...) {
		if k := math.Round(hz / h.Freq); math.Abs(k*h.Freq-hz) <= humNearTone {
			c.atTone[i] = int(k)
		}
	}
	if h.late { // what it will be when it comes nobody knows
		c.out, c.share = true, 0
		c.step += h.slide * humSeconds / 2 / fs
	} else {
		c.slide = h.slide / (h.Freq * h.Freq)
		c.grow = h.swell / fs
	}
	if a := h.Harmonics[0]; mag(a) > humLeastFirst*h.Level() {
		c.first = a
	}
	h.fill(c.table[:])
}

// fill makes the table of a period of the hum.
func (h Hum) fill(table []float64) {
	for i := range table {
		table[i] = 0
		for k, a := range h.Harmonics {
			if a != 0 {
				table[i] += real(a * cmplx.Rect(1, 2*math.Pi*float64(k+1)*float64(i)/humBins))
			}
		}
	}
}

// skip passes over n frames.
func (c *canceller) skip(n int64) {
	_, c.phase = math.Modf(c.phase + c.step*float64(n))
}

// learn follows the hum with the residual e of the present frame, which has had off; the table takes no more than most of it at a time.
func (c *canceller) learn(e, most float64) {
	if c.out {
		return
	}
	// The tone is known: what is left without it tells more of the hum.
	c.now.rh += (e - c.r) * c.h
	c.now.rs += (e - c.r) * c.slope
	p := c.phase * humBins
	i := int(p)
	f := p - float64(i)
	e = math.Max(-most, math.Min(most, e))
	c.table[i] += humGain * (1 - f) * e
	c.table[i+1] += humGain * f * e
	switch i { // the ends of the table are one
	case 0:
		c.table[humBins] = c.table[0]
	case humBins - 1:
		c.table[0] = c.table[humBins]
	}
}

// next goes on by one frame.
func (c *canceller) next() {
	c.phase += c.step
	if c.phase < 1 {
		return
	}
	c.phase--
	n := &c.now
	// A correction may take the phase back through 0: that is no new period. Nor is one with gaps.
	if float64(n.frames)*c.step > 0.5 && n.hh > 0 && n.ss > 0 {
		if c.judge(); !c.out {
			c.follow()
			c.fold()
		}
		c.most = humSpike * math.Sqrt(n.rr/float64(n.frames))
		if c.out {
			c.most = math.Inf(1)
		}
	}
	c.now = humSums{}
	for i, k := range c.atTone {
		if k > 0 && (i == 0 || k != c.atTone[0]) {
			c.leaveTone(k)
		}
	}
}

// follow takes size, phase and frequency on by what the period that has ended tells. The gains are those of a fit of a parabola to the past that
// weighs each period by humMemory of the next one (Morrison's fading-memory filter).
func (c *canceller) follow() {
	const (
		m    = humMemory
		now  = 1 - m*m*m
		rate = 1.5 * (1 - m) * (1 - m) * (1 + m)
		bend = (1 - m) * (1 - m) * (1 - m)
	)
	n := &c.now
	more := clamp(n.rh/n.hh, 0.5)
	c.size = math.Max(0.1, c.size+now*more)
	c.grow += (rate*more + c.swell) * c.step
	c.swell = clamp(c.swell+bend*more, humSwell)
	late := clamp(n.rs/(c.size*n.ss)/humBins, humLatest) // periods by which the table is behind the hum
	c.phase = math.Mod(c.phase+now*late+1, 1)
	c.step = c.mean * (1 + clamp(c.step/c.mean-1+rate*late+c.slide, humStray))
	c.slide = clamp(c.slide+bend*late, humSlide)
}

// fold takes a little of the size into the table, so that it stays near 1. A table that grows while its size falls learns ever more noise
// for the same hum.
func (c *canceller) fold() {
	f := 1 + humFold*(c.size-1)
	for i := range c.table {
		c.table[i] *= f
	}
	c.first *= complex(f, 0)
	c.size, c.share, c.grow, c.swell = c.size/f, c.share/f, c.grow/f, c.swell/f
}

// clamp returns x, or what of -most and most is next to it.
func clamp(x, most float64) float64 { return math.Max(-most, math.Min(most, x)) }

// leaveTone takes harmonic k, which is at a tone, out of the table.
func (c *canceller) leaveTone(k int) {
	const quarter = humBins / 4
	var a, b float64
	for i, v := range c.table[:humBins] {
		a += v * c.cos[i*k%humBins]
		b += v * c.cos[(i*k+3*quarter)%humBins] // the sine
	}
	a, b = a*2/humBins, b*2/humBins
	for i := range humBins {
		c.table[i] -= a*c.cos[i*k%humBins] + b*c.cos[(i*k+3*quarter)%humBins]
	}
	c.table[humBins] = c.table[0]
}
