package sheet

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing"
)

const samples = "../../testdata/sheets"

func TestSampleEngines(t *testing.T) {
	twin, err := LoadEngine(filepath.Join(samples, "twin.toml"))
	require.NoError(t, err)
	assert.Equal(t, "Lathe-shed twin", twin.Name)
	assert.Equal(t, []string{"left", "right"}, twin.Cylinders)
	assert.Equal(t, TwoStroke, twin.Cycle)
	assert.Equal(t, timing.Clockwise, twin.Rotation)
	assert.Equal(t, timing.Length(54), twin.Crank.Stroke())
	assert.Equal(t, timing.Length(110), twin.Crank.Rod())
	assert.Equal(t, timing.Spec{Value: timing.Quantity{Value: 2, Unit: timing.Millimetre}, Tolerance: timing.Quantity{Value: 0.1, Unit: timing.Millimetre}}, twin.Timing)
	// 2 mm ↔ 19.9161672822138° with 2r 54, l 110: computed independently with mpmath.
	assert.InDelta(t, 19.9161672822138, float64(twin.Target.Angle), 1e-9)
	assert.Equal(t, timing.Breaker{CamRatio: 1, Cam: timing.Clockwise, Gap: 0.35, PlateRadius: 30, Sets: 2}, twin.Breaker)

	single, err := LoadEngine(filepath.Join(samples, "single.toml"))
	require.NoError(t, err)
	assert.Equal(t, timing.Length(1.5), single.Crank.PinOffset())
	assert.Equal(t, timing.AdvanceFull, single.Timing.Advance)
	assert.Equal(t, []timing.Unit{timing.Millimetre, timing.Thou}, []timing.Unit{twin.GapUnit, single.GapUnit})
	assert.InDelta(t, 0.381, float64(single.Breaker.Gap), 1e-12, "15 thou exactly; rounding only")
	assert.Zero(t, single.Breaker.PlateRadius)
}

func TestSampleDials(t *testing.T) {
	for file, want := range map[string]timing.Dial{
		"dial.toml": {Unit: timing.Millimetre, Graduation: 0.01, PerRevolution: 1, Range: 10, MaxError: 0.015, Hysteresis: 0.003, Repeatability: 0.003},
		"dial-mark.toml": {Unit: timing.Millimetre, Graduation: 0.01, PerRevolution: 1, Range: 10, Zero: timing.ZeroMark, Counting: timing.CountsIn, CounterAtZero: 4,
			MaxError: 0.015, Hysteresis: 0.003, Repeatability: 0.003},
		"dial-inclined.toml": {Unit: timing.Millimetre, Graduation: 0.01, PerRevolution: 1, Range: 10, Counting: timing.CountsIn, CounterAtZero: 6,
			PlungerAngle: 20, CrownSlope: 5, PlungerAngleU: 1, CrownSlopeU: 2, MaxError: 0.02, Hysteresis: 0.004, Repeatability: 0.003},
		"dial-inch.toml": {Unit: timing.Inch, Graduation: 0.0254, PerRevolution: 2.54, Range: 12.7, MaxError: 0.025, Hysteresis: 0.005, Repeatability: 0.004},
	} {
		d, err := LoadDial(filepath.Join(samples, file))
		require.NoError(t, err, file)
		assert.NotEmpty(t, d.Name)
		assert.InDelta(t, float64(want.Graduation), float64(d.Graduation), 1e-12, file) // rounding only, here and below
		assert.InDelta(t, float64(want.PerRevolution), float64(d.PerRevolution), 1e-12, file)
		d.Graduation, d.PerRevolution = want.Graduation, want.PerRevolution
		assert.Equal(t, want, d.Dial, file)
	}
}

// Every sample must be read by this package, so that none rots.
func TestEverySampleIsRead(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(samples, "*.toml"))
	require.NoError(t, err)
	assert.NotEmpty(t, files)
	for _, f := range files {
		if strings.HasPrefix(filepath.Base(f), "dial") {
			_, err = LoadDial(f)
		} else {
			_, err = LoadEngine(f)
		}
		assert.NoError(t, err, f)
	}
}

