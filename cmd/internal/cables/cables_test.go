package cables

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/circuit"
)

// number returns what a pattern finds in a text, as a number.
func number(t *testing.T, pattern, text string) float64 {
	t.Helper()
	m := regexp.MustCompile(pattern).FindStringSubmatch(text)
	require.NotNil(t, m, "%s in %s", pattern, text)
	v, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return v
}

// The levels that the last step of each cable states are those of its circuit, to the whole number that is given.
func TestTheFiguresOfTheTexts(t *testing.T) {
	for _, c := range All() {
		last := c.Try[len(c.Try)-1]
		tone := number(t, `tone of (\d+) Hz`, last)
		k := c.Circuit()
		assert.Equal(t, k.Contact, number(t, `points of ([\d.]+) Ω`, last))
		assert.InDelta(t, k.Condenser*1e6, number(t, `and ([\d.]+) µF`, last), 1e-12, "rounding")
		l, err := k.At(tone)
		require.NoError(t, err)
		assert.InDelta(t, l.Contrast(), number(t, `(\d+) dB`, last), 0.5, c.Name)
		if c.Wiring == "series" {
			assert.InDelta(t, l.Turn(), number(t, `turns by (\d+)°`, last), 0.5, c.Name)
		}
		if c.Sets == 2 {
			assert.InDelta(t, 100*otherSet(c, tone), number(t, `change it by (\d+) %`, last), 0.5, c.Name)
		}
	}
}

// otherSet works out by hand how much the points of the other set change the tone of one whose own points give it: the distance of the two
// levels over the larger. 1 kohm are the resistors that bring both sets together at the input, 11 kohm the input behind its own.
func otherSet(c Cable, f float64) float64 {
	condenser := complex(0, -1/(2*math.Pi*f*0.22e-6))
	parallel := func(a, b complex128) complex128 { return a * b / (a + b) }
	drive := complex(100+c.Series, 0)
	level := func(other complex128) complex128 {
		if c.Wiring == "shunt" {
			// From the first clip through 1 kohm to the input, and on through 1 kohm to the second clip, where output and points lie across.
			foot := parallel(10e3, 1e3+parallel(drive, other))
			clip := parallel(condenser, 1e3+foot) // own points open
			return clip / (drive + clip) * foot / (1e3 + foot)
		}
		// The load, with the input and the other output (through its points) across it; own points closed.
		load := parallel(parallel(complex(c.Load, 0), 11e3), drive+other)
		return load / (drive + 0.2 + load)
	}
	open, closed := level(condenser), level(0.2)
	return cmplx.Abs(open-closed) / math.Max(cmplx.Abs(open), cmplx.Abs(closed))
}

// ngspice solves the cables as they are drawn, with R2 (testdata/own.cir, testdata/sets.cir). It prints 6 and 9 digits.
func TestFiguresAgainstNgspice(t *testing.T) {
	for _, tt := range []struct {
		name                   string
		tone, closed, open     float64 // [Hz], [dB]
		turn                   float64 // [rad], of the cable in line
		two                    string  // the cable of the same kind for two sets
		otherClosed, otherOpen complex128
	}{
		{"across", 3225, -60.8367, -3.45620, 0, "two-across", 2.610511877e-01 - 2.10679795e-01i, 2.649997976e-01 - 2.34040620e-01i},
		{"in-line", 975, -15.2769, -25.2865, 1.249685, "two-in-line", 4.125068786e-02 + 1.009989441e-08i, 4.306650630e-02 - 5.13256999e-04i},
	} {
		c, ok := Named(tt.name)
		require.True(t, ok)
		k := c.Circuit()
		k.Input = 11e3 // R2 and the input
		l, err := k.At(tt.tone)
		require.NoError(t, err)
		assert.InDelta(t, math.Abs(tt.open-tt.closed), l.Contrast(), 2e-4, "digits printed")
		if tt.turn != 0 {
			assert.InDelta(t, tt.turn*180/math.Pi, l.Turn(), 1e-3, "digits printed")
		}
		two, ok := Named(tt.two)
		require.True(t, ok)
		want := cmplx.Abs(tt.otherOpen-tt.otherClosed) / math.Max(cmplx.Abs(tt.otherOpen), cmplx.Abs(tt.otherClosed))
		assert.InDelta(t, want, otherSet(two, tt.tone), 1e-6, "digits printed")
		if tt.turn != 0 {
			k := two.Circuit()
			k.Input = 11e3
			l, err := k.At(tt.tone)
			require.NoError(t, err)
			// R2 and the input divide by 11/10. The circuit leaves out the 0.2 ohm of the other set's points: 1e-3 of 200 ohm beside 10.
			assert.InEpsilon(t, cmplx.Abs(tt.otherClosed)*1.1, cmplx.Abs(l.Closed), 1e-4, "with the other set's points closed")
		}
	}
}

