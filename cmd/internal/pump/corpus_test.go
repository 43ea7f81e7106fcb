package pump_test

import (
	"io"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
	"breakcue/testdata/corpus"
)

// render makes a recording of the corpus that needs no other program.
func render(t *testing.T, name string) *corpus.Take {
	r, err := corpus.Find(name)
	require.NoError(t, err)
	take, err := r.Render()
	require.NoError(t, err)
	return take
}

// Nothing but the wiring is given. The bounds are the goals for such sound. Where they were set for a thousand edges and the limit is one edge in 150
// off by one frame (20.8 us), as in the noise of 40 dB, 120 edges scatter more: 5 us are six edges.
func TestQuickRecordingsOfTheCorpus(t *testing.T) {
	for _, tt := range []struct {
		name string
		rms  float64 // [us]
	}{
		{"clean", 5}, {"across", 5}, {"silent", 5}, {"leak14", 5}, {"leak6", 5}, {"turned", 5}, {"hum60", 5}, {"spikes", 5}, {"dropout", 5}, {"tone980", 5},
		{"stereo", 5}, {"gain12", 30}, {"ramp2", 40}, {"bounce", 50}, {"old", 125}, // 8 kHz: one frame
		{"late", 5},
	} {
		t.Run(tt.name, func(t *testing.T) {
			take := render(t, tt.name)
			truth := take.Truth
			x, channels := take.Samples(), take.Channels
			var opt pump.Options
			if truth.Wiring == "shunt" {
				opt.Wiring = detect.Shunt
			}
			a := analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(truth.Rate, channels, x), nil }, opt)
			require.NoError(t, a.Refused)
			var found []corpus.Edge
			for _, e := range a.Edges {
				found = append(found, corpus.Edge{Kind: e.Kind.String(), Sample: e.At()})
			}
			s := truth.Match(found)
			assert.Zero(t, s.Missed)
			assert.Zero(t, s.False)
			assert.LessOrEqual(t, 1e6*s.RMS(), tt.rms)
			covered := 0
			for _, p := range s.Pairs {
				if math.Abs(p.Error)*float64(truth.Rate) <= 2*a.Edges[p.Got].Uncertainty {
					covered++
				}
			}
			assert.GreaterOrEqual(t, float64(covered), 0.95*float64(len(s.Pairs)), "errors within twice the standard uncertainty")
			assert.Equal(t, truth.Channel, a.Config.Channel)
		})
	}
}

// The rule: one to one for each kind, the closest first, within 10 ms; the first 100 ms do not count, nor what is found beyond the edges in a stretch to
// ignore. Rate 1000: a frame is 1 ms.
func TestMatch(t *testing.T) {
	open := func(at ...float64) (list []corpus.Edge) {
		for _, s := range at {
			list = append(list, corpus.Edge{Kind: corpus.Open, Sample: s})
		}
		return list
	}
	shut := func(at float64) corpus.Edge { return corpus.Edge{Kind: corpus.Close, Sample: at} }
	for _, tt := range []struct {
		name                          string
		truth                         []corpus.Edge
		got                           []corpus.Edge
		found, missed, wrong, ignored int
		bias, rms                     float64 // [s]
	}{
		{"exact", open(500, 900), open(500, 900), 2, 0, 0, 0, 0, 0},
		{"late and early", open(500, 900), open(503, 899), 2, 0, 0, 0, 0.001, math.Sqrt(5) / 1000},
		{"as far as may be", open(500, 900), open(510, 890), 2, 0, 0, 0, 0, 0.010},
		{"too far", open(500), open(510.5), 0, 1, 1, 0, math.NaN(), math.NaN()},
		{"the other kind", open(500), []corpus.Edge{shut(500)}, 0, 1, 1, 0, math.NaN(), math.NaN()},
		{"two for one", open(500), open(496, 503), 1, 0, 1, 0, 0.003, 0.003},
		{"one for two", open(500, 506), open(504), 1, 1, 0, 0, -0.002, 0.002},
		// 507 is closest to 506, which leaves 515 without a partner, though 500-507 and 506-515 would have served both.
		{"closest first", open(500, 506), open(507, 515), 1, 1, 1, 0, 0.001, 0.001},
		{"more in a stretch to ignore", open(700), open(700, 703, 705), 1, 0, 0, 2, 0, 0},
		{"at its ends", nil, []corpus.Edge{shut(699), shut(709), shut(709.5)}, 0, 0, 1, 2, math.NaN(), math.NaN()},
		{"too soon", open(105), open(99, 99.5), 0, 1, 0, 0, math.NaN(), math.NaN()},
		{"no number", open(500), open(math.NaN()), 0, 1, 1, 0, math.NaN(), math.NaN()},
		{"not in order", open(900, 500), open(501, 901), 2, 0, 0, 0, 0.001, 0.001},
		{"nothing", nil, nil, 0, 0, 0, 0, math.NaN(), math.NaN()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := corpus.Truth{Rate: 1000, Edges: tt.truth, Ignore: [][2]float64{{699, 709}}}.Match(tt.got)
			assert.Equal(t, [4]int{tt.found, tt.missed, tt.wrong, tt.ignored}, [4]int{len(s.Pairs), s.Missed, s.False, s.Ignored})
			for _, v := range [][2]float64{{tt.bias, s.Bias()}, {tt.rms, s.RMS()}} {
				if math.IsNaN(v[0]) {
					assert.True(t, math.IsNaN(v[1]))
				} else {
					assert.InDelta(t, v[0], v[1], 1e-12) // rounding
				}
			}
			for _, p := range s.Pairs {
				assert.Equal(t, tt.truth[p.True].Kind, tt.got[p.Got].Kind)
				assert.InDelta(t, (tt.got[p.Got].Sample-tt.truth[p.True].Sample)/1000, p.Error, 1e-12) // rounding
			}
		})
	}
}

