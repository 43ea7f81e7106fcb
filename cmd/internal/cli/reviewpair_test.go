//go:build unix

package cli

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/bench"
)

// Two sets of points in one channel: the edges of each, its levels beside the edges, and the same for people.
func TestReviewOfTwoSetsInOneChannel(t *testing.T) {
	src, err := bench.New(bench.Config{SampleRate: 48000, Channels: 1, Frames: 96000, Tone: 1000, Level: -12, Closed: 1, Noise: 1e-3,
		Changes: []bench.Change{{At: 0.5}, {At: 0.9, Closed: true}},
		Second:  &bench.Second{Tone: 1700, Level: -20, Closed: 1, Open: 0.1, Changes: []bench.Change{{At: 0.6}, {At: 1, Closed: true}, {At: 1.5}}}})
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "both.wav")
	require.NoError(t, copyTo(file, src))
	run := func(more ...string) (code int, out, errs string) {
		var o, e bytes.Buffer
		code = Main(t.Context(), append([]string{"review", file}, more...),
			Env{In: strings.NewReader(""), Out: &o, Err: &e, Getenv: func(string) string { return "" }})
		return code, o.String(), e.String()
	}

	code, out, errs := run("--tone", "1000", "--tone", "1700", "--json")
	require.Equal(t, ExitOK, code, errs)
	var got struct {
		ToneHz float64 `json:"tone_hz"`
		Levels struct {
			Closed float64 `json:"closed_dbfs"`
		} `json:"levels"`
		Sets []struct {
			Set, Channel int
			ToneHz       float64 `json:"tone_hz"`
			Levels       struct {
				Closed float64 `json:"closed_dbfs"`
				Open   float64 `json:"open_dbfs"`
			} `json:"levels"`
		} `json:"sets"`
		Edges []struct {
			Kind   string
			Set    int
			Sample float64
		} `json:"edges"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Len(t, got.Edges, 5)
	for i, want := range []struct {
		kind   string
		set    int
		sample float64
	}{{"open", 1, 24000}, {"open", 2, 28800}, {"close", 1, 43200}, {"close", 2, 48000}, {"open", 2, 72000}} {
		assert.Equal(t, want.kind, got.Edges[i].Kind)
		assert.Equal(t, want.set, got.Edges[i].Set)
		assert.InDelta(t, want.sample, got.Edges[i].Sample, 2, "frames; a tone that passes through 0 hides an edge for one or two")
	}
	assert.InDelta(t, 1000, got.ToneHz, 1, "the first set's, as for one")
	assert.InDelta(t, -12, got.Levels.Closed, 0.1)
	require.Len(t, got.Sets, 2)
	assert.Equal(t, 2, got.Sets[1].Set)
	assert.Equal(t, 1, got.Sets[1].Channel)
	assert.InDelta(t, 1700, got.Sets[1].ToneHz, 1)
	assert.InDelta(t, -20, got.Sets[1].Levels.Closed, 0.1)
	assert.InDelta(t, -40, got.Sets[1].Levels.Open, 0.5, "10 times less; the noise adds a little")

	code, out, errs = run("--tone", "1000", "--tone", "1700")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, out, "set 2, channel 1: tone 1700.0 Hz; points closed -20.0 dBFS")
	assert.Contains(t, out, "3 openings, 2 closings")

	code, out, errs = run("--json")
	require.Equal(t, ExitInconclusive, code)
	assert.NotContains(t, out, `"sets"`)
	assert.Contains(t, errs, "give it twice for two sets of points")
}
