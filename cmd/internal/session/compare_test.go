package session

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

const foundAndLeft = "# left as_found\n2.20/2.14\n2.18/2.15\n# right as_found\n1.83/1.78\n1.82/1.79\n" +
	"# left as_left\n2.02/1.98\n2.01/1.99\n2.01/1.98\n# right as_left\n2.03/2.00\n2.03/2.01\n2.04/2.01\n"

// One cylinder after the other: the base plate has been moved when the right one is found.
const oneByOne = "# left as_found\n2.20/2.14\n2.18/2.15\n# left as_left\n2.02/1.98\n2.01/1.99\n2.01/1.98\n# right as_found\n1.83/1.78\n1.82/1.79\n"

func printed(t testing.TB, r Report, budget bool) string {
	var b bytes.Buffer
	require.NoError(t, r.Print(&b, budget))
	return b.String()
}

func TestShiftsAndSpreads(t *testing.T) {
	dir, _, _ := recorded(t, 10, foundAndLeft)
	r := reported(t, dir)
	require.Len(t, r.Shifts, 2)
	assert.Equal(t, "left", r.Shifts[0].Cylinder)
	assert.True(t, r.Shifts[0].ZeroedAnew)
	// Middles, found: 2.17 and 2.165; left: 2.00, 2.00 and 1.995.
	assert.InDelta(t, 1.998333-2.1675, r.Shifts[0].MM, 1e-6)
	assert.Less(t, r.Shifts[0].IntervalMM[0], r.Shifts[0].MM)
	require.Len(t, r.Spreads, 2)
	assert.Equal(t, logbook.AsFound, r.Spreads[0].Phase)
	assert.Equal(t, "left", r.Spreads[0].Early)
	assert.Equal(t, "right", r.Spreads[0].Late)
	assert.InDelta(t, 2.1675-1.805, r.Spreads[0].MM, 1e-9)
	assert.Equal(t, "right", r.Spreads[1].Early)
	assert.Nil(t, r.Spreads[1].Verdict, "the sheet says nothing of how far they may lie apart")

	text := printed(t, r, false)
	assert.Contains(t, text, "  cylinder left opens 0.17 mm later than as found (95 % interval: ")
	assert.Contains(t, text, "\nbetween cylinders, as left: right opens 0.02 mm earlier than left (95 %\n  interval: ")
	for line := range strings.Lines(text) {
		assert.LessOrEqual(t, len([]rune(line)), Columns+1, line)
	}
}

// Back at a cylinder whose as left comes after another cylinder was measured, the dial has been moved.
func TestShiftAfterAnotherCylinder(t *testing.T) {
	dir, _, _ := recorded(t, 6, "# left as_found\n2.20/2.14\n2.18/2.15\n# right as_found\n2.02/1.98\n2.02/1.99\n# left as_left\n2.02/1.98\n2.01/1.99\n")
	r := reported(t, dir)
	require.Len(t, r.Shifts, 1)
	assert.True(t, r.Shifts[0].ZeroedAnew)
	assert.Contains(t, printed(t, r, false), "note: the dial was set to zero anew in between, for another cylinder or to\n    find TDC anew")
	straight, _, _ := recorded(t, 6, "# left as_found\n2.20/2.14\n2.18/2.15\n# left as_left\n2.02/1.98\n2.01/1.99\n# right as_found\n2.02/1.98\n2.02/1.99\n")
	assert.Less(t, reported(t, straight).Shifts[0].UncertaintyMM, r.Shifts[0].UncertaintyMM)
}

// What was found before a plate was moved and what was found after it lie apart by the move, too.
func TestNoSpreadAcrossAMove(t *testing.T) {
	dir, _, _ := recorded(t, 7, oneByOne)
	r := reported(t, dir)
	assert.Empty(t, r.Spreads)
	const code = "found_at_different_settings"
	codes := func(r Report) (out []string) {
		for _, c := range r.Caveats {
			out = append(out, c.Code)
		}
		return out
	}
	assert.NotContains(t, codes(r), code, "no spread is specified, so it is not missed")
	r = withSpread(t, oneByOne)
	assert.Empty(t, r.Spreads)
	assert.Contains(t, codes(r), code)
}

func TestSpreadHasItsOwnTolerance(t *testing.T) {
	r := withSpread(t, foundAndLeft)
	require.NotNil(t, r.Spreads[0].Verdict)
	assert.Equal(t, "out", *r.Spreads[0].Verdict)
	assert.Equal(t, "in_tolerance", *r.Spreads[1].Verdict)
	assert.InDelta(t, 0.15, *r.Spreads[1].ToleranceMM, 1e-12)
	assert.Contains(t, printed(t, r, false), "verdict: in tolerance, at most 0.15 mm apart allowed")
}