// Each recording is what its truth says: edges in turn, the tone loud and quiet as they say, the noise as strong as said.
func TestCorpusKeepsItsWord(t *testing.T) {
	for _, name := range []string{"clean", "across", "leak14", "spikes10", "old", "stereo", "tone3010"} {
		t.Run(name, func(t *testing.T) {
			take := render(t, name)
			truth, channels := take.Truth, take.Channels
			x := take.Samples()
			require.Len(t, x, int(truth.Frames)*channels)
			assert.Equal(t, x, render(t, name).Samples(), "the same each time")
			var loud, quiet, noise, heard float64
			for i, e := range truth.Edges {
				assert.Equal(t, []string{corpus.Open, corpus.Close}[i%2], e.Kind)
				end := float64(truth.Frames)
				if i+1 < len(truth.Edges) {
					end = truth.Edges[i+1].Sample
				}
				require.Greater(t, end, e.Sample+0.03*float64(truth.Rate))
				level, rest := tonePart(x, channels, truth, int(e.Sample), int(end))
				if (e.Kind == corpus.Close) != (truth.Wiring == "shunt") {
					loud += level * level
					noise += rest
					heard++
				} else {
					quiet += level * level
				}
			}
			// Power of the tone in 60 stretches of 2400 frames and more: 0.2 dB is far more than the noise moves it; at 10 dB it leaves -40 dB where nothing is.
			assert.InDelta(t, truth.Left, math.Sqrt(quiet/loud), 0.02)
			if name != "spikes10" { // spikes are no white noise
				assert.InDelta(t, truth.SNR, 10*math.Log10(loud/2/noise), 0.2)
			}
			assert.NotZero(t, heard)
		})
	}
}

// tonePart fits the tone to frames from..to-1 of the channel that has it, and returns its amplitude and the mean square of what it does not explain.
func tonePart(x []float32, channels int, truth corpus.Truth, from, to int) (level, rest float64) {
	var xc, xs, cc, cs, ss, xx float64
	for i := from; i < to; i++ {
		v := float64(x[i*channels+truth.Channel])
		s, c := math.Sincos(2 * math.Pi * truth.Tone * float64(i) / float64(truth.Rate))
		xc, xs, cc, cs, ss, xx = xc+v*c, xs+v*s, cc+c*c, cs+c*s, ss+s*s, xx+v*v
	}
	det := cc*ss - cs*cs
	a, b := (xc*ss-xs*cs)/det, (xs*cc-xc*cs)/det
	return math.Hypot(a, b), (xx - a*xc - b*xs) / float64(to-from)
}

// A file holds the samples of the recording, as a reader of its own reads them.
func TestCorpusAsFiles(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{"stereo", "old"} {
		take := render(t, name)
		path, err := take.WriteFiles(folder)
		require.NoError(t, err)
		assert.Equal(t, filepath.Join(folder, name+".wav"), path)
		assert.FileExists(t, filepath.Join(folder, name+".json"))
		r, err := wav.Open(path)
		require.NoError(t, err)
		assert.Equal(t, take.Truth.Rate, r.Format().SampleRate)
		var got []float32
		buf := make([]float32, 1<<15)
		for {
			n, err := r.Read(buf)
			if err != nil {
				require.ErrorIs(t, err, io.EOF)
				break
			}
			got = append(got, buf[:n*take.Channels]...)
		}
		require.NoError(t, r.Close())
		assert.Equal(t, render(t, name).Samples(), got)
	}
	_, err := corpus.Find("nothing")
	require.ErrorContains(t, err, `"nothing"`)
}