// The README has a table of the keys of each sheet: these, and no others.
func TestTheReadmeNamesEveryKey(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, text, ok := strings.Cut(string(readme), "| engine sheet |")
	require.True(t, ok)
	engine, dial, ok := strings.Cut(text, "| dial sheet |")
	require.True(t, ok)
	for name, tc := range map[string]struct {
		table string
		parse func(file string, data []byte) error
	}{
		"engine": {engine, func(file string, data []byte) error { _, err := ParseEngine(file, data); return err }},
		"dial":   {dial, func(file string, data []byte) error { _, err := ParseDial(file, data); return err }},
	} {
		// The error of an unknown key lists those that there are.
		_, list, ok := strings.Cut(tc.parse("s", []byte("no_such_key = 1")).Error(), "is no key of this sheet, want one of ")
		require.True(t, ok)
		list, _, _ = strings.Cut(list, "\n")
		var told []string
		for _, line := range regexp.MustCompile("(?m)^\\| (?:`\\[(\\w+)\\]` )?(`[^|]*`) \\|").FindAllStringSubmatch(tc.table, -1) {
			for key := range strings.SplitSeq(line[2], ", ") {
				told = append(told, strings.TrimPrefix(line[1]+"."+strings.Trim(key, "`"), "."))
			}
		}
		assert.ElementsMatch(t, strings.Split(list, ", "), told, name)
	}
}

// change returns a sample with one line replaced; an empty line takes it out.
func change(t *testing.T, file, line, by string) []byte {
	data, err := os.ReadFile(filepath.Join(samples, file))
	require.NoError(t, err)
	require.Contains(t, string(data), line)
	return []byte(strings.Replace(string(data), line, by, 1))
}

