package detect

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// Hum is mains hum: a periodic disturbance of 50 or 60 Hz and its harmonics.
type Hum struct {
	Freq float64 // fundamental [Hz]; 0: no hum worth taking off
	// Harmonics[k-1] is the level of harmonic k [full scale], with the phase that it has at frame 0 of the stream. Harmonics that lie at
	// the tone are left out: they are a slow turning of its level.
	Harmonics []complex128
}

// Level returns the power of the hum as the amplitude of a sine of the same power [full scale].
func (h Hum) Level() float64 {
	var p float64
	for _, a := range h.Harmonics {
		p += mag2(a)
	}
	return math.Sqrt(p)
}

// later returns the hum with the phases that it has so many frames later.
func (h Hum) later(frames int64, fs float64) Hum {
	for k, a := range h.Harmonics {
		h.Harmonics[k] = a * cmplx.Rect(1, 2*math.Pi*math.Mod(float64(k+1)*h.Freq*float64(frames)/fs, 1))
	}
	return h
}

const (
	humSeconds  = 1.0      // [s] from the start of the sound from which the hum is learnt
	humReach    = 0.6      // [Hz] by which the mains frequency may be off
	humTop      = 3000.0   // [Hz] highest harmonic taken off
	humNearTone = 5.0      // [Hz] within which of the tone a harmonic is left to the tone's level
	humBlock    = 0.100    // [s] over which the tone's level is left free while the hum is learnt
	humLeast    = 0.03     // least level worth taking off, of the tone's (-30 dB)
	humBins     = 2048     // bins of a period in the canceller
	humGain     = 1.0 / 20 // of the residual that a bin of the table takes
	humLoop     = 0.3      // of the lateness that is put right in a period
)

// findHum looks for hum in the sound x, which begins at frame 0, beside a tone of f cycles per frame and amplitude a that
// comes and goes, in noise of standard deviation sigma. The zero Hum means that there is none worth taking off.
func findHum(x []float32, fs, f, a, sigma float64) Hum {
	if float64(len(x)) < 0.25*fs {
		return Hum{}
	}
	base, amplitude := humFrequency(x, fs)
	// White noise alone gives a power of 6 sigma^2/n in each of the four harmonics; four times the sum is no chance.
	if chance := math.Sqrt(96/float64(len(x))) * sigma; amplitude < math.Max(chance, 0.5*humLeast*a) {
		return Hum{}
	}
	h := Hum{Freq: base, Harmonics: humLevels(x, fs, f, base)}
	if h.Level() < humLeast*a {
		return Hum{}
	}
	return h
}

// humFrequency returns the fundamental [Hz], within humReach of 50 or 60 Hz, for which harmonics 1, 2, 3 and 5 together hold most
// power, and the amplitude of a sine of that power [full scale].
func humFrequency(x []float32, fs float64) (hz, amplitude float64) {
	// A mean over 1/1500 s is enough of a low-pass for 300 Hz.
	step := max(1, int(fs/1500))
	y := make([]float64, len(x)/step)
	for i := range y {
		for _, v := range x[i*step : (i+1)*step] {
			if v-v == 0 {
				y[i] += float64(v) / float64(step)
			}
		}
	}
	for i := range y {
		y[i] *= 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(y))) // Hann
	}
	rate := fs / float64(step)
	power := func(hz float64) (p float64) {
		for _, k := range []float64{1, 2, 3, 5} {
			turn := cmplx.Rect(1, -2*math.Pi*k*hz/rate)
			z, sum := complex128(1), complex128(0)
			for _, v := range y {
				sum += complex(v, 0) * z
				z *= turn
			}
			p += mag2(sum) * 16 / float64(len(y)*len(y))
		}
		return p
	}
	best := 0.0
	for _, mains := range []float64{50, 60} {
		for o := -humReach; o <= humReach; o += 0.05 {
			if p := power(mains + o); p > best {
				best, hz = p, mains+o
			}
		}
	}
	for d := 0.025; d > 2e-4; d /= 2 {
		for _, o := range []float64{-d, d} {
			if p := power(hz + o); p > best {
				best, hz = p, hz+o
			}
		}
	}
	return hz, math.Sqrt(best)
}

// humLevels fits the harmonics of base [Hz] by least squares, with the tone's level (f cycles per frame) free in each block of humBlock: the
// tone is projected out of samples and harmonics alike, block by block.
func humLevels(x []float32, fs, f, base float64) []complex128 {
	top := int(math.Min(humTop, 0.45*fs) / base)
	var use []int
	for k := 1; k <= top; k++ {
		if math.Abs(float64(k)*base-f*fs) > humNearTone {
			use = append(use, k)
		}
	}
	n, block := 2*len(use), int(humBlock*fs)
	gram, rhs := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	row, sum := make([]float64, n), make([]float64, n)
	tones := [2][]float64{make([]float64, n), make([]float64, n)}
	g := gram.RawSymmetric()
	for from := 0; from+block <= len(x); from += block {
		// Sums over the block: of the tone's own columns, and of tone times harmonics and samples.
		var tt [3]float64
		var tx [2]float64
		clear(tones[0])
		clear(tones[1])
		for i := from; i < from+block; i++ {
			v := float64(x[i])
			if v-v != 0 {
				v = 0
			}
			s, c := math.Sincos(2 * math.Pi * math.Mod(f*float64(i), 1))
			humRow(row, use, base/fs, i)
			tt[0] += c * c
			tt[1] += c * s
			tt[2] += s * s
			tx[0] += c * v
			tx[1] += s * v
			for j, r := range row {
				tones[0][j] += c * r
				tones[1][j] += s * r
				sum[j] = r * v
			}
			for j := range n {
				rhs.SetVec(j, rhs.AtVec(j)+sum[j])
				r, line := row[j], g.Data[j*g.Stride:j*g.Stride+n]
				for m := j; m < n; m++ {
					line[m] += r * row[m]
				}
			}
		}
		det := tt[0]*tt[2] - tt[1]*tt[1]
		if det < 1e-6*tt[0]*tt[2] {
			continue
		}
		for j := range n {
			// (T'T)^-1 T'h for column j
			p, q := tones[0][j], tones[1][j]
			u, w := (tt[2]*p-tt[1]*q)/det, (tt[0]*q-tt[1]*p)/det
			rhs.SetVec(j, rhs.AtVec(j)-u*tx[0]-w*tx[1])
			line := g.Data[j*g.Stride : j*g.Stride+n]
			for m := j; m < n; m++ {
				line[m] -= u*tones[0][m] + w*tones[1][m]
			}
		}
	}
	var chol mat.Cholesky
	sol := mat.NewVecDense(n, nil)
	if !chol.Factorize(gram) || chol.SolveVecTo(sol, rhs) != nil {
		return nil
	}
	out := make([]complex128, top)
	for j, k := range use {
		out[k-1] = complex(sol.AtVec(2*j), -sol.AtVec(2*j+1))
	}
	return out
}

// humRow fills row with cos and sin of each harmonic in use at frame i; base in cycles per frame.
func humRow(row []float64, use []int, base float64, i int) {
	ph := 2 * math.Pi * math.Mod(base*float64(i), 1)
	s1, c1 := math.Sincos(ph)
	one, z, at := complex(c1, s1), complex(1, 0), 0
	for j, k := range use {
		for ; at < k; at++ {
			z *= one
		}
		row[2*j], row[2*j+1] = real(z), imag(z)
	}
}

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
	if whole := float64(c.frames)*c.step > 0.5; whole && c.slope2 > 0 {
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
