package sheet

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// timingTable is how twin.toml writes its [timing].
const timingTable = "[timing]\nvalue = \"2.0 mm\" # before top dead centre\ntolerance = \"0.1 mm\"\nadvance = \"none\""

// Ways to write a sheet that TOML 1.0 (toml.io/en/v1.0.0) allows, after the groups of the cases of toml-test: each must be
// read as what it means.
func TestValidTOML(t *testing.T) {
	const asItWas = "Lathe-shed twin"
	for name, tc := range map[string]struct{ line, by, want string }{
		"literal string":           {`name = "Lathe-shed twin"`, `name = 'C:\shed "twin"'`, `C:\shed "twin"`},
		"escapes":                  {`name = "Lathe-shed twin"`, `name = "a \"b\" \\ \u00fc \U0001F527"`, `a "b" \ ü 🔧`},
		"line ending backslash":    {`name = "Lathe-shed twin"`, "name = \"\"\"Lathe-shed \\\n   twin\"\"\"", asItWas},
		"multi-line literal":       {`name = "Lathe-shed twin"`, "name = '''\nLathe-shed twin'''", asItWas},
		"hash in a text":           {`name = "Lathe-shed twin"`, `name = "twin # 2" # the "second" = 2`, "twin # 2"},
		"quoted key":               {`name = "Lathe-shed twin"`, `"name" = "x"`, "x"},
		"escaped key":              {`name = "Lathe-shed twin"`, `"n\u0061me" = "x"`, "x"},
		"no spaces":                {`name = "Lathe-shed twin"`, `name="x"`, "x"},
		"tabs":                     {`name = "Lathe-shed twin"`, "\tname\t=\t\"x\"\t# y", "x"},
		"list over lines":          {`["left", "right"]`, "[ # two\n  \"left\",\n  'right', # trailing comma\n]", asItWas},
		"inline table":             {timingTable, `timing = {value = "2.0 mm", tolerance = "0.1 mm", advance = "none"}`, asItWas},
		"dotted keys":              {timingTable, "timing.value = \"2.0 mm\"\ntiming . tolerance = \"0.1 mm\"\ntiming.\"advance\" = 'none'", asItWas},
		"header with spaces":       {"[breaker]", "[ 'breaker' ] # points", asItWas},
		"integer with underscores": {`stroke = "54 mm"`, `stroke = 5_4`, asItWas},
		"hexadecimal":              {`stroke = "54 mm"`, `stroke = 0x36`, asItWas},
		"octal":                    {`stroke = "54 mm"`, `stroke = 0o66`, asItWas},
		"binary":                   {`stroke = "54 mm"`, `stroke = 0b110110`, asItWas},
		"exponent":                 {`stroke = "54 mm"`, `stroke = 5.4e+1`, asItWas},
		"plus sign":                {`stroke = "54 mm"`, `stroke = +54.0`, asItWas},
		"decimal comma in a text":  {`stroke = "54 mm"`, `stroke = "54,0 mm"`, asItWas},
	} {
		e, err := ParseEngine("e.toml", change(t, "twin.toml", tc.line, tc.by))
		if !assert.NoError(t, err, name) {
			continue
		}
		assert.Equal(t, tc.want, e.Name, name)
		assert.Equal(t, 54.0, float64(e.Crank.Stroke()), name)
		assert.Equal(t, []string{"left", "right"}, e.Cylinders, name)
		assert.Equal(t, 2.0, float64(e.Target.Travel), name)
	}
	whole := string(change(t, "twin.toml", "stroke", "stroke"))
	for name, text := range map[string]string{
		"byte order mark":             "\ufeff" + whole,
		"CRLF":                        strings.ReplaceAll(whole, "\n", "\r\n"),
		"blank lines":                 strings.ReplaceAll(whole, "\n", "\n\n"),
		"spaces at the ends of lines": strings.ReplaceAll(whole, "\n", "  \n"),
		"no line end at the very end": strings.TrimSuffix(whole, "\n"),
	} {
		_, err := ParseEngine("e.toml", []byte(text))
		assert.NoError(t, err, name)
	}
}