func TestEngineRefuses(t *testing.T) {
	for _, tc := range []struct{ line, by, want string }{
		{`stroke = "54 mm"`, `strok = "54 mm"`, "e.toml:5:1: strok: is no key of this sheet, want one of breaker.cam_ratio"},
		{`stroke = "54 mm"`, ``, "e.toml: stroke: is missing, want a length such as"},
		{`tolerance = "0.1 mm"`, ``, "e.toml:9:2: timing.tolerance: is missing, want text with a unit"},
		{`stroke = "54 mm"`, `stroke = nan`, "e.toml:5:1: stroke: got NaN, want a length"},
		{`stroke = "54 mm"`, `stroke = inf`, "e.toml:5:1: stroke: got +Inf, want a length"},
		{`stroke = "54 mm"`, `stroke = "54 cm"`, `unit "cm" is not known`},
		{`stroke = "54 mm"`, `stroke = "20 deg"`, "stroke: got 20°, want a length"},
		{`stroke = "54 mm"`, `stroke = -54`, "stroke: got -54, want a length such as \"54 mm\", more than 0"},
		{`stroke = "54 mm"`, `stroke = true`, "stroke: got true, want a length"},
		{`stroke = "54 mm"`, `stroke = 250`, "e.toml:6:1: rod: got 110 mm between centres, want more than 125 mm"},
		{`stroke = "54 mm"`, "stroke = \"54 mm\"\nstroke = \"55 mm\"", "e.toml:6:1: no valid TOML"},
		{`stroke = "54 mm"`, `stroke = `, "e.toml:5:10: no valid TOML"},
		{`rod = "110 mm"`, "rod = \"110 mm\"\npin_offset = \"x\"", "e.toml:7:1: pin_offset: number, got \"x\""},
		{`cycle = "two-stroke"`, `cycle = "2T"`, `e.toml:3:1: cycle: got "2T", want "two-stroke" or "four-stroke"`},
		{`rotation = "clockwise"`, `rotation = 1`, `rotation: got 1, want "clockwise" or "anticlockwise"`},
		{`name = "Lathe-shed twin"`, `name = ""`, `name: got "", want a name`},
		{`name = "Lathe-shed twin"`, `name = "a\nb"`, `want a name`},
		{`["left", "right"]`, `[]`, "cylinders: got [], want 1..24 names"},
		{`["left", "right"]`, `"left"`, `cylinders: got "left", want 1..24 names`},
		{`["left", "right"]`, `["left", "left"]`, `cylinders: got "left", want names such as`},
		{`["left", "right"]`, `["left", 2]`, `cylinders: got 2, want names`},
		{`["left", "right"]`, `["left as_found"]`, `without "as_found"`},
		{`value = "2.0 mm"`, `value = 2.0`, "e.toml:10:1: timing.value: got 2, want a unit: mm, in, thou or deg"},
		{`value = "2.0 mm"`, `value = "95 deg"`, "timing.value: got 95°, want more than 0, at most 90°"},
		{`tolerance = "0.1 mm"`, `tolerance = "-0.1 mm"`, "e.toml:11:1: timing.tolerance: got -0.1 mm, want more than 0"},
		{`advance = "none"`, `advance = "half"`, `timing.advance: got "half", want "none", "at rest" or "full travel"`},
		{`cam_ratio = 1`, `cam_ratio = 2`, "breaker.cam_ratio: got 2, want 1 (cam at crank speed) or 0.5"},
		{`cam_ratio = 1`, `cam_ratio = nan`, "breaker.cam_ratio: got NaN"},
		{`gap = "0.35 mm"`, `gap = "35 mm"`, "breaker.gap: got 35 mm, want a length such as \"0.35 mm\", 0.05..2 mm"},
		{`cam_ratio = 1`, `cam_ratio = 0.5`, "e.toml:15:1: breaker.cam_ratio: got 0.5 with a two-stroke, want 1: it fires at each turn of the crank"},
		{`cam_ratio = 1`, "cam_ratio = 1\nsets = 3", "e.toml:16:1: breaker.sets: got 3, want the number of sets of points for 2 cylinders, which open in turn: 1, 2"},
		{`cam_ratio = 1`, "cam_ratio = 1\nsets = 0", "breaker.sets: got 0, want the number of sets"},
		{`cam_ratio = 1`, "cam_ratio = 1\nsets = 1.5", "breaker.sets: got 1.5, want the number of sets"},
		{`cam_ratio = 1`, "cam_ratio = 1\nsets = \"two\"", "breaker.sets: got \"two\", want the number of sets of points, 1 up to the number of cylinders"},
		{`cam_ratio = 1`, "cam_ratio = 1\nsets = nan", "breaker.sets: got NaN"},
		{`cam_ratio = 1`, "cam_ratio = 1\ncam_rotation = \"left\"", `breaker.cam_rotation: got "left", want "clockwise" or "anticlockwise"`},
		{`advance = "none"`, "advance = \"none\"\nspread = 0.05", "e.toml:13:1: timing.spread: got 0.05, want a unit"},
		{`advance = "none"`, "advance = \"none\"\nspread = 0", "timing.spread: got 0, want more than 0, with its unit, or no such line"},
		{`advance = "none"`, "advance = \"none\"\nspread = \"0 mm\"", "timing.spread: got 0 mm, want more than 0"},
		{`advance = "none"`, "advance = \"none\"\nspread = \"-1 deg\"", "timing.spread: got -1°, want more than 0, at most 90°"},
		{`advance = "none"`, "advance = \"none\"\nspread = \"2 mm\"", "timing.spread: got 2 mm, want less than the timing itself, 2 mm"},
		{`[breaker]`, `[brekaer]`, "brekaer.gap: is no key"},
		{`[breaker]`, `[[breaker]]`, "e.toml:14:3: breaker: is no key"},
		{`[timing]`, "x = {}\n[timing]", "e.toml:9:1: x: is no key"},
	} {
		_, err := ParseEngine("e.toml", change(t, "twin.toml", tc.line, tc.by))
		assert.ErrorContains(t, err, tc.want, "%s → %s", tc.line, tc.by)
		var one *Error
		assert.ErrorAs(t, err, &one)
	}
}

func TestSetsSpreadAndCam(t *testing.T) {
	for line, tc := range map[string]struct {
		sets   int
		cam    timing.Rotation
		spread timing.Length
	}{
		"":                                 {2, timing.Clockwise, 0},
		"sets = 1":                         {1, timing.Clockwise, 0},
		`cam_rotation = "anticlockwise"`:   {2, timing.Anticlockwise, 0},
		"[timing]\nspread = \"0.05 mm\"\n": {2, timing.Clockwise, 0.05},
	} {
		at := "[breaker]\n"
		if rest, ok := strings.CutPrefix(line, "[timing]\n"); ok {
			at, line = "[timing]\n", rest
		}
		e, err := ParseEngine("e.toml", change(t, "twin.toml", at, at+line+"\n"))
		require.NoError(t, err)
		assert.Equal(t, tc.sets, e.Breaker.Sets, line)
		assert.Equal(t, tc.cam, e.Breaker.Cam, line)
		assert.Equal(t, timing.Clockwise, e.Rotation)
		assert.InDelta(t, float64(tc.spread), float64(e.Target.Spread), 1e-12, "rounding only")
		assert.NoError(t, e.Breaker.Validate())
	}
}

