package session

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing"
)

func TestPrint(t *testing.T) {
	dir, _, _ := recorded(t, 7, "# left as_found\n2.20/2.14\n2.18/2.15\n2.21/2.16\n-\n# right as_left\n2.03/1.98\nabout \x1b[2J two\n")
	var b bytes.Buffer
	require.NoError(t, reported(t, dir).Print(&b, false))
	text := b.String()
	for _, line := range []string{
		"Lathe-shed twin: points specified to open 2 mm before TDC\n= 2.00 mm of travel = 19.92° of crank, tolerance ±0.1 mm\nautomatic advance: none\n",
		"\nleft, as found\n  pass  dial reading  travel before TDC  points open at  bounce\n" +
			"  1     2.20/2.14     2.170 mm           1.0000 s        0\n",
		"error: 0.17 mm too early (opens too far before TDC), 0.86° of crank",
		"verdict: out of tolerance, too early (probability in tolerance:",
		"right, as left\n",
		"error: 0.00 mm: neither early nor late",
		"verdict: cannot tell yet; 1 more pass like this one should settle it",
		"not used",
		"note: pass 2, reading \"about \\x1b[2J two\", is kept but not used",
		"note: 1 opening without a reading (number 7 at 7.000 s)",
	} {
		assert.Contains(t, text, line)
	}
	assert.NotContains(t, text, "\x1b", "what was typed does not reach the terminal as control characters")
	for line := range strings.Lines(text) {
		assert.Equal(t, strings.TrimRight(line, " \n")+"\n", line, "no spaces at the end")
	}
	assert.Error(t, reported(t, dir).Print(brokenWriter{}, false))
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, fmt.Errorf("broken") }

// Where the dial is the limit, nobody is sent to make more passes for nothing.
func TestCannotTellNamesTheLimit(t *testing.T) {
	setup := func(limit timing.Length) timing.Setup {
		s, err := LoadSheets(twin, dial)
		require.NoError(t, err)
		d := s.Setup.Dial
		d.MaxError = limit
		out, err := timing.NewSetup(s.Setup.Crank, d, s.Setup.Spec)
		require.NoError(t, err)
		return out
	}
	for limit, want := range map[timing.Length]string{
		0.3: "cannot tell, and more passes will not settle it: the rest of the uncertainty is too large for what the error leaves of the tolerance; most of it is from dial, limit of error (the dial's own certificate, as max_error in its sheet)",
		0:   "cannot tell yet; 1 more pass like these should settle it",
	} {
		s := setup(limit)
		var readings []timing.Reading
		for _, text := range []string{"2.07/2.01", "2.09/2.03"} {
			r, err := s.ParseReading(text)
			require.NoError(t, err)
			readings = append(readings, r)
		}
		results, err := s.Evaluate([][]timing.Reading{readings})
		require.NoError(t, err)
		var ph Phase
		ph.fill(s, results[0])
		assert.Equal(t, want, verdict(ph))
	}
}

// An error that rounds to 0.00 mm is neither early nor late, but proven outside a finer tolerance it is out to one side.
func TestOutByAHair(t *testing.T) {
	on := timing.OnMark.String()
	for off, want := range map[float64]string{0.004: "out of tolerance, too early", -0.004: "out of tolerance, too late"} {
		assert.Equal(t, want, verdict(Phase{ErrorMM: &off, EarlyOrLate: &on, Verdict: timing.OutOfTolerance.String()}))
	}
}

// Where the passes scatter without measure, nobody is sent to have his dial certified.
func TestCannotTellNamesTheScatter(t *testing.T) {
	verdictOf := func(readings string) string {
		dir, _, _ := recorded(t, strings.Count(readings, "/"), readings)
		return verdict(reported(t, dir).Cylinders[0].Phases[0])
	}
	assert.Contains(t, verdictOf("2.00/1.97\n2.01/1.98\n2.00/1.98\n2.40/2.38\n2.02/2.00\n"), "cannot tell, and even 50 passes like these would not settle it, so much do they scatter: find out why")
	assert.Contains(t, verdictOf("2.10/2.08\n2.11/2.09\n2.10/2.08\n2.11/2.09\n"), "most of it is from dial, limit of error")
	assert.Contains(t, verdictOf("2.10/2.05\n"), "more passes like this one should settle it")
}

func TestIntervalInWords(t *testing.T) {
	for _, tc := range []struct {
		lo, hi float64
		want   string
	}{
		{0.1, 0.25, "0.10 to 0.25 mm too early"},
		{-0.25, -0.1, "0.10 to 0.25 mm too late"},
		{-0.03, 0.08, "0.03 mm too late to 0.08 mm too early"},
		{-0.004, 0.08, "0.00 to 0.08 mm too early"},
	} {
		assert.Equal(t, tc.want, interval(tc.lo, tc.hi))
	}
	assert.Equal(t, "below 1 %", Percent(0.0099))
	assert.Equal(t, "1 %", Percent(0.01))
	assert.Equal(t, "99 %", Percent(0.99))
	assert.Equal(t, "above 99 %", Percent(1))
}

// Nobody types "-" for a pass that was thrown away or passed over: the words are for people.
func TestAPassWithoutAReading(t *testing.T) {
	dir, _, _ := recorded(t, 3, "# left as_found\n2.28/2.25\n-\nabout two\n")
	r := reported(t, dir)
	var b bytes.Buffer
	require.NoError(t, r.Print(&b, false))
	assert.Contains(t, flat(b.String()), "note: pass 2 has no reading note: pass 3, reading \"about two\", is kept but not used: ")
}
