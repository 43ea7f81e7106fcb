package bench

import (
	"io"
	"math"
	"math/cmplx"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// plain is one second of 1 kHz in series wiring, open from 0.25 to 0.5 s, without any nuisance.
func plain() Config {
	return Config{
		SampleRate: 48000, Channels: 1, Frames: 48000, Tone: 1000, Level: -6, Closed: 1, Open: 0.1i,
		Changes: []Change{{0.25, false}, {0.5, true}}, Seed: 1,
	}
}

// full is plain with everything that can be had, in the second of three channels.
func full() Config {
	c := plain()
	c.Channels, c.Channel = 3, 1
	c.PPM, c.Leak, c.BandLimited = 120, 0.01, true
	c.Noise = NoiseFor(Amplitude(c.Level), 40)
	c.Hum = Hum{Hz: 50, Level: 0.1, Harmonics: 7}
	c.Ticks = Ticks{Rate: 20, Length: 100e-6, Level: 0.5}
	return c
}

func render(t require.TestingT, c Config, block int) []float32 {
	b, err := New(c)
	require.NoError(t, err)
	var out []float32
	buf := make([]float32, block*c.Channels)
	for {
		n, err := b.Read(buf)
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
		out = append(out, buf[:n*c.Channels]...)
	}
}

// level correlates frames [from,to) of a mono sound with exp(-jwn), w = 2*pi*f/48000: a whole number of periods gives the
// complex level, up to the start phase of the tone.
func level(x []float32, from, to int, f float64) complex128 {
	var sum complex128
	for n := from; n < to; n++ {
		sum += complex(float64(x[n]), 0) * cmplx.Rect(1, -2*math.Pi*f*float64(n)/48000)
	}
	return sum * complex(2/float64(to-from), 0)
}

func TestLevels(t *testing.T) {
	x := render(t, plain(), 4096)
	closed, open := level(x, 0, 9600, 1000), level(x, 14400, 24000, 1000)
	// float32 samples: 6e-8.
	assert.InDelta(t, Amplitude(-6), cmplx.Abs(closed), 1e-6)
	assert.InDelta(t, 0, cmplx.Abs(open/closed-0.1i), 1e-6)
	// RMS of a sine of -6 dBFS, where 0 dBFS is a full-scale sine.
	var power float64
	for _, v := range x[:9600] {
		power += float64(v) * float64(v) / 9600
	}
	assert.InDelta(t, -6, 10*math.Log10(2*power), 1e-5)
}

func TestGateSwitchesAtTheFirstFrameAtOrAfter(t *testing.T) {
	for _, tt := range []struct {
		at    float64
		frame int
	}{{12000.0 / 48000, 12000}, {12000.25 / 48000, 12001}, {12000.999 / 48000, 12001}, {0.7 * 44100 / 48000, 30870}} {
		c := plain()
		c.Open, c.Changes = 0, []Change{{tt.at, false}}
		x := render(t, c, 1000)
		for n, v := range x {
			if n >= tt.frame {
				require.Zero(t, v, "frame %d", n)
			}
		}
		assert.NotZero(t, math.Abs(float64(x[tt.frame-1]))+math.Abs(float64(x[tt.frame-2])), "tone up to the edge")
	}
}

// A tone switched on by an ideal gate and then filtered, worked out another way: the gate at 64 times the rate, and the
// filter as a sum over the fine samples.
func TestBandLimitedEdge(t *testing.T) {
	c := plain()
	c.BandLimited, c.StartOpen, c.Open = true, true, 0
	at := 24000.37
	c.Changes = []Change{{at / 48000, true}}
	x := render(t, c, 777)

	const over = 64
	w := 2 * math.Pi * 1000 / 48000
	phase := cmplx.Phase(level(x, 28800, 38400, 1000))
	want := func(n int) float64 {
		var sum, norm float64
		for i := -reach * over; i <= reach*over; i++ {
			u := float64(i) / over
			h := 0.42 + 0.5*math.Cos(math.Pi*u/reach) + 0.08*math.Cos(2*math.Pi*u/reach)
			if u != 0 {
				h *= math.Sin(2*math.Pi*cutoff*u) / (2 * math.Pi * cutoff * u)
			}
			norm += h * math.Cos(w*u)
			if m := float64(n) - u; m >= at {
				sum += h * math.Cos(w*m+phase)
			}
		}
		return Amplitude(-6) * sum / norm
	}
	for n := 23980; n < 24030; n++ {
		// The sum sees the gate to 1/64 of a frame: half of that, at an amplitude of 0.5.
		assert.InDelta(t, want(n), float64(x[n]), 0.006, "frame %d", n)
	}
	assert.Zero(t, x[24000-reach], "silent before the filter can see the edge")
}

func TestBandLimitedEdgePassesHalfAtTheInstant(t *testing.T) {
	s := stepResponse(2 * math.Pi * 1000 / 48000)
	assert.InDelta(t, 0.5, real(s[len(s)/2]), 1e-12) // symmetry: rounding only
	assert.Equal(t, complex(1, 0), s[len(s)-1])
}

func TestDenseBandLimitedChangesEndAtTheRightLevel(t *testing.T) {
	c := plain()
	c.BandLimited = true
	c.Changes = AddBounce(c.Changes, 7)
	x := render(t, c, 480)
	closed, open := level(x, 0, 9600, 1000), level(x, 14400, 23520, 1000)
	assert.InDelta(t, 0, cmplx.Abs(open/closed-0.1i), 1e-6)
	assert.InDelta(t, 0, cmplx.Abs(level(x, 28800, 38400, 1000)-closed), 1e-6)
}

func TestToneOffByPPM(t *testing.T) {
	c := plain()
	c.Changes, c.PPM = nil, 100
	x := render(t, c, 4800)
	turned := level(x, 38400, 48000, 1000.1) / level(x, 0, 9600, 1000.1)
	// 1000.1 Hz makes no whole number of periods in 9600 frames: the image leaks by about 1e-4.
	assert.InDelta(t, 0, cmplx.Abs(turned-1), 1e-3)
}

func TestPhasorStaysExact(t *testing.T) {
	p := newPhasor(997.3/48000, 0.1)
	for n := range int64(200_000) {
		got := p.at(n)
		if n%9973 == 0 {
			_, frac := math.Modf(0.1 + 997.3/48000*float64(n))
			// 512 products of unit numbers round to 1e-13; the angle of a late frame to 1e-11.
			require.InDelta(t, 0, cmplx.Abs(got-cmplx.Rect(1, 2*math.Pi*frac)), 1e-10)
		}
	}
}

func TestNoise(t *testing.T) {
	c := plain()
	c.Frames, c.Closed, c.Noise, c.Changes = 480000, 0, NoiseFor(Amplitude(-6), 20), nil
	var mean, power float64
	x := render(t, c, 4096)
	for _, v := range x {
		mean += float64(v) / float64(len(x))
		power += float64(v) * float64(v) / float64(len(x))
	}
	// 480000 samples: the power's standard error is sqrt(2/480000) = 0.2 %, 0.01 dB; five of these.
	assert.InDelta(t, -26, 10*math.Log10(2*power), 0.05)
	assert.InDelta(t, 0, mean, 5*c.Noise/math.Sqrt(480000))
}

func TestHum(t *testing.T) {
	c := plain()
	c.Closed, c.Open, c.Hum = 0, 0, Hum{Hz: 60, Level: 0.2, Harmonics: 3}
	x := render(t, c, 4096)
	for k, want := range map[float64]float64{1: 0.2, 2: 0.1, 3: 0.2 / 3, 4: 0} {
		assert.InDelta(t, want, cmplx.Abs(level(x, 0, 48000, 60*k)), 1e-6, "harmonic %v", k) // float32 samples
	}
}

func TestTicks(t *testing.T) {
	c := plain()
	c.Frames, c.Closed, c.Open, c.Ticks = 48000*20, 0, 0, Ticks{Rate: 50, Length: 100e-6, Level: 0.8}
	var starts, up, long, run int
	var peak float32
	x := render(t, c, 4096)
	for n := 1; n < len(x); n++ {
		switch {
		case x[n] != 0 && x[n-1] == 0:
			starts++
			run = 1
			if x[n] > 0 {
				up++
			}
		case x[n] != 0:
			run++
		}
		long = max(long, run)
		peak = max(peak, x[n])
	}
	// Poisson: 1000 expected, standard deviation 32, four of these; few ticks touch.
	assert.InDelta(t, 1000, starts, 130)
	assert.InDelta(t, 500, up, 70)
	assert.LessOrEqual(t, long, 10, "100 us are 4.8 frames; two ticks may touch")
	assert.InDelta(t, 0.8, peak, 0.05) // samples fall beside the peak
}

func TestClips(t *testing.T) {
	c := plain()
	c.Level = 6
	var peak, trough float32
	for _, v := range render(t, c, 512) {
		peak, trough = max(peak, v), min(trough, v)
	}
	assert.Equal(t, []float32{1, -1}, []float32{peak, trough})
}

func TestOtherChannelsHaveNoTone(t *testing.T) {
	c := plain()
	c.Channels, c.Channel = 2, 1
	for n, v := range render(t, c, 512) {
		if n%2 == 0 {
			require.Zero(t, v)
		}
	}
}

func TestSameSamplesHoweverRead(t *testing.T) {
	want := render(t, full(), 48000)
	rapid.Check(t, func(t *rapid.T) {
		b, err := New(full())
		require.NoError(t, err)
		got := make([]float32, 0, len(want))
		for {
			buf := make([]float32, 3*rapid.IntRange(1, 20000).Draw(t, "frames")+rapid.IntRange(0, 2).Draw(t, "odd"))
			n, err := b.Read(buf)
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
			got = append(got, buf[:3*n]...)
		}
		require.Equal(t, want, got)
	})
}

func TestSeedMatters(t *testing.T) {
	c := full()
	c.Seed++
	assert.NotEqual(t, render(t, full(), 48000), render(t, c, 48000))
}

func TestEndAndClose(t *testing.T) {
	c := plain()
	c.Frames = 10
	b, err := New(c)
	require.NoError(t, err)
	assert.Equal(t, int64(10), b.Format().Frames)
	buf := []float32{9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9}
	n, err := b.Read(buf)
	require.NoError(t, err)
	assert.Equal(t, 10, n)
	assert.Equal(t, []float32{9, 9}, buf[10:], "nothing past the frames read is touched")
	for range 2 {
		_, err = b.Read(buf)
		assert.Equal(t, io.EOF, err)
	}
	assert.Panics(t, func() { _, _ = b.Read(nil) })
	require.NoError(t, b.Close())
	require.NoError(t, b.Close())
	_, err = b.Read(buf)
	assert.ErrorContains(t, err, "bench: read after close")
}

func TestReadDoesNotAllocate(t *testing.T) {
	c := full()
	c.Frames = 1 << 40
	b, err := New(c)
	require.NoError(t, err)
	buf := make([]float32, 3*256)
	assert.Zero(t, testing.AllocsPerRun(100, func() { _, _ = b.Read(buf) }))
}

func BenchmarkRead(b *testing.B) {
	for name, c := range map[string]Config{"plain": plain(), "full": full()} {
		b.Run(name, func(b *testing.B) {
			c.Frames, c.Channels, c.Channel = math.MaxInt64, 1, 0
			s, err := New(c)
			require.NoError(b, err)
			buf := make([]float32, 4096)
			start := time.Now()
			for b.Loop() {
				_, _ = s.Read(buf)
			}
			b.ReportMetric(float64(b.N)*4096/48000/time.Since(start).Seconds(), "x_real_time")
		})
	}
}
