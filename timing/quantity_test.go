package timing

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseQuantity(t *testing.T) {
	for text, want := range map[string]Quantity{
		"1.98":          {1.98, NoUnit},
		"1,98":          {1.98, NoUnit}, // both marks are right: 22nd CGPM 2003, Res. 10
		" 1.98 mm ":     {1.98, Millimetre},
		"1.98mm":        {1.98, Millimetre},
		"1,98MM":        {1.98, Millimetre},
		"0.078in":       {0.078, Inch},
		".078 in":       {0.078, Inch},
		`0.078"`:        {0.078, Inch},
		"78.5thou":      {78.5, Thou},
		"20deg":         {20, Degree},
		"20°":           {20, Degree},
		"20 °":          {20, Degree},
		"20 degrees":    {20, Degree},
		"-0.05":         {-0.05, NoUnit},
		"−0,05 mm":      {-0.05, Millimetre},
		"+2":            {2, NoUnit},
		"0":             {0, NoUnit},
		"1\u00a098":     {}, // two numbers
		"1.98\u00a0mm":  {1.98, Millimetre},
		"1,234":         {1.234, NoUnit}, // one mark is a decimal mark
		"2.5 Inches":    {2.5, Inch},
		"0000000002.50": {2.5, NoUnit},
	} {
		got, err := ParseQuantity(text)
		if want == (Quantity{}) && text != "0" {
			assert.Error(t, err, text)
			continue
		}
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
}

func TestParseQuantityRefuses(t *testing.T) {
	for text, why := range map[string]string{
		"": "empty", "  ": "empty",
		"1,234.5": "more than one decimal mark", "1.234,5": "more than one decimal mark", "1.2.3": "more than one decimal mark",
		"two": "no digits", "mm": "no digits", ".": "no digits", "-": "no digits", ",mm": "no digits", "--1": "no digits",
		"1.98 2.03": "more than one number", "1 98": "more than one number", "1/2": "more than one number",
		"nan": "no digits", "NaN": "no digits", "inf": "no digits", "-Inf": "no digits",
		"0x1p-2": "more than one number", "1e3": "more than one number", "1e": `unit "e"`, "1.": "after the decimal mark", "1. mm": "after the decimal mark",
		"2 cm": `unit "cm"`, "2 m": `unit "m"`, "2 mm BTDC": `unit "mm BTDC"`, "1_000": "more than one number", "½": "no digits", "2½": "not known",
		"٢": "no digits", // digits of other scripts
	} {
		_, err := ParseQuantity(text)
		assert.ErrorContains(t, err, why, text)
		assert.ErrorContains(t, err, "want one number such as 1.98", text)
	}
	_, err := ParseQuantity(strings.Repeat("9", 400))
	assert.ErrorContains(t, err, "too large")
}

func TestUnits(t *testing.T) {
	// 25.4 mm = 1 in exactly (24 FR 5348, 1959, from memory); the digits are computed independently with mpmath.
	assert.InDelta(t, 0.078740157480, Length(2).Inches(), 1e-12)
	assert.InDelta(t, 78.74, Length(2).Thou(), 0.005, `common practice: "between 78 and 79 thou"`)
	assert.InDelta(t, 0.013779527559, Length(0.35).Inches(), 1e-12)
	for _, tc := range []struct {
		text string
		bare Unit
		want Length
	}{
		{"0.015in", Millimetre, 0.381}, {"15 thou", Millimetre, 0.381}, {"1", Inch, 25.4}, {"1mm", Inch, 1}, {"2,5", Millimetre, 2.5},
	} {
		q, err := ParseQuantity(tc.text)
		require.NoError(t, err)
		got, err := q.Length(tc.bare)
		require.NoError(t, err)
		assert.InDelta(t, float64(tc.want), float64(got), 1e-15, tc.text)
	}
	_, err := Quantity{20, Degree}.Length(Millimetre)
	assert.ErrorContains(t, err, "length, got 20°, want a number with mm, in or thou")
	_, err = Quantity{20, NoUnit}.Length(NoUnit)
	assert.Error(t, err)
	_, err = Quantity{2, Millimetre}.Angle(Degree)
	assert.ErrorContains(t, err, "angle, got 2 mm")
	_, err = Quantity{2, NoUnit}.Angle(NoUnit)
	assert.Error(t, err)
	a, err := Quantity{2, NoUnit}.Angle(Degree)
	require.NoError(t, err)
	assert.Equal(t, Angle(2), a)
}

func TestQuantityStringReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := Quantity{rapid.Float64Range(-1e6, 1e6).Draw(t, "value"), Unit(rapid.IntRange(0, int(Degree)).Draw(t, "unit"))}
		back, err := ParseQuantity(q.String())
		require.NoError(t, err)
		assert.Equal(t, q, back)
	})
}

func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"1.98", "1,98mm", "78.5 thou", "20°", "1,234.5", "nan", "−1", "\xff", "1e9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		q, err := ParseQuantity(s)
		if err != nil {
			assert.Zero(t, q)
			return
		}
		assert.True(t, finite(q.Value))
		back, err := ParseQuantity(q.String())
		require.NoError(t, err)
		assert.Equal(t, q.Unit, back.Unit)
		assert.Equal(t, q.Value, back.Value)
	})
}
