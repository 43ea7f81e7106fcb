package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// scheduled is a recording of 0.8 s at any rate whose contacts change at the same instants [s]. In noise so weak each edge is known to the frame.
func scheduled(fs int) synth {
	s := basicSynth()
	s.fs, s.tone, s.turns, s.n = fs, 1000.3, nil, fs*8/10
	for _, at := range []float64{0.2100517, 0.3311309, 0.4327771, 0.5413303, 0.6120029, 0.7007231} {
		s.turns = append(s.turns, int(math.Ceil(at*float64(fs))))
	}
	return s
}

// Neither gain, polarity, an offset nor a late start changes the contacts: a file may hold samples scaled as integers, or hardly any signal.
func TestGainOffsetAndStartMoveNoEdge(t *testing.T) {
	t.Parallel()
	s := scheduled(16000)
	x := s.render()
	_, ev, _, err := run(x, s.fs, 4096, SurveyOptions{})
	require.NoError(t, err)
	want := edges(ev)
	require.Len(t, want, len(s.turns))
	rapid.Check(t, func(t *rapid.T) {
		gain := math.Pow(10, rapid.Float64Range(-3, 3).Draw(t, "decades"))
		if rapid.Bool().Draw(t, "polarity") {
			gain = -gain
		}
		dc := rapid.Float64Range(-0.5, 0.5).Draw(t, "dc") // twice the tone
		before := rapid.IntRange(0, 5000).Draw(t, "before")
		early := s // the same tone, begun earlier
		early.n, early.turns, early.seed = before, nil, 2
		early.phase -= 2 * math.Pi * s.tone * float64(before) / float64(s.fs)
		y := append(early.render(), x...)
		for i, v := range y {
			y[i] = float32(gain * (float64(v) + dc))
		}
		_, ev, _, err := run(y, s.fs, 4096, SurveyOptions{})
		require.NoError(t, err)
		got := edges(ev)
		require.Len(t, got, len(want))
		for i, e := range got {
			require.Equal(t, want[i].Kind, e.Kind)
			require.InDelta(t, want[i].At()+float64(before), e.At(), 1) // an edge near a zero of the tone may fall either way
		}
	})
}

// The same instants at another rate, with noise of its own, are the same within what is stated. A gate's edge is told by its first frame, half
// a frame after the instant on average; the uncertainty holds the whole frame, evenly spread. Six times the uncertainty, for the noise is new each
// time and hundreds of edges are tried: no one of them may fail by chance.
func TestTheRateMovesNoEdge(t *testing.T) {
	t.Parallel()
	instants := func(t require.TestingT, s synth) (at, u []float64) {
		_, ev, _, err := run(s.render(), s.fs, 4096, SurveyOptions{})
		require.NoError(t, err)
		for _, e := range edges(ev) {
			at, u = append(at, (e.At()-0.5)/float64(s.fs)), append(u, e.Uncertainty/float64(s.fs))
		}
		require.Len(t, at, len(s.turns))
		return at, u
	}
	want, wantU := instants(t, scheduled(48000))
	rapid.Check(t, func(t *rapid.T) {
		s := scheduled(rapid.SampledFrom([]int{8000, 16000, 22050, 44100, 96000}).Draw(t, "rate"))
		s.seed = rapid.Uint64().Draw(t, "seed")
		s.phase = rapid.Float64Range(0, 6).Draw(t, "phase")
		s.sigma = snr(0.25, rapid.Float64Range(20, 60).Draw(t, "SNR"))
		got, u := instants(t, s)
		for i := range got {
			require.InDelta(t, want[i], got[i], 6*math.Hypot(u[i], wantU[i]))
		}
	})
}

// Cutting the sound into blocks changes nothing, neither in the frames of the decisions nor in any other field: in noise, with bounce, with
// channels beside it, and where samples are lost.
func TestBlocksChangeNothingInNoise(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := basicSynth()
		s.sigma = snr(0.25, rapid.Float64Range(0, 30).Draw(t, "SNR"))
		s.turns, s.n = []int{6000, 11000, 14000, 14030, 14050, 14070, 14200, 20000}, 26000
		channels := rapid.IntRange(1, 3).Draw(t, "channels")
		x := make([]float32, channels*s.n)
		for i, v := range s.render() {
			x[channels*i+channels-1] = v
		}
		cfg := s.config()
		cfg.Channels, cfg.Channel = channels, channels-1
		lost := rapid.IntRange(0, s.n).Draw(t, "lost at")
		feed := func(size func() int) (ev []Event) {
			d, err := New(cfg)
			require.NoError(t, err)
			for at := 0; at < s.n; {
				to := min(at+size(), s.n)
				if at < lost {
					to = min(to, lost)
				}
				ev = d.Process(ev, x[at*channels:to*channels])
				if at = to; at == lost {
					ev = d.Skip(ev, 777)
				}
			}
			return d.Flush(ev)
		}
		want := feed(func() int { return s.n })
		require.NotEmpty(t, want)
		most := rapid.IntRange(1, 5000).Draw(t, "most")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "blocks"), 1))
		require.Equal(t, want, feed(func() int { return 1 + rng.IntN(most) }))
	})
}

// After Reset a Detector is as new, whatever it has heard.
func TestResetForgetsAnything(t *testing.T) {
	t.Parallel()
	s := basicSynth()
	s.turns, s.n = []int{6000, 11000, 14000, 14030, 14050, 20000}, 26000
	x := s.render()
	cfg := s.config()
	cfg.Profile.Hum = Hum{Freq: 50, Harmonics: []complex128{0.01, 0, 0.005}}
	want, d, err := detectAll(cfg, x, 1000)
	require.NoError(t, err)
	require.Len(t, edges(want), 4)
	levels, model := d.Levels(), d.EdgeModel()
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		for range rapid.IntRange(1, 5).Draw(t, "pieces") {
			long := 1 + rng.IntN(6000)
			y := make([]float32, long)
			for i := range y {
				switch rng.IntN(4) {
				case 0:
					y[i] = float32(rng.NormFloat64())
				case 1:
					y[i] = x[i]
				default:
					y[i] = 2 * x[min(len(x)-1, 11000+i)]
				}
			}
			if rng.IntN(3) == 0 {
				y[rng.IntN(long)] = float32(math.Inf(1))
			}
			d.Process(nil, y)
			if rng.IntN(3) == 0 {
				d.Skip(nil, int64(rng.IntN(1000)))
			}
		}
		if rapid.Bool().Draw(t, "flush") {
			d.Flush(nil)
		}
		d.Reset()
		state, since := d.State()
		require.Equal(t, Unknown, state)
		require.Zero(t, since)
		require.Zero(t, d.Frame())
		require.Equal(t, want, d.Flush(d.Process(nil, x)))
		require.Equal(t, levels, d.Levels())
		require.Equal(t, model, d.EdgeModel())
	})
}
