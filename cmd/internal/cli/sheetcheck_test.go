package cli_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/cli"
)

// inSamples runs breakcue in the folder of the sample sheets, and returns what it printed.
func inSamples(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	back, err := os.Getwd()
	require.NoError(t, err)
	require.NoError(t, os.Chdir(filepath.Join("..", "..", "..", "testdata", "sheets")))
	defer func() { assert.NoError(t, os.Chdir(back)) }()
	var stdout, stderr bytes.Buffer
	env := cli.Env{In: &bytes.Buffer{}, Out: &stdout, Err: &stderr, Getenv: func(string) string { return "" }}
	code = cli.Main(context.Background(), args, env)
	return code, stdout.String(), stderr.String()
}

// What is said of the sample sheets is kept in a file, which -update renews: every change of a word or a number shows.
func TestTheSampleSheetsExplained(t *testing.T) {
	golden, err := filepath.Abs(filepath.Join("testdata", "sheets.golden"))
	require.NoError(t, err)
	samples := filepath.Join("..", "..", "..", "testdata", "sheets")
	engines, others := []string{"sheet", "check", "dial.toml"}, []string{"sheet", "check", "twin.toml"}
	files, err := filepath.Glob(filepath.Join(samples, "*.toml"))
	require.NoError(t, err)
	for _, f := range files {
		switch name := filepath.Base(f); {
		case name == "dial.toml":
		case strings.HasPrefix(name, "dial"):
			others = append(others, name)
		default:
			engines = append(engines, name)
		}
	}
	got := ""
	for _, args := range [][]string{engines, others} {
		code, out, errs := inSamples(t, args...)
		assert.Zero(t, code)
		assert.Empty(t, errs)
		got += out
	}
	if *update {
		require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.Equal(t, string(want), got)
}

// The figures of the samples, computed independently in Python with the slider-crank formula and bisection.
func TestTheFiguresOfTheSampleSheets(t *testing.T) {
	for _, tc := range []struct {
		file                             string
		travel, angle, early, late, each float64
	}{
		{"punt.toml", 2.006600, 22.621546, 23.199374, 22.029839, 0.173798},
		{"twin.toml", 2.000000, 19.916167, 20.416113, 19.404175, 0.197700},
		{"twin-half.toml", 2.400000, 19.310723, 19.914480, 18.688678, 0.244854},
		{"single.toml", 7.395729, 30.000000, 31.000000, 29.000000, 0.474968},
		{"magneto.toml", 1.700000, 20.288497, 20.886909, 19.673122, 0.164843},
		{"retard.toml", 3.322816, 24.000000, 25.500000, 22.500000, 0.270588},
		{"four.toml", 0.492615, 8.000000, 9.000000, 7.000000, 0.122836},
	} {
		t.Run(tc.file, func(t *testing.T) {
			code, out, errs := inSamples(t, "sheet", "check", tc.file, "--json")
			require.Zero(t, code, errs)
			var got struct {
				Schema string
				OK     bool
				Sheets []struct {
					Engine struct {
						Mark  place
						Early place   `json:"early_end"`
						Late  place   `json:"late_end"`
						Slope float64 `json:"slope_mm_per_deg"`
					}
				}
			}
			require.NoError(t, json.Unmarshal([]byte(out), &got))
			assert.Equal(t, "breakcue.sheet-check/1", got.Schema)
			assert.True(t, got.OK)
			require.Len(t, got.Sheets, 1)
			e := got.Sheets[0].Engine
			// The figures beside have six decimals.
			assert.InDelta(t, tc.travel, e.Mark.Travel, 1e-6)
			assert.InDelta(t, tc.angle, e.Mark.Angle, 1e-6)
			assert.InDelta(t, tc.early, e.Early.Angle, 1e-6)
			assert.InDelta(t, tc.late, e.Late.Angle, 1e-6)
			assert.InDelta(t, tc.each, e.Slope, 1e-6)
		})
	}
}

type place struct {
	Travel float64 `json:"travel_mm"`
	Angle  float64 `json:"angle_deg"`
}
