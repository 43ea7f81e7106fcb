package pump_test

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// beside returns the sound of one seed with a second set of points in the same channel: the same cable, a tone of its own so many dB weaker,
// other instants. The noise is that of the weaker tone.
func (r rig) beside(t testing.TB, seed uint64, tone, down float64) bench.Config {
	c := r.config(t, seed)
	r.tone = tone
	s := r.config(t, seed+50)
	c.Second = &bench.Second{Tone: s.Tone, Level: s.Level - down, Closed: s.Closed, Open: s.Open, Leak: s.Leak, StartOpen: s.StartOpen, Changes: s.Changes}
	c.Noise *= math.Pow(10, -down/20)
	c.Frames = max(c.Frames, s.Frames)
	return c
}

// ofSet returns the analysis as if only that set had been asked for.
func ofSet(a pump.Analysis, set int) pump.Analysis {
	a.Edges = slices.DeleteFunc(slices.Clone(a.Edges), func(e detect.Event) bool { return e.Set != set })
	return a
}

// bothTruths returns the events of both sets.
func bothTruths(t testing.TB, c bench.Config) [2][]bench.Event {
	b, err := bench.New(c)
	require.NoError(t, err)
	return [2][]bench.Event{b.Truth(detect.DefaultHold).Events, b.SecondTruth(detect.DefaultHold).Events}
}

// together moves the second set's changes to those of the first, each up to 0.4 ms before or after.
func together(c *bench.Config) {
	n := min(len(c.Changes), len(c.Second.Changes))
	c.Second.Changes = slices.Clone(c.Changes[:n])
	for i := range n {
		c.Second.Changes[i].At += float64(i%5-2) * 0.0002
	}
}

// coupled lets each set change the other's tone.
func coupled(first, second complex128) func(*bench.Config) {
	return func(c *bench.Config) { c.Second.Coupling = [2]complex128{first, second} }
}