// What TOML 1.0 forbids, or allows where this sheet wants something else: each is refused with its line and column.
func TestInvalidTOML(t *testing.T) {
	for name, tc := range map[string]struct{ line, by, want string }{
		"unknown escape":              {`name = "Lathe-shed twin"`, `name = "a\q"`, "e.toml:2:10: no valid TOML: "},
		"surrogate":                   {`name = "Lathe-shed twin"`, `name = "\ud800"`, "e.toml:2:9: no valid TOML: "},
		"text not ended":              {`name = "Lathe-shed twin"`, `name = "a`, "e.toml:2:10: no valid TOML: "},
		"control character":           {`name = "Lathe-shed twin"`, "name = \"a\x01\"", "e.toml:2:10: no valid TOML: "},
		"control in a comment":        {`name = "Lathe-shed twin"`, "name = \"a\" # \x00", "e.toml:2:"},
		"carriage return alone":       {`name = "Lathe-shed twin"`, "name = \"a\"\rx = 1", "e.toml:2:"},
		"bytes that are no UTF-8":     {`name = "Lathe-shed twin"`, "name = \"\xc3\x28\"", "e.toml:2:9: no valid TOML: "},
		"no value":                    {`name = "Lathe-shed twin"`, `name =`, "e.toml:2:7: no valid TOML: "},
		"no equals sign":              {`name = "Lathe-shed twin"`, `name "x"`, "e.toml:2:6: no valid TOML: "},
		"no quotes":                   {`name = "Lathe-shed twin"`, `name = twin`, "e.toml:2:"},
		"two values":                  {`name = "Lathe-shed twin"`, `name = "a" "b"`, "e.toml:2:12: no valid TOML: "},
		"two keys on a line":          {`name = "Lathe-shed twin"`, `name = "a" x = 1`, "e.toml:2:12: no valid TOML: "},
		"key twice":                   {`rod = "110 mm"`, "stroke = \"54 mm\"\nrod = \"110 mm\"", "e.toml:6:1: no valid TOML: "},
		"table twice":                 {"[breaker]", "[timing]\n[breaker]", "e.toml:14:"},
		"table of a value":            {"[breaker]", "[name]\n[breaker]", "e.toml:14:"},
		"inline table grown":          {"[breaker]", "x = {gap = 0.35}\n[timing.x.y]\n[breaker]", "e.toml:15:"},
		"bracket not closed":          {`["left", "right"]`, `["left", "right"`, "e.toml:"},
		"header not closed":           {"[breaker]", "[breaker", "e.toml:14:"},
		"leading zero":                {`stroke = "54 mm"`, `stroke = 054`, "e.toml:5:"},
		"point without digits":        {`stroke = "54 mm"`, `stroke = 54.`, "e.toml:5:"},
		"comma in a number":           {`stroke = "54 mm"`, `stroke = 54,0`, "e.toml:5:"},
		"too large an integer":        {`stroke = "54 mm"`, `stroke = 9223372036854775808`, "e.toml:5:"},
		"date for a name":             {`name = "Lathe-shed twin"`, `name = 2026-05-04`, "e.toml:2:1: name: got 2026-05-04, want a name"},
		"time for a length":           {`stroke = "54 mm"`, `stroke = 07:32:00`, "e.toml:5:1: stroke: got 07:32:00, want a length"},
		"date and time":               {`stroke = "54 mm"`, `stroke = 2026-05-04T07:32:00Z`, "e.toml:5:1: stroke: got 2026-05-04 07:32:00 +0000 UTC, want a length"},
		"date that there is not":      {`name = "Lathe-shed twin"`, `name = 2026-02-30`, "e.toml:2:"},
		"list for a name":             {`name = "Lathe-shed twin"`, `name = ["a"]`, "e.toml:2:1: name: got [a], want a name"},
		"table for a name":            {`name = "Lathe-shed twin"`, `name = {a = 1}`, "e.toml:2:9: name.a: is no key of this sheet"},
		"name over lines":             {`name = "Lathe-shed twin"`, "name = \"\"\"a\nb\"\"\"", `e.toml:2:1: name: got "a\nb", want a name`},
		"number for a text":           {`advance = "none"`, `advance = 0`, `e.toml:12:1: timing.advance: got 0, want "none"`},
		"true for a number":           {`cam_ratio = 1`, `cam_ratio = true`, "e.toml:15:1: breaker.cam_ratio: got true, want 1"},
		"infinity":                    {`cam_ratio = 1`, `cam_ratio = -inf`, "e.toml:15:1: breaker.cam_ratio: got -Inf, want 1"},
		"not a number":                {`gap = "0.35 mm"`, `gap = +nan`, "e.toml:16:1: breaker.gap: got NaN, want a length"},
		"another case":                {`stroke = "54 mm"`, `Stroke = "54 mm"`, "e.toml:5:1: Stroke: is no key of this sheet"},
		"dotted key in quotes":        {"[timing]", "\"timing.spread\" = \"0.05 mm\"\n[timing]", `e.toml:9:1: "timing.spread": is no key of this sheet`},
		"empty key":                   {`name = "Lathe-shed twin"`, "name = \"x\"\n\"\" = 1", `e.toml:3:1: "": is no key of this sheet`},
		"array of tables":             {"[timing]", "[[timing]]", "e.toml:9:3: timing: is no key of this sheet"},
		"unknown key in a dotted one": {"[breaker]", "x.y.z = 1\n[breaker]", "e.toml:14:1: timing.x.y.z: is no key of this sheet"},
	} {
		_, err := ParseEngine("e.toml", change(t, "twin.toml", tc.line, tc.by))
		assert.ErrorContains(t, err, tc.want, name)
	}
}
