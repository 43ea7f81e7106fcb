package sheet

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestKindOf(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(samples, "*.toml"))
	require.NoError(t, err)
	for _, f := range files {
		data, err := Read(f)
		require.NoError(t, err)
		want := EngineSheet
		if strings.HasPrefix(filepath.Base(f), "dial") {
			want = DialSheet
		}
		got, err := KindOf(f, data)
		require.NoError(t, err)
		assert.Equal(t, want, got, f)
	}
	for text, want := range map[string]Kind{
		"strok = 54\nrod = 110\n":                EngineSheet,
		"name = \"x\"\n[timing]\nvalue = 2\n":    EngineSheet,
		"rod = 1\nunit = \"mm\"\ngraduation = 1": DialSheet,
	} {
		got, err := KindOf("s.toml", []byte(text))
		require.NoError(t, err)
		assert.Equal(t, want, got, text)
	}
	for text, want := range map[string]string{
		"":                      "s.toml: is neither an engine sheet nor a dial sheet",
		"name = \"x\"\n":        "s.toml: is neither",
		"rod = 1\nunit = 2\n":   "s.toml: is neither",
		"name = \"x\nrod = 1\n": "s.toml:1:10: no valid TOML",
	} {
		_, err := KindOf("s.toml", []byte(text))
		assert.ErrorContains(t, err, want, text)
	}
}

// A wrong value hides no other: each of these sheets has every error that is listed, and no other.
func TestNoErrorHidesAnother(t *testing.T) {
	keys := func(err error) (out []string) {
		joined, ok := err.(interface{ Unwrap() []error })
		require.True(t, ok)
		for _, e := range joined.Unwrap() {
			var one *Error
			require.ErrorAs(t, e, &one)
			out = append(out, one.Key)
		}
		return out
	}
	_, err := ParseDial("d.toml", []byte(`unit = "mm"
graduation = 0.01
per_revolution = 1
range = 10
zeroed = "top"
counting = "out"
preload = 11
counter_at_zero = 12
plunger_angle = 70
crown_slope = "5 mm"
plunger_angle_uncertainty = 30
crown_slope_uncertainty = -1
max_error = 11
hysteresis = -1
repeatability = 12
extension_give = 20
max_error_tenth_revolution = 0
`))
	assert.Equal(t, []string{"zeroed", "preload", "counter_at_zero", "plunger_angle", "crown_slope", "plunger_angle_uncertainty", "crown_slope_uncertainty",
		"max_error", "hysteresis", "repeatability", "extension_give", "max_error_tenth_revolution"}, keys(err))
	_, err = ParseEngine("e.toml", []byte(`name = ""
cycle = "two-stroke"
rotation = "left"
stroke = 54
rod = 110
cylinders = ["a", "a", "as_left"]
[timing]
value = "2 mm"
tolerance = "3 mm"
spread = "2.5 mm"
advance = "none"
hold = "wedge"
[breaker]
cam_ratio = 0.5
gap = 3
plate_radius = 1
cam_rotation = "up"
source_coil = "on"
`))
	assert.Equal(t, []string{"name", "rotation", "cylinders", "cylinders", "timing.tolerance", "timing.spread", "timing.hold",
		"breaker.cam_ratio", "breaker.gap", "breaker.plate_radius", "breaker.cam_rotation", "breaker.source_coil"}, keys(err))
	_, err = ParseEngine("e.toml", []byte("[timing]\nvalue = \"2 mm\"\ntolerance = \"-1 mm\"\nspread = \"3 mm\"\nadvance = \"none\"\n[breaker]\n"))
	assert.ErrorContains(t, err, "e.toml:3:1: timing.tolerance: got -1 mm", "without a crank too")
	assert.ErrorContains(t, err, "e.toml:4:1: timing.spread: got 3 mm")
	assert.ErrorContains(t, err, "e.toml:6:2: breaker.gap: is missing")
	assert.NotContains(t, err.Error(), "breaker: is no key")
}