// The tolerances are those of TestEveryOpeningIsFoundAndNoneMadeUp and a fifth.
func TestEveryOpeningOfTwoSetsInOneChannelIsFound(t *testing.T) {
	for _, tt := range []struct {
		name       string
		us         float64 // tolerance, one frame excepted [us]
		tone, down float64 // of the second set
		set        func(*rig)
		more       func(*bench.Config)
	}{
		{"in line", 14, 1630, 0, func(r *rig) {}, nil},
		{"together", 14, 1630, 0, func(r *rig) {}, together},
		{"together, 20 dB weaker", 14, 1630, 20, func(r *rig) {}, together},
		{"octave", 14, 2020, 0, func(r *rig) {}, nil},
		{"in line, 1 kilohm", 24, 1630, 0, func(r *rig) { r.cable = highLoad }, nil},
		{"in line, 1 kilohm, three times, 10 dB weaker", 24, 3030, 10, func(r *rig) { r.cable = highLoad }, nil},
		{"across", 24, 1630, 0, func(r *rig) { r.cable, r.tone = across, 3010 }, nil},
		{"open in the beginning", 14, 1630, 0, func(r *rig) {
			r.more = func(c *bench.Config) { c.StartOpen, c.Changes = true, c.Changes[1:] }
		}, nil},
		{"8 kHz", 48, 1630, 0, func(r *rig) { r.rate = 8000 }, nil},
		{"192 kHz", 14, 1630, 0, func(r *rig) { r.rate = 192000 }, nil},
		{"20 dB", 78, 1630, 0, func(r *rig) { r.snr = 20 }, together},
		{"10 dB", 264, 1630, 0, func(r *rig) { r.snr = 10 }, nil},
		{"across, 10 dB", 264, 1630, 0, func(r *rig) { r.cable, r.tone, r.snr = across, 3010, 10 }, nil},
		{"leak -10 dB against", 14, 1630, 0, func(r *rig) { r.leak, r.phase = 0.32, 0.5 }, nil},
		{"leak -6 dB, 20 dB", 144, 1630, 0, func(r *rig) { r.leak, r.phase, r.snr = 0.5, 0.1, 20 }, nil},
		{"ticks, 10 dB", 264, 1630, 0, func(r *rig) { r.more, r.snr = ticks, 10 }, nil},
		{"hum -20 dB", 120, 1630, 0, func(r *rig) { r.more = hum }, nil},
		{"hum -20 dB, 10 dB weaker", 120, 1630, 10, func(r *rig) { r.more = hum }, nil},
		{"states that differ in phase", 14, 1630, 0, func(r *rig) {}, func(c *bench.Config) {
			c.Open, c.Second.Open = 0.95*(0.6+0.8i)*c.Closed, 0.95*(0.6-0.8i)*c.Second.Closed
		}},
		{"states 1.5 dB apart", 14, 1630, 10, func(r *rig) {}, func(c *bench.Config) {
			c.Open, c.Second.Open = 0.84*(0.6+0.8i)*c.Closed, 0.84*(0.6-0.8i)*c.Second.Closed
		}},
		{"coupled as by the recommended cable in line", 14, 1630, 0, func(r *rig) {}, coupled(0.06, 0.06)},
		{"coupled as by the recommended cable across", 24, 1630, 6, func(r *rig) { r.cable, r.tone = across, 3010 }, coupled(0.07, 0.07)},
		{"coupled, 20 dB", 78, 1630, 0, func(r *rig) { r.snr = 20 }, coupled(-0.08, 0.05+0.05i)},
		{"coupled by 1.2 dB", 48, 1630, 6, func(r *rig) {}, coupled(0.15, 0.15)},
		{"band-limited and coupled", 14, 1630, 0, func(r *rig) { r.more = bandLimited }, coupled(0.06, 0.06)},
		{"band-limited", 14, 1630, 0, func(r *rig) { r.more = bandLimited }, nil},
		{"band-limited, 20 dB weaker", 14, 1630, 20, func(r *rig) { r.more = bandLimited }, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for seed := range uint64(3) {
				r := typical()
				tt.set(&r)
				c := r.beside(t, seed, tt.tone, tt.down)
				if tt.more != nil {
					tt.more(&c)
				}
				opt := r.options()
				opt.Tones = []float64{c.Tone, c.Second.Tone}
				a := analyse(t, opener(t, c), opt)
				for i, want := range bothTruths(t, c) {
					requireEvents(t, want, ofSet(a, i+1), tt.us*1e-6*float64(r.rate)+1, seed)
				}
				require.Len(t, a.Sets, 2)
				assert.InDelta(t, pump.DBFS(a.Sets[0].Levels.Closed)-tt.down-pump.DBFS(a.Sets[1].Levels.Closed), 0, 6, "the cable lets the tones through as differently")
				assert.True(t, slices.IsSortedFunc(a.Edges, func(x, y detect.Event) int { return int(math.Ceil(x.At() - y.At())) }))
			}
		})
	}
}

// One set bounces or chatters while the other stands or does so too.
func TestBounceAndChatterOfTwoSetsInOneChannel(t *testing.T) {
	for name, changes := range map[string]func(uint64) []bench.Change{"bounce": bounced, "chatter": chattering} {
		for _, down := range []float64{0, 20} {
			r := typical()
			r.changes = func(s uint64) []bench.Change {
				return append([]bench.Change{{At: 0.12}, {At: 0.2, Closed: true}}, withoutShort(changes(s), 0.4e-3)...)
			}
			for seed := range uint64(2) {
				c := r.beside(t, seed, 1630, down)
				a := analyse(t, opener(t, c), pump.Options{Tones: []float64{c.Tone, c.Second.Tone}})
				for i, want := range bothTruths(t, c) {
					mine := ofSet(a, i+1)
					requireEvents(t, want, mine, 2, seed)
					for j, e := range mine.Edges {
						assert.Equal(t, want[j].Reclosures, e.Reclosures, "%s, seed %d, set %d, edge %d", name, seed, i+1, j)
					}
				}
			}
		}
	}
}