func TestOneCylinderHasNoSpread(t *testing.T) {
	_, err := ParseEngine("e.toml", change(t, "single.toml", `tolerance = "1 deg"`, "tolerance = \"1 deg\"\nspread = \"1 deg\""))
	assert.EqualError(t, err, "e.toml:14:1: timing.spread: got 1° with one cylinder, want no such line: it is the difference between cylinders")
}

func TestAFourStrokeHasEitherCam(t *testing.T) {
	for _, ratio := range []string{"0.5", "1"} {
		_, err := ParseEngine("e.toml", change(t, "single.toml", "cam_ratio = 0.5", "cam_ratio = "+ratio))
		assert.NoError(t, err, ratio)
	}
}

func TestDialRefuses(t *testing.T) {
	for _, tc := range []struct{ file, line, by, want string }{
		{"dial.toml", `unit = "mm"`, `unit = "cm"`, `d.toml:3:1: unit: got "cm", want "mm" or "in"`},
		{"dial.toml", `graduation = 0.01`, `graduation = 0`, "graduation: got 0, want one graduation"},
		{"dial.toml", `per_revolution = 1.0`, `per_revolution = 0.995`, "d.toml:5:1: per_revolution: got 0.995 mm, want a whole number"},
		{"dial.toml", `range = 10`, `range = 30`, "max_error: is missing, want a length such as 0.015, 0 up to the range; a dial of more than 20 mm needs it"},
		{"dial.toml", `range = 10`, "range = 10\npreload = 11", "d.toml:7:1: preload: got 11 mm, want 0..10 mm, the dial's range"},
		{"dial.toml", `range = 10`, "range = 10\npreload = 0", "preload: got 0, want how far the plunger is pressed in"},
		{"dial.toml", `range = 10`, "range = 10\nextension_give = -0.01", "extension_give: got -0.01, want how far the extension may give"},
		{"dial.toml", `range = 10`, "range = 10\nmax_error_revolution = 0.02", "d.toml:7:1: max_error_revolution: got 0.02 mm, want 0..0.015 mm, the limit for a longer"},
		{"dial.toml", `range = 10`, `range = "10 deg"`, "range: got 10°"},
		{"dial.toml", `zeroed = "tdc"`, `zeroed = "bdc"`, `zeroed: got "bdc", want "tdc" or "mark"`},
		{"dial.toml", `counting = "out"`, ``, "d.toml: counting: is missing"},
		{"dial-mark.toml", `counter_at_zero = 4`, `counter_at_zero = 4.5`, "counter_at_zero: got 4.5, want a whole number"},
		{"dial-mark.toml", `counter_at_zero = 4`, `counter_at_zero = 12`, "counter_at_zero: got 12, want 0..11"},
		{"dial-inclined.toml", `crown_slope = "5 deg"`, ``, "d.toml: crown_slope: is missing, want an angle"},
		{"dial-inclined.toml", `crown_slope = "5 deg"`, `crown_slope = "5 mm"`, "crown_slope: got 5 mm"},
		{"dial-inclined.toml", `plunger_angle = "20 deg"`, `plunger_angle = 70`, "d.toml:10:1: plunger_angle: got 70°, want -60..60°"},
		{"dial-inclined.toml", `max_error = 0.02`, `max_error = -0.02`, "max_error: got -0.02"},
		{"dial-inclined.toml", `max_error = 0.02`, `max_error = 11`, "d.toml:14:1: max_error: got 11 mm, want 0..10 mm"},
		{"dial-inclined.toml", `crown_slope_uncertainty = "2 deg"`, `crown_slope_uncertainty = -2`, "crown_slope_uncertainty: got -2°, want 0..20°"},
	} {
		_, err := ParseDial("d.toml", change(t, tc.file, tc.line, tc.by))
		assert.ErrorContains(t, err, tc.want, "%s → %s", tc.line, tc.by)
	}
	d, err := ParseDial("d.toml", change(t, "dial-inclined.toml", `crown_slope_uncertainty = "2 deg"`, ""))
	require.NoError(t, err)
	assert.Equal(t, timing.Angle(3), d.CrownSlopeU, "an inclined plunger is never taken as known")
}

