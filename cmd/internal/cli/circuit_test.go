package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio/circuit"
	"breakcue/cmd/internal/session"
)

// circuitRun runs breakcue circuit with these flags.
func circuitRun(t require.TestingT, args ...string) (out, errs string, code int) {
	var o, e bytes.Buffer
	code = Main(context.Background(), append([]string{"circuit"}, args...), Env{Out: &o, Err: &e, Getenv: func(string) string { return "" }})
	return o.String(), e.String(), code
}

// circuitJSON runs it with --json.
func circuitJSON(t *testing.T, args ...string) circuitResult {
	t.Helper()
	out, errs, code := circuitRun(t, append(args, "--json")...)
	require.Equal(t, ExitOK, code, errs)
	var r circuitResult
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	require.Equal(t, "breakcue.circuit/1", r.Schema)
	return r
}

// The figures of the cables on a magneto's source coil, 1 kHz, clean points of 0.2 ohm and dirty ones of 5 ohm: ranges computed
// independently for assumed values of 0.8 mH and 0.3 ohm to 4 mH and 0.6 ohm with eddy losses and 0.22 uF. Tolerances: half of the last
// digit given, and a little for the eddy losses, here 14 and 19 degrees.
func TestCircuitOfAMagneto(t *testing.T) {
	for _, tt := range []struct {
		cable        string
		turn         [2]float64
		clean, dirty [2]float64
		tol          float64
		verdict      string
	}{
		{"--wiring series --series 100 --load 1kohm", [2]float64{0, 1}, [2]float64{.005, .023}, [2]float64{.003, .022}, .0006, "will_not_do"},
		{"--wiring series --series 100 --load 47", [2]float64{2, 9}, [2]float64{.03, .16}, [2]float64{.02, .15}, .006, ""},
		{"--wiring shunt --series 1kohm", [2]float64{68, 71}, [2]float64{.99, .99}, [2]float64{.61, .92}, .01, ""},
	} {
		for _, coil := range [][]string{{"0.8mH/0.3ohm", "14deg"}, {"4mH/0.6ohm", "19deg"}} {
			for contact, want := range map[string][2]float64{"0.2": tt.clean, "5": tt.dirty} {
				args := append(strings.Fields(tt.cable), "--source", "0", "--input", "1Mohm", "--lead", "0", "--lead-capacitance", "0pF",
					"--tone", "1000", "--contact", contact, "--source-coil", coil[0], "--eddy-loss", coil[1])
				c := circuitJSON(t, args...).Cables[0]
				assert.GreaterOrEqual(t, c.IQDistance, want[0]-tt.tol, "%s %s", tt.cable, coil)
				assert.LessOrEqual(t, c.IQDistance, want[1]+tt.tol, "%s %s", tt.cable, coil)
				if contact == "0.2" {
					assert.GreaterOrEqual(t, math.Abs(c.TurnDeg), tt.turn[0]-1.5, "half a degree, the last digit")
					assert.LessOrEqual(t, math.Abs(c.TurnDeg), tt.turn[1]+1.5, "and a little for the losses")
				}
				if tt.verdict != "" {
					assert.Equal(t, tt.verdict, c.Verdict)
				}
			}
		}
	}
}

// Beforehand: the recommended cable across the points will do for all source coils that are likely, that in line into 1 kohm for none.
func TestCircuitSaysBeforehand(t *testing.T) {
	for _, series := range []string{"50", "100", "200"} {
		r := circuitJSON(t, "--wiring", "shunt", "--series", series, "--source-coil", "unknown")
		assert.Equal(t, "will_do", r.Cables[0].Verdict, series)
		assert.True(t, r.Coil.Unknown)
	}
	r := circuitJSON(t, "--wiring", "series", "--load", "1kohm", "--source-coil", "unknown")
	assert.Equal(t, "will_not_do", r.Cables[0].Verdict)
	assert.Contains(t, r.Cables[0].Change, "wire the cable across the points")
}

// Consumer line level is -10 dBV, 0.316228 V (IEC 61938 and common practice; the figure is computed).
func TestLevelsInDecibelVolts(t *testing.T) {
	r := circuitJSON(t, "--level", "-10dBV", "--noise", "−80 dBV")
	assert.InDelta(t, 0.316228, r.ToneV, 1e-6, "digits given")
	assert.InDelta(t, 1e-4, r.NoiseV, 1e-12, "rounding")
}

