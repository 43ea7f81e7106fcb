package detect

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/mjibson/go-dsp/fft"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"
)

func survey(t *testing.T, x []float32, fs, channels int, opt SurveyOptions) (Config, Findings, error) {
	t.Helper()
	s, err := NewSurvey(fs, channels, opt)
	require.NoError(t, err)
	s.Write(x)
	return s.Result()
}

func TestSurveyFindsToneAndLevels(t *testing.T) {
	s := basicSynth()
	for _, tone := range []float64{300, 400, 1000, 1000.1, 1020, 2870, 5003, 8000} {
		s.tone = tone
		cfg, f, err := survey(t, s.render(), s.fs, 1, SurveyOptions{})
		require.NoError(t, err)
		assert.InDelta(t, tone, f.Tone, 0.5)                      // a twentieth of a turn over the longest stretch that it must carry here
		assert.InDelta(t, 0.25, f.High, 0.25*0.03, "%g Hz", tone) // a histogram class is 3 % wide
		assert.Less(t, f.Low, 0.01)
		assert.Equal(t, f.Tone, cfg.Profile.Tone)
		assert.Equal(t, complex(f.High, 0), cfg.Profile.Closed)
		assert.False(t, cfg.ZeroIsOpen)
	}
}

func TestSurveyFindsTheChannel(t *testing.T) {
	s := basicSynth()
	x := s.render()
	rng := rand.New(rand.NewPCG(3, 3))
	y := make([]float32, 3*len(x))
	for i, v := range x {
		hum := 0.05 * math.Sin(2*math.Pi*50*float64(i)/48000)
		y[3*i], y[3*i+1], y[3*i+2] = float32(hum), v, float32(0.01*rng.NormFloat64())
	}
	cfg, f, err := survey(t, y, s.fs, 3, SurveyOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, f.Channel)
	ev, _, err := detectAll(cfg, y, 3*512)
	require.NoError(t, err)
	assert.Equal(t, s.turns, near(frames(ev), s.turns))
	_, _, err = survey(t, y, s.fs, 3, SurveyOptions{Channel: 1})
	assert.ErrorIs(t, err, ErrNoTone, "the channel asked for has no tone")
}

func TestSurveyRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	make1 := func(n int, f func(i int) float64) []float32 {
		x := make([]float32, n)
		for i := range x {
			x[i] = float32(f(i))
		}
		return x
	}
	at := func(hz float64, i int) float64 { return math.Sin(2 * math.Pi * hz * float64(i) / 48000) }
	for name, c := range map[string]struct {
		x    []float32
		want error
	}{
		"nothing":     {nil, ErrTooShort},
		"too short":   {basicSynth().render()[:2000], ErrTooShort},
		"silence":     {make([]float32, 96000), ErrSilence},
		"noise":       {make1(480000, func(int) float64 { return 0.1 * rng.NormFloat64() }), ErrNoTone},
		"steady tone": {make1(96000, func(i int) float64 { return 0.2*at(1000, i) + 0.001*rng.NormFloat64() }), ErrNoChange},
		"hum alone":   {make1(96000, func(i int) float64 { return 0.2*at(50, i) + 0.05*at(150, i) + 0.001*rng.NormFloat64() }), ErrNoTone},
		"a fading tone": {make1(480000, func(i int) float64 {
			return 0.5*math.Exp(-float64(i%48000)/12000)*at(1000, i) + 0.0001*rng.NormFloat64()
		}), ErrNotATone},
		"hardly a change": {make1(96000, func(i int) float64 {
			a := 0.2
			if i/12000%2 == 1 {
				a = 0.195
			}
			return a*at(1000, i) + 1e-5*rng.NormFloat64()
		}), ErrContrast},
	} {
		t.Run(name, func(t *testing.T) {
			_, f, err := survey(t, c.x, 48000, 1, SurveyOptions{})
			require.ErrorIs(t, err, c.want, "%+v", f)
			assert.Equal(t, int64(len(c.x)), f.Frames)
		})
	}
}

func TestSurveyTellsOfOtherTones(t *testing.T) {
	s := basicSynth()
	two := basicSynth()
	two.tone, two.turns, two.seed = 2300, []int{30000, 50000, 70000}, 5
	x, y := s.render(), two.render()
	for i := range x {
		x[i] += y[i]
	}
	_, f, err := survey(t, x, s.fs, 1, SurveyOptions{})
	require.NoError(t, err)
	require.Len(t, f.Others, 1)
	got := []float64{f.Tone, f.Others[0]}
	assert.InDelta(t, 3300, got[0]+got[1], 1)
}

func TestSurveyArguments(t *testing.T) {
	for want, f := range map[string]func() (*Survey, error){
		"detect: sample rate, got 0, want 4000..768000 frames/s":                                       func() (*Survey, error) { return NewSurvey(0, 1, SurveyOptions{}) },
		"detect: channels, got 300, want 1..256":                                                       func() (*Survey, error) { return NewSurvey(8000, 300, SurveyOptions{}) },
		"detect: channel, got 2, want 1..1":                                                            func() (*Survey, error) { return NewSurvey(8000, 1, SurveyOptions{Channel: 2}) },
		"detect: tone, got 4000 Hz, want 250..3360 Hz at this sample rate":                             func() (*Survey, error) { return NewSurvey(8000, 1, SurveyOptions{Tone: 4000}) },
		"detect: channels, got 100 without a choice, want a channel named when there are more than 64": func() (*Survey, error) { return NewSurvey(8000, 100, SurveyOptions{}) },
	} {
		_, err := f()
		require.EqualError(t, err, want)
	}
}

