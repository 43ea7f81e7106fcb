package cli_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/cli"
)

type edges struct {
	SampleRate float64 `json:"sample_rate"`
	Edges      []struct {
		Kind   string  `json:"kind"`
		Sample float64 `json:"sample"`
	} `json:"edges"`
	Caveats []struct {
		Code string `json:"code"`
	} `json:"caveats"`
}

// Sound that no code of ours made. The edges of morse.wav follow from ITU-R M.1677-1 (dash 3 dots, gaps 1 and 3: seen in a
// citing text; a dot lasts 1.2 s / wpm: from memory), those of the others from the lengths that sox was told.
func TestReviewOfRecordingsByOthers(t *testing.T) {
	for name, tolerance := range map[string]float64{
		"gated":       1e-6,       // one hard edge a time, in digital silence: exact
		"gated_anew":  1e-6,       // the same, each closing at a phase of its own
		"gated_noise": 1.5 / 48e3, // 40 dB above the noise a frame may be missed
		"morse":       0.5e-3,     // lossy codec, and ramps of the generator
	} {
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile(filepath.Join("../../../testdata/recordings", name+".json"))
			require.NoError(t, err)
			var truth edges
			require.NoError(t, json.Unmarshal(raw, &truth))
			require.NotEmpty(t, truth.Edges)

			code, got, stderr := review(t, name+".wav")
			require.Equal(t, cli.ExitOK, code, stderr)
			require.Len(t, got.Edges, len(truth.Edges))
			for i, want := range truth.Edges {
				assert.Equal(t, want.Kind, got.Edges[i].Kind, "edge %d", i)
				off := (got.Edges[i].Sample - want.Sample) / truth.SampleRate
				assert.LessOrEqual(t, math.Abs(off), tolerance, "edge %d", i)
			}
		})
	}
}

func TestReviewRefusesOtherSounds(t *testing.T) {
	for _, name := range []string{"voice", "strings", "steady", "silence"} {
		code, got, stderr := review(t, name+".wav")
		assert.Equal(t, cli.ExitInconclusive, code, name)
		assert.Empty(t, got.Edges, name)
		assert.NotEmpty(t, got.Caveats, name)
		assert.Contains(t, stderr, "breakcue: error: ", name)
		assert.Contains(t, stderr, "breakcue: hint: ", name)
	}
}

func review(t *testing.T, file string) (code int, got edges, stderr string) {
	var out, errs bytes.Buffer
	env := cli.Env{In: strings.NewReader(""), Out: &out, Err: &errs, Getenv: func(string) string { return "" }}
	code = cli.Main(t.Context(), []string{"review", "--json", filepath.Join("../../../testdata/recordings", file)}, env)
	require.NoError(t, json.Unmarshal(out.Bytes(), &got), errs.String())
	return code, got, errs.String()
}
