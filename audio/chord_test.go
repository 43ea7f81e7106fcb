package audio

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func newComb(t require.TestingT, level float64, rate int, hz ...float64) *Comb {
	g, err := NewComb(Chord{Hz: hz, Level: level}, rate)
	require.NoError(t, err)
	return g
}

// tones returns n tones from lo to hi in equal ratios, at odd multiples of 25 Hz.
func tones(n int, lo, hi float64) (hz []float64) {
	for k := range n {
		f := lo * math.Pow(hi/lo, float64(k)/float64(n-1))
		hz = append(hz, 50*math.Round((f-25)/50)+25)
	}
	return slices.Compact(hz)
}

// played returns the next frames of the only channel.
func played(g *Comb, frames int) []float32 {
	x := make([]float32, frames)
	g.Add(x, 1, 0)
	return x
}

func peakAndPower(x []float32) (peak, power float64) {
	for _, v := range x {
		peak = max(peak, math.Abs(float64(v)))
		power += float64(v) * float64(v) / float64(len(x))
	}
	return peak, power
}

// A comb of one tone is that tone.
func TestACombOfOneIsATone(t *testing.T) {
	tone, err := NewTone(1031, -12, 44100)
	require.NoError(t, err)
	want := make([]float32, 30000)
	tone.Fill(want, 1, 0)
	for i, v := range played(newComb(t, -12, 44100, 1031), 30000) {
		require.InDelta(t, want[i], v, 1e-7, "the last bit of a float32")
	}
}

// At equal distances Newman's phases give a crest factor of about 1.7, 4.6 dB (Boyd 1986, from memory); all in step would give
// sqrt(2*24) = 6.9. The distances in equal ratios that measurements like leave more.
func TestCrestFactor(t *testing.T) {
	var even []float64
	for k := range 24 {
		even = append(even, 325+50*float64(k))
	}
	for _, tt := range []struct {
		name string
		hz   []float64
		most float64
	}{{"equal distances", even, 1.9}, {"equal ratios", tones(24, 300, 8000), 2.4}} {
		for _, rate := range []int{44100, 48000, 96000} {
			g := newComb(t, -12, rate, tt.hz...)
			g.SetRamp(0)
			played(g, rate)
			peak, power := peakAndPower(played(g, rate))
			assert.LessOrEqual(t, peak/math.Sqrt(power), tt.most, "%s at %d", tt.name, rate)
			assert.InDelta(t, Amplitude(-12), peak, 1e-6, "the peak is what was asked for: float32")
		}
	}
}

// Each tone has the amplitude and phase that Level tells, at every frame however late: a Goertzel sum over the common period of 40 ms.
func TestLevelsOfAComb(t *testing.T) {
	hz := tones(24, 300, 8000)
	for _, at := range []int64{0, 37, 48000 * 3600 * 24} {
		g := newComb(t, -6, 48000, hz...)
		g.SetRamp(0)
		g.GoTo(max(0, at-1))
		played(g, 1) // the ramp
		g.GoTo(at)
		x := played(g, 1920)
		for k, f := range hz {
			var sum complex128
			for i, v := range x {
				turns := math.Mod(float64(at+int64(i))*f, 48000) / 48000
				sum += complex(float64(v), 0) * cmplx.Rect(2./1920, -2*math.Pi*turns)
			}
			assert.InDelta(t, 0, cmplx.Abs(sum-g.Level(k)), 1e-7, "%g Hz from frame %d: float32", f, at)
		}
	}
}

// However it is cut into blocks, left and come back to: the same samples.
func TestACombIsAFunctionOfTheFrame(t *testing.T) {
	whole := newComb(t, 0, 8000, 325, 975.5, 2125)
	whole.SetRamp(0)
	played(whole, 1)
	want := append([]float32{0}, played(whole, 5000)...)
	rapid.Check(t, func(r *rapid.T) {
		g := newComb(r, 0, 8000, 325, 975.5, 2125)
		g.SetRamp(0)
		played(g, 1)
		for range rapid.IntRange(1, 8).Draw(r, "stretches") {
			at := rapid.IntRange(1, 4000).Draw(r, "frame")
			n := rapid.IntRange(1, 900).Draw(r, "frames")
			if rapid.Bool().Draw(r, "seek") || int(g.Frame())+n > 5000 {
				g.GoTo(int64(at))
			}
			from := int(g.Frame())
			require.Equal(r, want[from:from+n], played(g, n))
		}
	})
}

func TestACombStartsAndStopsSoftly(t *testing.T) {
	g := newComb(t, 0, 48000, 12000)
	x := played(g, 300)
	assert.InDelta(t, 0.5, x[121], 0.02, "the middle of the raised cosine, 5 ms long")
	assert.InDelta(t, 1, math.Abs(float64(x[241])), 1e-6, "float32")
	g.Stop()
	played(g, 241) // the last of 240 may leave a rounding error
	assert.True(t, g.Silent())
	assert.Equal(t, make([]float32, 50), played(g, 50))
	g.Start()
	assert.NotEqual(t, make([]float32, 50), played(g, 50))
}

func TestSilentComb(t *testing.T) {
	assert.Equal(t, make([]float32, 50), played(newComb(t, 0, 48000), 50))
}

func TestCombAddsToItsChannel(t *testing.T) {
	x := []float32{1, 2, 3, 4, 5, 6, 7}
	g := newComb(t, 0, 4, 1)
	g.SetRamp(0)
	played(g, 1)
	g.Add(x, 3, 1)
	assert.InDeltaSlice(t, []float32{1, 3, 3, 4, 5, 6, 7}, x, 1e-6, "sin of a quarter and of a half turn")
	assert.Panics(t, func() { g.Add(x, 3, 3) })
	assert.Zero(t, testing.AllocsPerRun(100, func() { g.Add(x, 3, 1) }))
}

func TestCombRefuses(t *testing.T) {
	for _, tt := range []struct {
		c    Chord
		rate int
		want string
	}{
		{Chord{Hz: []float64{1000}}, 0, "audio: sample rate, got 0, want 1 or more frames/s"},
		{Chord{Hz: []float64{1000, 24000}}, 48000, "audio: tone 2 of a chord, got 24000 Hz, want more than 0 and less than 24000"},
		{Chord{Hz: []float64{math.NaN()}}, 48000, "audio: tone 1 of a chord, got NaN Hz"},
		{Chord{Level: 1}, 48000, "audio: level of a chord, got 1 dBFS, want 0 or less"},
		{Chord{Hz: make([]float64, 257)}, 48000, "audio: tones of a chord, got 257, want 0..256"},
	} {
		_, err := NewComb(tt.c, tt.rate)
		assert.ErrorContains(t, err, tt.want)
	}
}

// What the tones of a measurement cost: of one core, for a second of sound.
func BenchmarkComb(b *testing.B) {
	g := newComb(b, -12, 48000, tones(24, 300, 8000)...)
	x := make([]float32, 480)
	b.ReportAllocs()
	for b.Loop() {
		g.Add(x, 1, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)*100, "µs/s")
}
