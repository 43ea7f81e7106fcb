package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func run(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	env := OSEnv()
	env.In, env.Out, env.Err, env.InTTY, env.OutTTY = &bytes.Buffer{}, &o, &e, false, false
	code = Main(context.Background(), args, env)
	return code, o.String(), e.String()
}

func TestConvertIsNotRounded(t *testing.T) {
	// Computed independently with mpmath, 12 digits and more.
	for _, tc := range []struct {
		args                 []string
		travel, angle, slope float64
		stroke               float64
	}{
		{[]string{"2mm", "--stroke", "54", "--rod", "110"}, 2, 19.9161672822138, 0.1977003717, 54},
		{[]string{"2,5 mm", "--stroke", "54mm", "--rod", "110"}, 2.5, 22.3113937469248, 0.2197033348, 54},
		{[]string{"2mm", "--stroke", "54", "--rod", "110", "--pin-offset", "1.5"}, 2, 19.9062581963073, 0, 54.0053433988281},
		{[]string{"20deg", "--stroke", "54", "--rod", "110", "--pin-offset=1,5"}, 2.0185916662787, 20, 0, 54.0053433988281},
		{[]string{"20deg", "--engine", "../../../testdata/sheets/twin.toml"}, 2.0166064340579, 20, 0, 54},
	} {
		code, out, errs := run(append([]string{"convert", "--json"}, tc.args...)...)
		require.Equal(t, ExitOK, code, "%v: %s", tc.args, errs)
		var got conversion
		require.NoError(t, json.Unmarshal([]byte(out), &got))
		assert.Equal(t, "breakcue.convert/1", got.Schema)
		assert.InDelta(t, tc.travel, got.TravelMM, 1e-10, "%v", tc.args) // the table's digits
		assert.InDelta(t, tc.travel/25.4, got.TravelIn, 1e-11)
		require.NotNil(t, got.AngleDeg)
		assert.InDelta(t, tc.angle, *got.AngleDeg, 1e-9, "%v", tc.args)
		assert.InDelta(t, tc.stroke, *got.TrueStrokeMM, 1e-10)
		if tc.slope != 0 {
			assert.InDelta(t, tc.slope, *got.Slope, 1e-10, "the table's ten digits")
		}
	}
}

// Every number is there unrounded; what was not asked for is null.
func TestConvertCarriesUncertainty(t *testing.T) {
	convert := func(args ...string) (c conversion) {
		code, out, errs := run(append([]string{"convert", "--json"}, args...)...)
		require.Equal(t, ExitOK, code, "%v: %s", args, errs)
		require.NoError(t, json.Unmarshal([]byte(out), &c))
		return c
	}
	c := convert("2mm±0.02mm", "--stroke", "54", "--rod", "110±0.5")
	assert.InDelta(t, 0.02, *c.TravelUMM, 1e-12, "rounding only")
	assert.InDelta(t, 0.02/25.4, *c.TravelUIn, 1e-12, "rounding only")
	assert.InDelta(t, 0.95, *c.Coverage, 1e-12, "rounding only")
	require.Len(t, c.Parts, 2)
	// The slope at 2 mm was computed independently with mpmath; u/slope is the law of propagation (JCGM 100:2008, 5.1.2).
	assert.InEpsilon(t, 0.02/0.1977003717, c.Parts[0].U, 1e-4, "the bend of the curve adds (u/travel)²")
	assert.InDelta(t, math.Hypot(c.Parts[0].U, c.Parts[1].U), *c.AngleUDeg, 1e-12, "rounding only")
	assert.Equal(t, "deg", c.Parts[0].Unit)

	c = convert("20deg±0.3", "--stroke", "54", "--rod", "110")
	assert.Equal(t, "mm", c.Parts[0].Unit)
	assert.InDelta(t, 20-1.959964*0.3, c.AngleInterval[0], 1e-6, "the factor is printed to six digits")
	c = convert("2mm±0.02mm")
	assert.Nil(t, c.AngleUDeg)
	assert.NotNil(t, c.TravelUMM)
	c = convert("2mm", "--stroke", "54", "--rod", "110")
	assert.Equal(t, uncertainConversion{}, c.uncertainConversion)
}

// What convert prints with --json, typed again, is taken: the true stroke and the angles of bottom dead centre.
func TestConvertTakesItsOwnNumbers(t *testing.T) {
	for _, crank := range [][]string{
		{"--stroke", "47.7", "--rod", "110"}, {"--stroke", "58", "--rod", "105.3", "--pin-offset", "1.5"}, {"--stroke", "2.126in", "--rod", "4.33in"},
	} {
		convert := func(value string) (c conversion) {
			code, out, errs := run(append(append([]string{"convert", "--json"}, crank...), "--", value)...)
			require.Equal(t, ExitOK, code, "%s: %s", value, errs)
			require.NoError(t, json.Unmarshal([]byte(out), &c))
			return c
		}
		full := *convert("2mm").TrueStrokeMM
		bottom := convert(fmt.Sprint(full) + "mm")
		assert.InDelta(t, full, bottom.TravelMM, 1e-10, "rounding only, here and below")
		inches := convert(fmt.Sprint(bottom.TravelIn) + "in")
		assert.InDelta(t, *bottom.AngleDeg, *inches.AngleDeg, 1e-4, "at bottom dead centre the angle takes the root of the rounding")
		assert.InDelta(t, full, convert(fmt.Sprint(*bottom.AngleDeg)+"deg").TravelMM, 1e-10)
		assert.InDelta(t, full, convert(fmt.Sprint(*bottom.AngleDeg-360)+"deg").TravelMM, 1e-10)
	}
}