func TestSurveyMemoryDoesNotGrow(t *testing.T) {
	s, err := NewSurvey(8000, 1, SurveyOptions{})
	require.NoError(t, err)
	x := basicSynth().render()[:8000]
	for range 40 { // past the dense part
		s.Write(x)
	}
	before := s.spec[0].pairs
	n := testing.AllocsPerRun(1, func() {
		for s.spec[0].pairs == before {
			s.Write(x[:8])
		}
	})
	assert.Zero(t, n)
}

// A sine of amplitude 3 in the middle of bin 5 of 64 has |X|^2 = (3*64/2)^2 = 9216 whatever its phase (Goertzel; computed
// independently with mpmath). The lock-in of a hop is the same sum.
func TestLockInIsGoertzel(t *testing.T) {
	for _, phase := range []float64{0, 1, 2.5, -0.3} {
		var a accumulator
		for i := range 64 {
			w := 2 * math.Pi * 5 / 64 * float64(i)
			s, c := math.Sincos(w)
			x := 3 * math.Cos(w+phase)
			a.n, a.weight, a.ec, a.es = a.n+1, a.weight+1, a.ec+x*c, a.es+x*s
		}
		x := cmplx.Abs(a.deviation()) * 64 / 2
		assert.InDelta(t, 9216, x*x, 1e-9)
	}
}

// Hann window: coherent gain 0.5, equivalent noise bandwidth 1.5 bins, scalloping loss 1.4236 dB (computed independently with
// mpmath; Harris, Proc. IEEE 66 (1978), Table I prints 1.42, from memory).
func TestHannWindow(t *testing.T) {
	s := newSpectrum(512, 3, 200)
	var sum, sq float64
	for _, w := range s.win {
		sum += w
		sq += w * w
	}
	assert.InDelta(t, 0.5, sum/512, 1e-12)
	assert.InDelta(t, 1.5, 512*sq/(sum*sum), 1e-12)
	assert.InDelta(t, -1.4236, 20*math.Log10(scallop(0.5)), 5e-5)
	assert.InDelta(t, 1, scallop(0), 0)
}

// The transform against those of go-dsp and gonum, two independent implementations.
func TestFFTsAgree(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	for n := 4; n <= 8192; n *= 2 {
		x := make([]complex128, n)
		for i := range x {
			x[i] = complex(rng.NormFloat64(), rng.NormFloat64())
		}
		gonum, dsp := fourier.NewCmplxFFT(n).Coefficients(nil, x), fft.FFT(x)
		newTransform(n).of(x)
		for k := range x {
			require.InDelta(t, 0, cmplx.Abs(x[k]-gonum[k]), 1e-10, "%d of %d", k, n) // 1e-16 of a sum of n
			require.InDelta(t, 0, cmplx.Abs(x[k]-dsp[k]), 1e-10, "%d of %d", k, n)
		}
	}
}

func TestClassIsTheLevel(t *testing.T) {
	s := newSpectrum(64, 1, 30)
	for db := levelFloor + 1; db < 18; db += 0.37 {
		amplitude := math.Pow(10, db/20) * s.gain
		c := s.class(amplitude * amplitude)
		assert.InDelta(t, db, 20*math.Log10(level(c)), levelStep/2+0.02)
	}
	assert.Equal(t, 0, s.class(0))
	assert.Equal(t, levelCount-1, s.class(math.MaxFloat64))
}

func TestHarmonicsOfAnOverdrivenToneAreNoOtherTones(t *testing.T) {
	s := basicSynth()
	x := s.render()
	for i := range x {
		x[i] = max(-0.1, min(0.1, x[i]))
	}
	_, f, err := survey(t, x, s.fs, 1, SurveyOptions{})
	require.NoError(t, err)
	assert.InDelta(t, 1000, f.Tone, 0.1)
	assert.Empty(t, f.Others)
}

func TestPaddingTellsNothingOfTheContacts(t *testing.T) {
	s := basicSynth()
	for _, lead := range []int{960, 48000, 3 * 48000} {
		x := append(make([]float32, lead), s.render()...)
		clear(x[lead+10000 : lead+10256]) // a dropout
		cfg, ev, _, err := run(x, s.fs, 4800, SurveyOptions{})
		require.NoError(t, err)
		assert.False(t, cfg.ZeroIsOpen)
		want := make([]int, len(s.turns))
		for i := range want {
			want[i] = s.turns[i] + lead
		}
		got := frames(ev)
		if len(got) == len(want)+1 { // the tone that begins may count as a closing
			assert.InDelta(t, lead, got[0], 480)
			got = got[1:]
		}
		assert.Equal(t, want, near(got, want), "%d zeros before the sound", lead)
		faults := 0
		for _, e := range ev {
			if e.Kind == KindFault {
				faults++
			}
		}
		assert.Equal(t, 1, faults, "the dropout, not the padding")
	}
}
