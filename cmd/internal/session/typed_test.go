package session

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

func TestReadTyped(t *testing.T) {
	cylinders := []string{"left", "rear  right"}
	at := func(c string, p logbook.Phase) logbook.Place { return logbook.Place{Cylinder: c, Phase: p} }
	for name, tc := range map[string]struct {
		text  string
		want  []Typed
		named bool
	}{
		"plain":        {"# left as_found\n1.98\n", []Typed{{Text: "1.98", Place: at("left", logbook.AsFound)}}, true},
		"CRLF and BOM": {"\ufeff# left as_left\r\n1.98\r\n\r\n-\r\n", []Typed{{Text: "1.98", Place: at("left", logbook.AsLeft)}, {Text: "-", Place: at("left", logbook.AsLeft)}}, true},
		"CR alone":     {"# left as_left\r1.98\r-\r", []Typed{{Text: "1.98", Place: at("left", logbook.AsLeft)}, {Text: "-", Place: at("left", logbook.AsLeft)}}, true},
		"no end":       {"# left as_found\n1.98", []Typed{{Text: "1.98", Place: at("left", logbook.AsFound)}}, true},
		"spaces":       {"  #left   as_found \n  1.98 \n", []Typed{{Text: "  1.98 ", Place: at("left", logbook.AsFound)}}, true},
		"two words":    {"# rear right as_left\n1\n", []Typed{{Text: "1", Place: at("rear  right", logbook.AsLeft)}}, true},
		"other ways": {"# Left As-Found\n1\n#LEFT as left\n2\n# Rear-Right, as found:\n3\n# left: AsLeft\n4\n", []Typed{
			{Text: "1", Place: at("left", logbook.AsFound)}, {Text: "2", Place: at("left", logbook.AsLeft)}, {Text: "3", Place: at("rear  right", logbook.AsFound)}, {Text: "4", Place: at("left", logbook.AsLeft)}}, true},
		"comments":      {"# cold, 12 degrees\n#\n# left as_found\n1\n# the wind blew as ever today\n# rear wheel off, just assembled\n2\n", []Typed{{Text: "1", Place: at("left", logbook.AsFound)}, {Text: "2", Place: at("left", logbook.AsFound)}}, true},
		"no place":      {"1.98\n# left as_left\n1\n", []Typed{{Text: "1.98", Place: at("left", logbook.AsFound)}, {Text: "1", Place: at("left", logbook.AsLeft)}}, false},
		"empty":         {"", nil, true},
		"not UTF-8":     {"# left as_found\n1\xff\n", []Typed{{Text: "1\ufffd", Place: at("left", logbook.AsFound)}}, true},
		"two on a line": {"# left as_found\n1.98 2.03\n", []Typed{{Text: "1.98 2.03", Place: at("left", logbook.AsFound)}}, true},
	} {
		got, named, err := ReadTyped("r", strings.NewReader(tc.text), cylinders)
		require.NoError(t, err, name)
		assert.Equal(t, tc.want, got, name)
		assert.Equal(t, tc.named, named, name)
	}
	one, named, err := ReadTyped("r", strings.NewReader("# as_left\n1\n"), []string{"only"})
	require.NoError(t, err)
	assert.True(t, named)
	assert.Equal(t, []Typed{{Text: "1", Place: at("only", logbook.AsLeft)}}, one, "one cylinder needs no name")

	for text, want := range map[string]string{
		"1.98\n# lfet as_found\n":         `r:2: cylinder, got "lfet", want one of ["left" "rear  right"] and as_found or as_left, as "# left as_found"`,
		"# left as foudn\n":               `r:1: phase, got "left as foudn", want one of ["left" "rear  right"] and as_found or as_left`,
		"1\n# Rear right\n":               `r:2: phase, got "Rear right", want`,
		"# LEFT side, before the work\n":  `r:1: phase, got "LEFT side, before the work", want`,
		"# left side as left\n":           `r:1: cylinder, got "left side", want`,
		"# middle as-lfet\n":              `r:1: phase, got "middle as-lfet", want`,
		"# as fuond\n":                    `r:1: phase, got "as fuond", want`,
		"# left asfond\n":                 `r:1: phase, got "left asfond", want`,
		"# left as\n":                     `r:1: phase, got "left as", want`,
		"# as_found\n":                    `r:1: cylinder, got ""`,
		strings.Repeat("1", maxLine+1):    "r:1: got a line of 1001 bytes",
		"1.98\nRIFF\x00\x00":              "r:2: is not plain text",
		"#\x00 \x00":                      "r:1: is not plain text",
		strings.Repeat("1", 70000):        "more than 65536 bytes",
		strings.Repeat("1\n", maxTyped+1): "got more than 100000 readings",
	} {
		_, _, err := ReadTyped("r", strings.NewReader(text), cylinders)
		assert.ErrorContains(t, err, want)
	}
}

func TestRawLinesKeepsWhatIsRefused(t *testing.T) {
	left := logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}
	long := strings.Repeat("1", maxLine+1)
	assert.Equal(t, []Typed{{Text: "1.98", Place: left}, {Text: "# lfet as_left", Place: left}, {Text: "2.01", Place: left}, {Text: long[:maxLine], Place: left}},
		RawLines("\ufeff# left as_left\r\n1.98\r\n\r\n# lfet as_left\n2.01\n# a comment\n"+long, []string{"left", "right"}))
	assert.Empty(t, RawLines("1.98\nRIFF\x00", []string{"left"}), "not text")
}

func FuzzReadTyped(f *testing.F) {
	for _, s := range []string{"# left as_found\n2.03/1.98\n-\n", "\ufeff# right as_left\r\n1+98\r\n", "\r\r#\xff as_left", "1.98"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		typed, _, err := ReadTyped("r", strings.NewReader(s), []string{"left", "right"})
		raw := RawLines(s, []string{"left", "right"})
		if err != nil {
			return
		}
		assert.Equal(t, typed, raw, "what is taken is kept as it is")
		assert.LessOrEqual(t, len(typed), strings.Count(s, "\n")+strings.Count(s, "\r")+1)
		for _, one := range typed {
			assert.NotEmpty(t, strings.TrimSpace(one.Text))
			assert.Contains(t, []string{"left", "right"}, one.Place.Cylinder)
		}
	})
}
