package leads

import (
	"math"
	"math/cmplx"
)

// fullScale is what counts as full scale: what 16 bits make of a sample at the upper end is 0.99997.
const fullScale = 0.9999

// correlate returns 2/sum(w) * sum w[i] x[i] exp(-j 2 pi f (first+i)/rate): the amplitude of a tone of f [Hz], with its phase at frame 0.
// A nil w is a window of ones.
func correlate(x []float32, first int64, f float64, rate int, w []float64) complex128 {
	return correlateAll(x, first, []float64{f}, rate, w)[0]
}

// correlateAll is correlate for several tones, by Goertzel's recurrence (American Mathematical Monthly 65, 1958, from memory): with
// s[i] = x[i] + 2 cos(a) s[i-1] - s[i-2] the sum of x[i] exp(-j a i) is exp(-j a (n-1)) (s[n-1] - exp(-j a) s[n-2]).
func correlateAll(x []float32, first int64, hz []float64, rate int, w []float64) []complex128 {
	type state struct{ twice, s1, s2 float64 }
	list := make([]state, len(hz))
	for k, f := range hz {
		list[k].twice = 2 * math.Cos(2*math.Pi*f/float64(rate))
	}
	weight := float64(len(x))
	if w != nil {
		weight = 0
	}
	for i, v := range x {
		y := float64(v)
		if w != nil {
			y *= w[i]
			weight += w[i]
		}
		for k := range list {
			s := &list[k]
			s.s1, s.s2 = y+s.twice*s.s1-s.s2, s.s1
		}
	}
	z := make([]complex128, len(hz))
	for k, f := range hz {
		a := 2 * math.Pi * f / float64(rate)
		last := cmplx.Rect(1, -2*math.Pi*phaseOf(f, first+int64(len(x))-1, rate))
		z[k] = last * (complex(list[k].s1, 0) - cmplx.Rect(list[k].s2, -a)) * complex(2/weight, 0)
	}
	return z
}

// phaseOf returns f*n/rate in turns, without whole ones. Where f is a multiple of 1/1000 Hz it is exact.
func phaseOf(f float64, n int64, rate int) float64 {
	milli := int64(math.Round(f * 1000))
	period := int64(rate) * 1000
	return float64(milli*(n%period)%period) / float64(period)
}

// levels returns what comes back of each tone of the comb over what is played, as the sound x from the absolute frame first on has it.
func (c *Check) levels(x []float32, first int64, w []float64) []complex128 {
	z := correlateAll(x, first, c.hz, c.opt.Format.SampleRate, w)
	for k := range z {
		z[k] /= c.comb.Level(k)
	}
	return z
}

// hann returns the weights of a Hann window, which begins and ends half a sample outside.
func hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
	}
	return w
}

// sideBins are where noise is looked for beside a tone [Hz]; a Hann window of a second does not see the tone there.
var sideBins = []float64{-9, -7, -5, 5, 7, 9}

// sideNoise returns the mean power of the amplitudes beside each tone [Hz]: noise alone gives this at the tone, too.
func sideNoise(x []float32, tones []float64, rate int, w []float64) []float64 {
	var hz []float64
	var of []int
	for k, f := range tones {
		for _, d := range sideBins {
			if offMains(f+d, 50) >= 4 && offMains(f+d, 60) >= 4 {
				hz, of = append(hz, f+d), append(of, k)
			}
		}
	}
	power, n := make([]float64, len(tones)), make([]float64, len(tones))
	for i, z := range correlateAll(x, 0, hz, rate, w) {
		power[of[i]] += abs2(z)
		n[of[i]]++
	}
	for k := range power {
		power[k] /= math.Max(1, n[k])
	}
	return power
}

func abs2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// norm2 returns the sum of the squares.
func norm2(z []complex128) (sum float64) {
	for _, v := range z {
		sum += abs2(v)
	}
	return sum
}

// distance2 returns the sum of the squares of the differences.
func distance2(a, b []complex128) (sum float64) {
	for i := range a {
		sum += abs2(a[i] - b[i])
	}
	return sum
}

const (
	jumpSeen = 6.0 // times the noise that levels must be for a jump to be seen
	jumpLike = 0.8 // cosine of the angle between levels before and after, below which it is one
)

// jumped tells whether the phases of a block differ from those of the block before as no change of gain does.
func jumped(now, before []complex128, noise float64) bool {
	a, b := math.Sqrt(norm2(now)), math.Sqrt(norm2(before))
	if math.Min(a, b) < jumpSeen*noise || a == 0 || b == 0 {
		return false
	}
	var dot float64
	for k := range now {
		dot += real(now[k])*real(before[k]) + imag(now[k])*imag(before[k])
	}
	return dot < jumpLike*a*b
}
