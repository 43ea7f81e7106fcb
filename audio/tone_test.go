package audio

import (
	"math"
	"math/cmplx"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestDBFS(t *testing.T) {
	// Computed independently with mpmath: 20*log10(a).
	for _, c := range []struct{ amplitude, dbfs float64 }{
		{1, 0},
		{-1, 0},
		{0.5, -6.020599913279624},
		{0.1, -20},
		{math.Sqrt2 / 2, -3.010299956639812},
		{1. / 32768, -90.30899869919435},
		{2, 6.020599913279624},
	} {
		assert.InDelta(t, c.dbfs, DBFS(c.amplitude), 1e-12, "a few float64 steps")
		assert.InDelta(t, math.Abs(c.amplitude), Amplitude(c.dbfs), 1e-15, "a few float64 steps")
	}
	assert.True(t, math.IsInf(DBFS(0), -1))
	assert.Zero(t, Amplitude(math.Inf(-1)))
	assert.True(t, math.IsNaN(DBFS(math.NaN())) && math.IsNaN(Amplitude(math.NaN())))
}

// goertzel returns the DFT of x at a bin, by the second-order recurrence of Goertzel (1958) with the coefficient
// 2*cos(2*pi*bin/len(x)).
func goertzel(x []float32, bin float64) complex128 {
	w := 2 * math.Pi * bin / float64(len(x))
	coeff := 2 * math.Cos(w)
	var s1, s2 float64
	for _, v := range x {
		s1, s2 = float64(v)+coeff*s1-s2, s1
	}
	return complex(s1, 0) - cmplx.Rect(1, -w)*complex(s2, 0)
}

func TestGoertzelFacts(t *testing.T) {
	// Computed independently with mpmath: amplitude 3, 64 samples, bin 5, any phase: |X|^2 = (3*64/2)^2 = 9216.
	for _, phase := range []float64{0, 0.3, 1.7, -2.9} {
		x := make([]float32, 64)
		for i := range x {
			x[i] = float32(3 * math.Sin(2*math.Pi*5*float64(i)/64+phase))
		}
		// 64 float32 samples of size 3 are each rounded by up to 1.2e-7; |X| = 96 carries at most 64 of these.
		assert.InDelta(t, 9216, math.Pow(cmplx.Abs(goertzel(x, 5)), 2), 2*96*64*1.2e-7)
	}
	// Computed independently with mpmath: 2*cos(2*pi*f/fs) at 1 kHz. The tone obeys x[n+1] = c*x[n] - x[n-1].
	for rate, want := range map[int]float64{8000: 1.414213562, 44100: 1.979734946, 48000: 1.982889723} {
		tone, err := NewTone(1000, 0, rate)
		require.NoError(t, err)
		x := make([]float32, rate/10)
		tone.Fill(x, 1, 0)
		var num, den float64
		for i := rate / 50; i < len(x)-1; i++ { // past the soft start
			num += float64(x[i-1]+x[i+1]) * float64(x[i])
			den += float64(x[i]) * float64(x[i])
		}
		assert.InDelta(t, want, num/den, 1e-8, "least squares over thousands of samples rounded to 6e-8")
	}
}

func TestToneLevelAndFrequency(t *testing.T) {
	for _, c := range []struct {
		hz, dbfs float64
		rate     int
	}{{1000, 0, 48000}, {1000, -12, 44100}, {437.5, -60, 8000}, {19000, -3, 192000}} {
		tone, err := NewTone(c.hz, c.dbfs, c.rate)
		require.NoError(t, err)
		x := make([]float32, 2*c.rate+c.rate/100)
		tone.Fill(x, 1, 0)
		whole := x[c.rate/100:] // 2 s past the soft start: a whole number of periods of each tone above
		amplitude := 2 * cmplx.Abs(goertzel(whole, 2*c.hz)) / float64(len(whole))
		assert.InDelta(t, c.dbfs, DBFS(amplitude), 1e-6, "float32 samples: far below 1e-6 dB")

		var power float64
		for _, v := range whole {
			power += float64(v) * float64(v) / float64(len(whole))
		}
		// All power is in the tone: the rest is float32 rounding, relative 6e-8 in amplitude.
		assert.InDelta(t, amplitude*amplitude/2, power, 1e-6*power)
	}
}

func TestToneSoftStart(t *testing.T) {
	const rate = 48000
	tone, err := NewTone(1000, 0, rate)
	require.NoError(t, err)
	x := make([]float32, 480)
	tone.Fill(x, 1, 0)
	// 5 ms are 240 frames. At frame 132, a quarter period past 2.5 ms plus an eighth, the sine is 1 at 12+48k.
	for _, n := range []int{12, 60, 108, 156, 204, 228, 252, 300} {
		want := 1.0
		if n < 240 {
			want = 0.5 - 0.5*math.Cos(math.Pi*float64(n)/240)
		}
		assert.InDelta(t, want, math.Abs(float64(x[n])), 1e-6, "crest at frame %d; float32", n)
	}
	assert.Zero(t, x[0])
}

// The level as the crests show it, at frames 12 + 24n of a 1 kHz tone at 48000 frames/s.
func TestToneRampStopAndStart(t *testing.T) {
	tone, err := NewTone(1000, 0, 48000)
	require.NoError(t, err)
	tone.SetRamp(100 * time.Millisecond) // 4800 frames
	next := 0
	crest := func(frame int) float64 {
		x := make([]float32, frame-next+1)
		tone.Fill(x, 1, 0)
		next = frame + 1
		return math.Abs(float64(x[len(x)-1]))
	}
	raised := func(part float64) float64 { return 0.5 - 0.5*math.Cos(math.Pi*part) }
	for _, n := range []int{12, 1212, 2388, 4788} {
		assert.InDelta(t, raised(float64(n)/4800), crest(n), 1e-6, "frame %d; float32", n)
	}
	assert.InDelta(t, 1, crest(5004), 1e-6)
	crest(4799 + 480)
	tone.Stop()
	assert.False(t, tone.Silent())
	assert.InDelta(t, raised(1-1212./4800), crest(5280+1212), 1e-6, "float32")
	crest(5280 + 2399)
	tone.Start() // half way down, and up again
	assert.InDelta(t, raised(0.5+1212./4800), crest(7680+1212), 1e-6, "float32")
	crest(7680 + 4799)
	tone.SetRamp(SoftStart)
	tone.Stop()
	assert.InDelta(t, raised(1-132./240), crest(12480+132), 1e-6, "float32")
	crest(12480 + 240) // 240 steps of 1/240 may end a rounding short of 0
	assert.True(t, tone.Silent())
	x := make([]float32, 100)
	tone.Fill(x, 1, 0)
	assert.Equal(t, make([]float32, 100), x)
	next += 100

	tone.Start()
	tone.SetRamp(0) // at once, and in step with what it played before
	assert.False(t, tone.Silent())
	assert.Zero(t, crest(12821), "the ramp is one frame")
	assert.InDelta(t, 1, crest(12840+12), 1e-6, "float32; a crest is where it would be had the tone never stopped")
}

func TestToneBlocksAndChannels(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		hz := rapid.Float64Range(20, 3900).Draw(r, "hz")
		channels := rapid.IntRange(1, 4).Draw(r, "channels")
		channel := rapid.IntRange(0, channels-1).Draw(r, "channel")
		sizes := rapid.SliceOfN(rapid.IntRange(0, 100), 1, 10).Draw(r, "sizes")
		whole, err := NewTone(hz, -6, 8000)
		require.NoError(r, err)
		parts, err := NewTone(hz, -6, 8000)
		require.NoError(r, err)

		total := 0
		for _, n := range sizes {
			total += n
		}
		want := make([]float32, total)
		whole.Fill(want, 1, 0)
		at := 0
		for _, n := range sizes {
			dst := make([]float32, n*channels+channels-1) // a part of a frame at the end is left alone
			for i := range dst {
				dst[i] = 7
			}
			parts.Fill(dst, channels, channel)
			for i, v := range dst {
				if i < n*channels && i%channels == channel {
					require.Equal(r, want[at+i/channels], v)
				} else {
					require.Equal(r, float32(7), v)
				}
			}
			at += n
		}
		require.Equal(r, int64(total), parts.Frames())
	})
}