// withSpread returns the report of readings on an engine whose cylinders may lie apart by 0.15 mm.
func withSpread(t *testing.T, readings string) Report {
	engine, err := os.ReadFile(twin)
	require.NoError(t, err)
	scale, err := os.ReadFile(dial)
	require.NoError(t, err)
	s, err := ParseSheets("twin", strings.Replace(string(engine), "[timing]\n", "[timing]\nspread = \"0.15 mm\"\n", 1), "dial", string(scale))
	require.NoError(t, err)
	w, err := logbook.Create(t.TempDir(), "test", s.Begin("test"), clock)
	require.NoError(t, err)
	defer w.Close()
	rec, err := NewRecorder(w, s.Setup, logbook.Take{Take: 1}, openings(strings.Count(readings, "/")), nil)
	require.NoError(t, err)
	typed, _, err := ReadTyped("readings", strings.NewReader(readings), s.Engine.Cylinders)
	require.NoError(t, err)
	for _, line := range typed {
		_, err := rec.Reading(line)
		require.NoError(t, err)
	}
	return reported(t, w.Dir())
}

// The advice rests on what is known last of each cylinder.
func TestAdviceInTheReport(t *testing.T) {
	dir, _, _ := recorded(t, 4, "# left as_found\n2.20/2.14\n2.18/2.15\n# right as_found\n1.83/1.78\n1.82/1.79\n")
	r := reported(t, dir)
	require.NotNil(t, r.Advice)
	require.Len(t, r.Advice.Moves, 2)
	assert.Equal(t, timing.MovePlate, r.Advice.Moves[0].Action)
	assert.InDelta(t, *r.Cylinders[0].Phases[0].ErrorDeg, float64(r.Advice.Moves[0].Turn), 1e-12, "the cam turns at crank speed")
	assert.Contains(t, printed(t, r, false), "base plate first, for the first set (cylinder left), because it moves both\n    sets of points: move it 0.83° clockwise seen from the plate's side, with the\n    cam's rotation: 0.44 mm at its rim")

	dir, _, _ = recorded(t, 10, foundAndLeft)
	for _, m := range reported(t, dir).Advice.Moves {
		assert.Equal(t, timing.LeavePlate, m.Action)
	}
	// The base plate was moved for the left one, so what the right one was found like no longer holds.
	dir, _, _ = recorded(t, 7, "# left as_found\n2.20/2.14\n2.18/2.15\n# right as_found\n1.83/1.78\n1.82/1.79\n# left as_left\n2.02/1.98\n2.01/1.99\n2.01/1.98\n")
	moves := reported(t, dir).Advice.Moves
	assert.Equal(t, timing.LeavePlate, moves[0].Action)
	assert.Equal(t, timing.NotMeasured, moves[1].Action)
	// Found after that, it is as it stands.
	dir, _, _ = recorded(t, 7, oneByOne)
	r = reported(t, dir)
	moves = r.Advice.Moves
	assert.Equal(t, timing.LeavePlate, moves[0].Action)
	assert.Equal(t, timing.MovePlate, moves[1].Action)
	assert.InDelta(t, *r.Cylinders[1].Phases[0].ErrorDeg, float64(moves[1].Crank), 1e-12, "rounding only")

	// One more pass of the left one, as left, is no new move.
	dir, _, _ = recorded(t, 8, oneByOne+"# left as_left\n2.02/1.98\n")
	assert.Equal(t, timing.MovePlate, reported(t, dir).Advice.Moves[1].Action)

	dir, _, _ = recorded(t, 1, "-")
	assert.Nil(t, reported(t, dir).Advice, "nothing was measured")
}

func TestBudgetIsPrinted(t *testing.T) {
	dir, _, _ := recorded(t, 2, "2.20/2.14\n2.18/2.15\n")
	r := reported(t, dir)
	ph := r.Cylinders[0].Phases[0]
	sum := 0.0
	for i, c := range ph.Budget {
		sum += c.Share
		assert.True(t, i == 0 || c.UMM <= ph.Budget[i-1].UMM, "the largest first")
	}
	assert.InDelta(t, 1, sum, 1e-9, "the shares are all there is")
	text := printed(t, r, true)
	assert.Contains(t, text, "  uncertain because of   uncertainty  share  shape        freedom\n  scatter of the passes  0.0")
	assert.Contains(t, text, "the largest part is scatter of the passes; what makes it smaller: two more\n    passes, which would make it about 0.016 mm")
	assert.NotContains(t, printed(t, r, false), "uncertain because of")
}
