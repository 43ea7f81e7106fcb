package session

import (
	"encoding/csv"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// table writes reports and reads them back with another reader of RFC 4180, encoding/csv of the standard library: a map of
// column names for each pass.
func table(t testing.TB, comma bool, reports ...Report) []map[string]string {
	var b strings.Builder
	require.NoError(t, WriteCSV(&b, reports, comma))
	text := b.String()
	require.Equal(t, strings.Count(text, "\n"), strings.Count(text, "\r\n"), "lines end in CR LF (RFC 4180, 2.1)")
	r := csv.NewReader(strings.NewReader(text))
	if comma {
		r.Comma = ';'
	}
	lines, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, line := range lines[1:] {
		m := map[string]string{}
		for i, name := range lines[0] {
			m[name] = line[i]
		}
		out = append(out, m)
	}
	return out
}

func TestCSV(t *testing.T) {
	dir, _, _ := recorded(t, 3, "# left as_found\n2.20/2.14\n1,98\n# left as_left\n-\nabout \"two\"; or, 2\n")
	r := reported(t, dir)
	for _, comma := range []bool{false, true} {
		rows := table(t, comma, r, r)
		require.Len(t, rows, 8, "one line for each pass of each session")
		number := func(s string) float64 {
			if comma {
				assert.NotContains(t, s, ".")
				s = strings.Replace(s, ",", ".", 1)
			}
			x, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			return x
		}
		const rounding = 1e-9 // nine decimals
		first := rows[0]
		assert.Equal(t, "2.20/2.14", first["reading"])
		assert.InDelta(t, 2.2, number(first["last_closed"]), rounding)
		assert.InDelta(t, 2.14, number(first["first_open"]), rounding)
		assert.Equal(t, "left", first["cylinder"])
		assert.Equal(t, "as_found", first["phase"])
		assert.Equal(t, "2026-05-04T10:11:12Z", first["begun"])
		found := r.Cylinders[0].Phases[0]
		assert.InDelta(t, 2.17, number(first["travel_mm"]), rounding)
		assert.InDelta(t, *found.ErrorMM, number(first["error_mm"]), rounding)
		assert.InDelta(t, found.IntervalMM[0], number(first["interval_low_mm"]), rounding)
		assert.InDelta(t, *found.InTolerance, number(first["probability_in_tolerance"]), rounding)
		assert.Equal(t, found.Verdict, first["verdict"])
		assert.InDelta(t, 1.98, number(rows[1]["reading"]), rounding, "a plain number has the decimal sign of all numbers")
		assert.Empty(t, rows[1]["last_closed"], "one reading after stopping")
		assert.InDelta(t, 1.98, number(rows[1]["first_open"]), rounding)
		assert.Equal(t, "'-", rows[2]["reading"], "no formula")
		assert.Empty(t, rows[2]["first_open"])
		assert.Equal(t, "no", rows[2]["used"])
		assert.Equal(t, "no reading was taken", rows[2]["not_used_because"])
		assert.Empty(t, rows[2]["travel_mm"])
		assert.Empty(t, rows[2]["error_mm"])
		assert.Equal(t, `about "two"; or, 2`, rows[3]["reading"])
		assert.Empty(t, rows[3]["opening"], "it has none")
	}
}

func TestNoTextBecomesAFormula(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "left": "left", "a=b": "a=b", "=1+1": "'=1+1", "+1": "'+1", "-0.02/-0.05": "'-0.02/-0.05", "@sum(a1)": "'@sum(a1)",
		"2/1": "'2/1", "1-2": "'1-2", "May 2026": "'May 2026", "3 mar": "'3 mar", "10:15 pm": "'10:15 pm", "1e3": "'1e3", "01": "'01", "1.0": "'1.0", "true": "'true",
		"'twin": "''twin", "1": "1", "2026-05-04": "'2026-05-04", "2026-05-04-1011-twin": "2026-05-04-1011-twin", "twin 2": "twin 2",
		"2026-05-04T10:11:12Z": "2026-05-04T10:11:12Z", "5 %": "'5 %", "1 1/2": "'1 1/2", "$5": "'$5", "12345678901234567890": "'12345678901234567890",
		"\t=1": "\ufffd=1", "\r=1": "\ufffd=1", "＝1": "'＝1", "two\nlines": "two\ufffdlines", "\xff": "\ufffd", "Zündung": "Zündung",
	} {
		assert.Equal(t, want, cells{}.text(in), in)
	}
	for in, want := range map[string][2]string{ // with point, with comma
		"1.98": {"1.98", "1,98"}, "1,98": {"1.98", "1,98"}, "-0.05": {"-0.05", "-0,05"}, " 2 ": {"2", "2"},
		"-": {"'-", "'-"}, "1+98": {"1+98", "1+98"}, "2.03/1.98": {"2.03/1.98", "2.03/1.98"}, "0x10": {"0x10", "0x10"}, "+1": {"'+1", "'+1"},
		"2/1": {"'2/1", "'2/1"}, "2/1.98": {"'2/1.98", "'2/1.98"}, "2,03/1,98": {"2,03/1,98", "2,03/1,98"}, "2.03/": {"'2.03/", "'2.03/"}, "1e3": {"'1e3", "'1e3"},
		"-0.02/-0.05": {"'-0.02/-0.05", "'-0.02/-0.05"}, "007": {"007", "007"},
	} {
		assert.Equal(t, want[0], cells{}.reading(in), in)
		assert.Equal(t, want[1], cells{comma: true}.reading(in), in)
	}
}

// Whoever takes one apostrophe off has the text again, whatever it was.
func TestWhatIsProtectedComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.StringMatching(`['=+@0-9 ./:-]{0,6}`)).Draw(t, "text")
		want := Printable(strings.ToValidUTF8(s, "\ufffd"))
		assert.Equal(t, want, strings.TrimPrefix(cells{}.text(s), "'"))
		if number, ok := (cells{}).plain(s); !ok {
			assert.Equal(t, want, strings.TrimPrefix(cells{}.reading(s), "'"))
		} else {
			_, err := strconv.ParseFloat(number, 64)
			assert.NoError(t, err)
		}
	})
}

func TestNumbersOfAReading(t *testing.T) {
	for in, want := range map[string][2]string{
		"2.03/1.98": {"2,03", "1,98"}, "2,03 / 1,98": {"2,03", "1,98"}, "2/1": {"2", "1"}, "1,98": {"", "1,98"}, "-0.02/-0.05": {"-0,02", "-0,05"},
		"-": {"", ""}, "2.03/": {"", ""}, "0.078in": {"", ""}, "1+98": {"", ""}, "2/1/3": {"", ""}, "about two": {"", ""}, "": {"", ""},
	} {
		closed, open := cells{comma: true}.parts(in)
		assert.Equal(t, want, [2]string{closed, open}, in)
	}
}

// A damaged journal can hold any number that JSON has.
func TestNoCellIsInfinite(t *testing.T) {
	for _, x := range []float64{1e308, -1e308, 1e300} {
		back, err := strconv.ParseFloat(cells{}.number(&x), 64)
		require.NoError(t, err)
		assert.InEpsilon(t, x, back, 1e-15) // the shortest text that reads back as the same number
	}
}