func TestToneAdd(t *testing.T) {
	fill, err := NewTone(1000, -20, 48000)
	require.NoError(t, err)
	add, err := NewTone(1000, -20, 48000)
	require.NoError(t, err)
	a, b := make([]float32, 600), make([]float32, 600)
	for i := range b {
		b[i] = 0.25
	}
	fill.Fill(a, 2, 1)
	add.Add(b, 2, 1)
	for i := range a {
		assert.Equal(t, a[i]+0.25, b[i])
	}
}

func TestNewToneRefuses(t *testing.T) {
	for _, c := range []struct {
		hz, dbfs float64
		rate     int
		want     string
	}{
		{0, 0, 48000, "audio: tone, got 0 Hz, want more than 0 and less than 24000"},
		{24000, 0, 48000, "audio: tone, got 24000 Hz, want more than 0 and less than 24000"},
		{math.NaN(), 0, 48000, "audio: tone, got NaN Hz, want more than 0 and less than 24000"},
		{1000, 0.1, 48000, "audio: tone level, got 0.1 dBFS, want 0 or less"},
		{1000, math.NaN(), 48000, "audio: tone level, got NaN dBFS, want 0 or less"},
		{1000, 0, 0, "audio: sample rate, got 0, want 1 or more frames/s"},
	} {
		_, err := NewTone(c.hz, c.dbfs, c.rate)
		assert.EqualError(t, err, c.want)
	}
	silent, err := NewTone(1000, math.Inf(-1), 48000)
	require.NoError(t, err)
	x := make([]float32, 1000)
	silent.Fill(x, 1, 0)
	assert.Equal(t, make([]float32, 1000), x)
	assert.PanicsWithValue(t, "audio: channel, got 2, want 0..1", func() { silent.Fill(x, 2, 2) })
}

func BenchmarkTone(b *testing.B) {
	tone, _ := NewTone(1000, -12, 48000)
	x := make([]float32, 4096)
	b.SetBytes(int64(len(x)))
	b.ReportAllocs()
	for b.Loop() {
		tone.Add(x, 1, 0)
	}
}