// Every cable will do where it is meant for, for dirty points and parts that are off by a fifth: across also with a source coil.
func TestTheCablesWillDo(t *testing.T) {
	h := circuit.Hearing{Tone: 0.2, Noise: 1e-4, Wander: 0.02}
	for _, c := range All() {
		tone := number(t, `tone of (\d+) Hz`, c.Try[len(c.Try)-1])
		k := c.Circuit()
		if k.Wiring == circuit.Shunt {
			k.Coil = &circuit.Coil{R: 0.3, L: 0.8e-3, Eddy: 20}
		}
		m, _, err := h.Worst(k.Spread(0.2), tone)
		require.NoError(t, err)
		assert.Equal(t, circuit.WillDo, circuit.Judge(m), "%s: %.1f dB", c.Name, m)
	}
}

// Drawing, parts and steps name the same parts, with the same values, and those are the cable's.
func TestPartsAreThoseDrawn(t *testing.T) {
	mark := regexp.MustCompile(`\b[RCD]\d\b`)
	for _, c := range All() {
		listed := map[string]bool{}
		for _, p := range c.Parts {
			for _, m := range mark.FindAllString(p.Mark, -1) {
				listed[m] = true
			}
		}
		drawn := strings.Join(c.Text, "\n")
		picture := c.SVG()
		labels := picture[strings.LastIndex(picture, "<g "):]
		for m := range listed {
			if m == "R3" { // only of a plug with four contacts
				continue
			}
			assert.Contains(t, drawn, m, c.Name)
			assert.Contains(t, labels, m, c.Name)
		}
		for _, text := range append([]string{drawn, labels}, c.Make...) {
			for _, m := range mark.FindAllString(text, -1) {
				assert.True(t, listed[m], "%s: %s is in no parts list", c.Name, m)
			}
		}
		want := fmt.Sprintf("R1 %g Ω", c.Series)
		assert.Contains(t, drawn, want)
		assert.Contains(t, labels, want)
		if c.Load > 0 {
			assert.Contains(t, drawn, fmt.Sprintf("R6 %g Ω", c.Load))
			assert.Contains(t, labels, fmt.Sprintf("R6 %g Ω", c.Load))
		}
		assert.Contains(t, strings.Join(c.Try, " "), fmt.Sprintf("%g Ω", c.Series), "the meter's figure")
		for _, line := range c.Text {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 58, "a narrow terminal: %s", line)
		}
	}
}

// A drawing is well formed, says what it is to those who do not see it, and lies within its page.
func TestDrawings(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range All() {
		svg := c.SVG()
		assert.False(t, seen[svg])
		seen[svg] = true
		assert.Contains(t, svg, `role="img" aria-labelledby="title desc"`)
		assert.Contains(t, svg, `<title id="title">Cable `+c.Title)
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, c.Name)
		}
		height := number(t, `height="(\d+)" viewBox`, svg)
		for _, m := range regexp.MustCompile(`(?:M|L)(\d+) (\d+)|x="(\d+)" y="(\d+)"`).FindAllStringSubmatch(svg, -1) {
			x, _ := strconv.ParseFloat(m[1]+m[3], 64)
			y, _ := strconv.ParseFloat(m[2]+m[4], 64)
			assert.True(t, x >= 0 && x < 800 && y >= 0 && y < height, "%s: %s", c.Name, m[0])
		}
	}
}

func TestNamed(t *testing.T) {
	for _, c := range All() {
		got, ok := Named(c.Name)
		assert.True(t, ok)
		assert.Equal(t, c, got)
	}
	_, ok := Named("none")
	assert.False(t, ok)
}

// The dangers and their figures, US Army TM 9-8000 (1985), chapter 15: points switch 4 to 5 A, the primary kicks to 200 V and more, the
// secondary to 20 kV. That, and what else must not be connected, is said of every cable.
func TestNever(t *testing.T) {
	all := strings.Join(Never(), "\n")
	for _, what := range []string{"battery", "ignition", "coil lead", "plug lead", "kicked or cranked", "loudspeaker", "mains", "4 to 5 A", "200 V", "20 kV", "TM 9-8000"} {
		assert.Contains(t, strings.ToLower(all), strings.ToLower(what))
	}
}