func TestDialLimits(t *testing.T) {
	d, err := ParseDial("d.toml", change(t, "dial.toml", `range = 10`,
		"range = 10\npreload = 4\nextension_give = 0.02\nmax_error_tenth_revolution = 0.004\nmax_error_revolution = 0.012"))
	require.NoError(t, err)
	assert.Equal(t, timing.Length(4), d.Preload)
	assert.Equal(t, timing.Length(0.02), d.ExtensionGive)
	assert.Equal(t, [3]timing.Length{0.004, 0, 0.012}, d.Local)
	assert.True(t, d.Unchecked, "no limit of error of its own")
	d, err = LoadDial(filepath.Join(samples, "dial-inclined.toml"))
	require.NoError(t, err)
	assert.False(t, d.Unchecked)
}

func TestAllErrorsAtOnceInOrder(t *testing.T) {
	_, err := ParseEngine("e.toml", []byte("wheels = 2\ncycle = 3\n[timing]\nvalue = {a = 1}\n"))
	lines := strings.Split(err.Error(), "\n")
	assert.Greater(t, len(lines), 8)
	assert.Equal(t, "e.toml:4:10: timing.value.a: is no key of this sheet", lines[len(lines)-1][:52])
	joined, ok := err.(interface{ Unwrap() []error })
	require.True(t, ok)
	at := 0
	for _, e := range joined.Unwrap() {
		var one *Error
		require.ErrorAs(t, e, &one)
		assert.GreaterOrEqual(t, one.Line, at)
		at = one.Line
	}
}

func TestFiles(t *testing.T) {
	_, err := LoadEngine(filepath.Join(t.TempDir(), "none.toml"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
	_, err = LoadDial(t.TempDir())
	assert.Error(t, err, "a folder")
	big := filepath.Join(t.TempDir(), "big.toml")
	require.NoError(t, os.WriteFile(big, make([]byte, maxSize+1), 0o600))
	_, err = LoadDial(big)
	assert.ErrorContains(t, err, "got more than 65536 bytes")
	_, err = ParseEngine("empty.toml", nil)
	assert.ErrorContains(t, err, "stroke: is missing")
	_, err = ParseEngine("bad.toml", []byte("name = \"\xff\""))
	assert.ErrorContains(t, err, "bad.toml:1:")
	_, err = ParseEngine("bom.toml", append([]byte("\ufeff"), change(t, "twin.toml", "stroke", "stroke")...))
	assert.NoError(t, err)
	_, err = ParseEngine("crlf.toml", []byte(strings.ReplaceAll(string(change(t, "twin.toml", "stroke", "stroke")), "\n", "\r\n")))
	assert.NoError(t, err)
}

func FuzzParse(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(samples, "*.toml"))
	require.NoError(f, err)
	for _, file := range files {
		data, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte("a.b.c = {d = [1, {e = 2}]}\n[[x]]\n[x.y]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		e, errE := ParseEngine("f", data)
		d, errD := ParseDial("f", data)
		kind, errK := KindOf("f", data)
		for _, err := range []error{errE, errD, errK} {
			var one *Error
			if err != nil && !errors.As(err, &one) {
				t.Fatalf("an error without a place: %v", err)
			}
		}
		if errE == nil {
			assert.Equal(t, EngineSheet, kind)
			assert.True(t, e.Crank.Known())
			assert.True(t, e.Target.Low < 0 && e.Target.High > 0)
			assert.NotEmpty(t, e.Cylinders)
			assert.Zero(t, len(e.Cylinders)%e.Breaker.Sets)
			assert.NoError(t, e.Breaker.Validate())
		}
		if errD == nil {
			assert.Equal(t, DialSheet, kind)
			assert.NoError(t, d.Validate())
		}
	})
}
