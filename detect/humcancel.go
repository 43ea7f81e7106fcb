package detect

import (
	"math"
	"math/cmplx"
)

// canceller takes hum off sample by sample. It keeps one period of the hum as a table over its phase, which all harmonics share,
// follows it with the residual of the tone, and follows its frequency by the slope of the table.
type canceller struct {
	on    bool
	step  float64 // periods per frame
	phase float64 // periods, 0..1
	table [humBins + 1]float64
	// A harmonic at the tone is no business of the table, which would take the tone for hum: its cos and sin over the table.
	atTone   bool
	cos, sin [humBins]float64
	// Of the running period: how much the residual goes along with the slope of the table.
	along, slope2 float64
	frames        int
	// Hum that is not there yet, or no longer, must not be taken off.
	out  bool
	gain float64 // share of the table that the sound holds, over the last periods
	xh   float64 // of the running period: sum of sound times table,
	hh   float64 // and of the table squared
}

const (
	humGone  = 0.25 // share of the table below which it is left out
	humThere = 0.6  // and from which on it is taken off again
)

// off returns the sound x of the present frame less the hum. While the sound does not hold the hum the table would add it: the share
// sum x h / sum h^2 of each period tells (1: it is all there, 1/2: taking it off changes no power), and the table is left out and does not learn.
func (c *canceller) off(x float64) float64 {
	h := c.hum()
	c.xh += x * h
	c.hh += h * h
	if c.out {
		return x
	}
	return x - h
}

// judge goes by the share of the period that has ended.
func (c *canceller) judge() {
	if c.hh > 0 {
		c.gain += (c.xh/c.hh - c.gain) / 2
		c.out = c.gain < humGone || (c.out && c.gain < humThere)
	}
	c.xh, c.hh = 0, 0
}

// begin takes the hum h at frame 0 of a stream of fs frames/s, beside a tone of so many Hz.
func (c *canceller) begin(h Hum, fs, tone float64) {
	c.on = h.Freq > 0
	if !c.on {
		return
	}
	k := math.Round(tone / h.Freq)
	if c.atTone = math.Abs(k*h.Freq-tone) <= humNearTone; c.atTone {
		for i := range c.cos {
			c.sin[i], c.cos[i] = math.Sincos(2 * math.Pi * math.Mod(k*float64(i)/humBins, 1))
		}
	}
	c.step, c.phase, c.along, c.slope2, c.frames = h.Freq/fs, 0, 0, 0, 0
	c.out, c.gain, c.xh, c.hh = false, 1, 0, 0
	for i := range c.table {
		c.table[i] = 0
		for k, a := range h.Harmonics {
			if a != 0 {
				c.table[i] += real(a * cmplx.Rect(1, 2*math.Pi*float64(k+1)*float64(i)/humBins))
			}
		}
	}
}

// skip passes over n frames.
func (c *canceller) skip(n int64) {
	_, c.phase = math.Modf(c.phase + c.step*float64(n))
}

// hum returns the hum at the present frame.
func (c *canceller) hum() float64 {
	p := c.phase * humBins
	i := int(p)
	return c.table[i] + (p-float64(i))*(c.table[i+1]-c.table[i])
}

// learn follows the hum with the residual e of the present frame; the table takes no more than most of it at a time.
func (c *canceller) learn(e, most float64) {
	if c.out {
		return
	}
	p := c.phase * humBins
	i := int(p)
	f := p - float64(i)
	slope := c.table[i+1] - c.table[i]
	c.along += e * slope
	c.slope2 += slope * slope
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
	c.frames++
	if c.phase < 1 {
		return
	}
	c.phase--
	// A correction may take the phase back through 0: that is no new period.
	whole := float64(c.frames)*c.step > 0.5
	if whole {
		c.judge()
	}
	if whole && c.slope2 > 0 {
		// The table is behind the hum by so many periods. A loop of the second order, critically damped, puts it right within
		// some tenths of a second.
		late := c.along / c.slope2 / humBins
		late = math.Max(-1e-3, math.Min(1e-3, late))
		c.phase = math.Mod(c.phase+humLoop*late+1, 1)
		c.step += humLoop * humLoop / 4 * late * c.step
	}
	c.along, c.slope2, c.frames = 0, 0, 0
	if c.atTone {
		c.leaveTone()
	}
}

// leaveTone takes the harmonic at the tone out of the table.
func (c *canceller) leaveTone() {
	var a, b float64
	for i, v := range c.table[:humBins] {
		a += v * c.cos[i]
		b += v * c.sin[i]
	}
	a, b = a*2/humBins, b*2/humBins
	for i := range humBins {
		c.table[i] -= a*c.cos[i] + b*c.sin[i]
	}
	c.table[humBins] = c.table[0]
}