func TestElectricValues(t *testing.T) {
	for _, tt := range []struct {
		kind electric
		text string
		want float64
	}{
		{resistance, "100", 100}, {resistance, "4,7 kohm", 4700}, {resistance, "4.7kΩ", 4700}, {resistance, "47Ω", 47}, {resistance, "47 Ω", 47},
		{resistance, "20mohm", 0.02}, {resistance, "1k", 1000}, {resistance, "0", 0}, {resistance, "33R", 33}, {resistance, "1Mohm", 1e6},
		{condenser, "0.22uF", 0.22e-6}, {condenser, "220nF", 0.22e-6}, {condenser, "0,22", 0.22e-6}, {condenser, "0.22 µF", 0.22e-6}, {condenser, "0.22μf", 0.22e-6},
		{condenser, "none", 0}, {leadC, "300pF", 300e-12}, {leadC, "0", 0}, {winding, "800uH", 0.8e-3},
		{volts, "0.2V", 0.2}, {volts, "200 mV", 0.2}, {volts, "-20dBV", 0.1}, {volts, "0dBV", 1}, {hertz, "3.25kHz", 3250}, {hertz, "3250", 3250},
	} {
		got, err := tt.kind.parse("--x", tt.text)
		require.NoError(t, err, tt.text)
		assert.InDelta(t, tt.want, got, 1e-12*tt.want, "rounding: %s", tt.text)
	}
}

// Whatever is typed behind any flag, the command prints a result or refuses in the house form; it never panics, and no figure is not a
// number.
func TestCircuitTakesAnything(t *testing.T) {
	flags := []string{"wiring", "source", "input", "series", "load", "block", "lead", "shared-lead", "lead-capacitance", "condenser", "contact",
		"coil", "coil-end", "source-coil", "eddy-loss", "tone", "level", "noise"}
	value := rapid.OneOf(rapid.SampledFrom([]string{"0", "none", "unknown", "battery", "nothing", "series", "shunt", "NaN", "-1", "1e999", "5ohm", "1Mohm", "0.1uF", "8mH/2ohm",
		"1uH/0ohm", "10H/1ohm", "100Hz", "20kHz", "1uV", "100V", "15deg", "80deg", "99999999999999999999"}), rapid.StringMatching(`[0-9.,]{1,6}(ohm|kohm|uF|mV|dBV|Hz|mH|Ω)?`), rapid.String())
	rapid.Check(t, func(t *rapid.T) {
		var args []string
		for _, f := range rapid.SliceOfNDistinct(rapid.SampledFrom(flags), 0, 5, rapid.ID).Draw(t, "flags") {
			args = append(args, "--"+f+"="+value.Draw(t, f))
		}
		out, errs, code := circuitRun(t, args...)
		switch code {
		case ExitOK:
			assert.Empty(t, errs)
			assert.NotContains(t, out, "NaN")
			assert.NotContains(t, out, "Inf")
			for line := range strings.Lines(out) {
				assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), session.Columns, line)
			}
		case ExitUsage:
			assert.Empty(t, out)
			assert.Regexp(t, `(?s)^breakcue: error: .*\nbreakcue: hint: .*\n$`, errs)
		default:
			assert.Fail(t, "exit code", "%d: %s", code, errs)
		}
	})
}

// The tone that the cables are judged at is the one that the live commands play.
func TestCircuitUsesTheLiveTone(t *testing.T) {
	r := circuitJSON(t)
	require.Len(t, r.Cables, 2)
	for _, c := range r.Cables {
		w, err := wiringOf(c.Wiring)
		require.NoError(t, err)
		assert.Equal(t, liveTone(w, circuitRate), c.ToneHz)
	}
}

// A remedy that is named does what is said of it: with the flags that it asks for the cable will do.
func TestRemediesHelp(t *testing.T) {
	for _, tt := range []struct{ bad, good, says string }{
		{"--wiring series --coil 8mH/2ohm", "--wiring series", "take the coil lead off"},
		{"--wiring series --load 1kohm --source-coil 2mH/0.5ohm", "--wiring shunt --source-coil 2mH/0.5ohm", "wire the cable across"},
		{"--wiring shunt --source-coil 0.8mH/0.3ohm --level 2mV", "--wiring shunt --source-coil 0.8mH/0.3ohm --level 200mV", "turn the output up to 200 mV"},
		{"--wiring series --load 10kohm --tone 4kHz", "--wiring series --load 10kohm --tone 300", "use a tone of about"},
	} {
		bad, good := circuitJSON(t, strings.Fields(tt.bad)...).Cables[0], circuitJSON(t, strings.Fields(tt.good)...).Cables[0]
		assert.NotEqual(t, "will_do", bad.Verdict, tt.bad)
		assert.Contains(t, bad.Change, tt.says, tt.bad)
		assert.Equal(t, "will_do", good.Verdict, tt.good)
		assert.Empty(t, good.Change)
	}
}