// Sound cards whose clocks differ, an input with an offset, and one that clips the highest peaks of the sum: for recordings and live.
func TestTwoSetsThroughAPoorInput(t *testing.T) {
	for name, tt := range map[string]struct {
		ppm  float64
		with func(x float32) float32
	}{
		"300 ppm":    {300, func(x float32) float32 { return x }},
		"offset":     {40, func(x float32) float32 { return x + 0.1 }},
		"clipped":    {40, func(x float32) float32 { return max(-0.55, min(0.55, x)) }},
		"compressed": {40, func(x float32) float32 { return x - 0.4*x*x*x }},
	} {
		t.Run(name, func(t *testing.T) {
			r := typical()
			r.seconds = 25
			r.changes = func(s uint64) (out []bench.Change) {
				for at := 2 + float64(s%7)/10; at < 22; at += 5.5 {
					out = append(out, bench.Change{At: at}, bench.Change{At: at + 2.1 + float64(s%3)/10, Closed: true})
				}
				return out
			}
			c := r.beside(t, 3, 1630, 0)
			c.PPM = tt.ppm
			x := soundOf(t, source(t, c))
			for i := range x {
				x[i] = tt.with(x[i])
			}
			a := analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(48000, 1, x), nil }, pump.Options{Tones: []float64{c.Tone, c.Second.Tone}})
			l, events := followPair(t, audiotest.FromSlice(48000, 1, x), pairOptions(c, pump.Options{}))
			for i, want := range bothTruths(t, c) {
				requireEvents(t, want, ofSet(a, i+1), 2, 3) // frames, at 40 dB
				requireEvents(t, want, heardOf(l, events, i+1), 2, 3)
			}
		})
	}
}

// Without a choice two tones that come and go are refused, with what to do.
func TestTwoSetsInOneChannelWantTheirTonesNamed(t *testing.T) {
	c := typical().beside(t, 1, 1700, 0)
	a := analyse(t, opener(t, c), pump.Options{})
	require.ErrorIs(t, a.Refused, detect.ErrManyTones)
	assert.Empty(t, a.Edges)
	assert.Contains(t, a.Hint(), "twice")
}

// Of two tones asked for only one changes.
func TestASecondSetThatNeverOpensIsRefused(t *testing.T) {
	c := typical().beside(t, 1, 1700, 0)
	c.Second.Changes = nil
	a := analyse(t, opener(t, c), pump.Options{Tones: []float64{c.Tone, c.Second.Tone}})
	require.ErrorIs(t, a.Refused, detect.ErrNoChange)
	assert.Empty(t, a.Edges)
}

// recorded returns a recording of testdata/recordings, which other programs made, and its edges.
func recorded(t *testing.T, name string) (sound []float32, want []detect.Event) {
	const folder = "../../../testdata/recordings/"
	r, err := wav.Open(folder + name + ".wav")
	require.NoError(t, err)
	defer r.Close()
	piece := make([]float32, 4096)
	for {
		n, err := r.Read(piece)
		sound = append(sound, piece[:n]...)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
	}
	raw, err := os.ReadFile(folder + name + ".json")
	require.NoError(t, err)
	var truth struct {
		Edges []struct {
			Kind   string
			Sample int64
		}
	}
	require.NoError(t, json.Unmarshal(raw, &truth))
	for _, e := range truth.Edges {
		kind := map[string]detect.Kind{"open": detect.KindOpen, "close": detect.KindClose}[e.Kind]
		want = append(want, detect.Event{Kind: kind, Frame: e.Sample})
	}
	return sound, want
}

// Two recordings that other programs made, each with its truth: a gated tone of 1 kHz at 48 kHz, and keying at 1 kHz and 16 kHz, which played at
// 48 kHz is one of 3 kHz. Their sum has the edges of both.
func TestTheSumOfTwoRecordingsHasTheEdgesOfBoth(t *testing.T) {
	sum, gated := recorded(t, "gated_noise")
	keyed, morse := recorded(t, "morse")
	const from = 20000 // where the keying begins: some of its edges then fall near those of the other
	for i, x := range keyed {
		sum[from+i] += x
	}
	a := analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(48000, 1, sum), nil }, pump.Options{
		Tones: []float64{1000, 3000}, Hold: 5 * time.Millisecond, // three times as fast, a dot is just 20 ms
	})
	require.NoError(t, a.Refused)
	for i, want := range [][]detect.Event{gated, morse} {
		mine := ofSet(a, i+1).Edges
		require.Equal(t, len(want), len(mine))
		for j, e := range mine {
			assert.Equal(t, want[j].Kind, e.Kind)
			if i == 0 {
				assert.InDelta(t, want[j].Frame, e.At(), 1.5, "gated to the frame; the noise, 40 dB below the tone, leaves two frames likely")
			} else {
				assert.InDelta(t, from+want[j].Frame, e.At(), 8, "keying shaped over 1 ms: half of that, as the recording's notes say")
			}
		}
	}
}