// Pictures can be read by others, have a size that a screen shows whole, and differ with what they show.
func TestCircuitPictures(t *testing.T) {
	dir := t.TempDir()
	seen := map[string]bool{}
	for _, sweep := range []string{"tone", "contact", "condenser", "load", "series"} {
		svg, pic := filepath.Join(dir, sweep+".svg"), filepath.Join(dir, sweep+".PNG")
		for _, file := range []string{svg, pic} {
			_, errs, code := circuitRun(t, "--sweep="+sweep, "--plot", file)
			require.Equal(t, ExitOK, code, errs)
		}
		data, err := os.ReadFile(svg)
		require.NoError(t, err)
		text := string(data)
		assert.False(t, seen[text])
		seen[text] = true
		for _, want := range []string{`role="img"`, "<title ", "<desc ", "#0072B2", "#D55E00", "stroke-dasharray", "margin [dB]", "will not do"} {
			assert.Contains(t, text, want)
		}
		d := xml.NewDecoder(strings.NewReader(text))
		for err == nil {
			_, err = d.Token()
		}
		require.ErrorIs(t, err, io.EOF, "well formed")
		f, err := os.Open(pic)
		require.NoError(t, err)
		img, err := png.Decode(f)
		require.NoError(t, errors.Join(err, f.Close()))
		assert.Equal(t, 800, img.Bounds().Dx())
	}
}

// A sweep passes through the figures of the cable itself.
func TestSweepAgreesWithTheCable(t *testing.T) {
	for _, sweep := range []struct {
		name  string
		value float64
	}{{"contact", 0.2}, {"condenser", 0.22e-6}, {"load", 47}, {"series", 100}} {
		c := circuitJSON(t, "--wiring", "series", "--sweep="+sweep.name).Cables[0]
		found := false
		for _, row := range c.Sweep {
			if math.Abs(row.Value/sweep.value-1) < 1e-9 {
				found = true
				assert.InDelta(t, c.IQDistance, row.IQDistance, 1e-12, sweep.name)
				assert.InDelta(t, *c.MarginDB, *row.MarginDB, 1e-9, sweep.name)
			}
		}
		assert.True(t, found, sweep.name)
	}
}

// What is gone through holds for the worst case too: points of 50 ohm are worse than any of 0.05.
func TestSweepMovesTheWorstCase(t *testing.T) {
	rows := circuitJSON(t, "--wiring", "shunt", "--source-coil", "2mH/0.5ohm", "--sweep=contact").Cables[0].Sweep
	for i, row := range rows {
		assert.LessOrEqual(t, *row.WorstDB, *row.MarginDB)
		if i > 0 {
			assert.Less(t, *row.WorstDB, *rows[i-1].WorstDB)
		}
	}
}

// What the README shows is what the command prints.
func TestTheCircuitInTheReadme(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "README.md"))
	require.NoError(t, err)
	_, block, ok := strings.Cut(string(text), "<!-- circuit -->")
	require.True(t, ok)
	block, _, _ = strings.Cut(block, "<!-- /circuit -->")
	_, cmd, ok := strings.Cut(block, "$ bin/breakcue circuit ")
	require.True(t, ok)
	cmd, _, _ = strings.Cut(cmd, "\n")
	_, want, ok := strings.Cut(block, "```\n")
	require.True(t, ok)
	want, _, _ = strings.Cut(want, "```")
	out, errs, code := circuitRun(t, strings.Fields(cmd)...)
	require.Equal(t, ExitOK, code, errs)
	require.Greater(t, len(want), 500)
	assert.Contains(t, out, want)
}

func TestChosenRemedy(t *testing.T) {
	assert.Equal(t, "b: 21 dB then, which will do", chosen([]remedy{{"a", 15}, {"b", 21}, {"c", 30}}, 2))
	assert.Equal(t, "a: 15 dB then, poor still", chosen([]remedy{{"a", 15}, {"b", 3}}, 2))
	assert.Contains(t, chosen([]remedy{{"a", 2.5}}, 2), "nothing in the cable helps")
	assert.Contains(t, chosen([]remedy{{"a", math.Inf(-1)}}, math.Inf(-1)), "nothing in the cable helps")
	assert.Equal(t, circuit.WillNotDo, circuit.Judge(math.Inf(-1)))
}

// A unit that no part of a winding has is refused as such, with both parts in the hint; a sweep typed without its equals sign is told how.
func TestCircuitRefusalsSayHow(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--coil", "1e3mH/2ohm"}, "--coil, got \"1e3mH\": unit \"e3mH\" is not known here\nbreakcue: hint: give inductance and resistance"},
		{[]string{"--coil", "8uF/2ohm"}, "--coil, got \"8uF\": unit \"uF\" is not known here\nbreakcue: hint: give inductance and resistance"},
		{[]string{"--coil", "8mH/2ohm/3ohm"}, "--coil, got \"8mH/2ohm/3ohm\": the same is given twice"},
		{[]string{"--sweep", "contact"}, "as --sweep=contact"},
	} {
		_, errs, code := circuitRun(t, c.args...)
		assert.Equal(t, ExitUsage, code, c.args)
		assert.Contains(t, strings.Join(strings.Fields(errs), " "), strings.Join(strings.Fields(c.want), " "), c.args)
	}
}
