package session

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// lived writes a session begun at a time with its own sheets, and returns its journal.
func lived(t testing.TB, begun time.Time, engine, dial func(string) string, lines string) logbook.Journal {
	s, err := LoadSheets(twin, "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	s, err = ParseSheets("engine", engine(s.engineText), "dial", dial(s.dialText))
	require.NoError(t, err)
	w, err := logbook.Create(t.TempDir(), "test", s.Begin("test"), func() time.Time { return begun })
	require.NoError(t, err)
	defer func() { assert.NoError(t, w.Close()) }()
	typed, _, err := ReadTyped("readings", strings.NewReader(lines), s.Engine.Cylinders)
	require.NoError(t, err)
	rec, err := NewRecorder(w, s.Setup, logbook.Take{Take: 1}, openings(len(typed)), nil)
	require.NoError(t, err)
	for _, r := range typed {
		_, err := rec.Reading(r)
		require.NoError(t, err)
	}
	j, err := logbook.Read(w.Dir())
	require.NoError(t, err)
	return j
}

func as(s string) string { return s }

func replaced(old, new string) func(string) string {
	return func(s string) string { return strings.Replace(s, old, new, 1) }
}

const (
	leftThen = "# left as_left\n2.01/1.98\n2.02/2.00\n2.01/1.99\n# right as_left\n2.02/1.99\n2.01/1.99\n2.02/2.00\n"
	foundNow = "# left as_found\n1.82/1.79\n1.81/1.79\n1.82/1.80\n# right as_found\n2.01/1.99\n2.02/1.99\n2.00/1.98\n"
)

func TestSinceLast(t *testing.T) {
	year := clock().AddDate(1, 0, 0)
	s, err := SinceLast(lived(t, clock(), as, as, leftThen), lived(t, year, as, as, foundNow))
	require.NoError(t, err)
	assert.InDelta(t, 365, s.Days, 1e-9)
	assert.True(t, s.SameDial)
	require.Len(t, s.Cylinders, 2)
	left, right := s.Cylinders[0], s.Cylinders[1]
	// By hand: means of the middles, 1.805 + 1.800 + 1.810 against 1.995 + 2.010 + 2.000.
	assert.InDelta(t, (1.805+1.8+1.81-1.995-2.01-2)/3, left.Change.MM, 1e-9)
	assert.Equal(t, MovedLater, left.Moved)
	assert.Less(t, left.Change.IntervalMM[1], 0.0)
	assert.Equal(t, MovedUnknown, right.Moved)
	require.Len(t, s.Causes, 1)
	assert.Contains(t, s.Causes[0], "the heel may have worn")

	var b bytes.Buffer
	require.NoError(t, s.Print(&b))
	for _, want := range []string{"365 days later", "left\n  then, as left: 0.00 mm", "change: opens 0.20 mm later than it was left", "has moved, opens later",
		"cannot tell that it has moved", "what it may be, none of it certain", "set to zero anew"} {
		assert.Contains(t, b.String(), want)
	}
	for line := range strings.Lines(b.String()) {
		assert.LessOrEqual(t, len([]rune(line)), Columns+1, line)
	}

	back, err := SinceLast(lived(t, clock(), as, as, strings.ReplaceAll(foundNow, "found", "left")), lived(t, year, as, as, strings.ReplaceAll(leftThen, "left\n", "found\n")))
	require.NoError(t, err)
	assert.Equal(t, MovedEarlier, back.Cylinders[0].Moved)
	assert.Contains(t, back.Causes[0], "the contacts may have burnt away")

	other, err := SinceLast(lived(t, clock(), as, replaced(`name = "`, `name = "other `), leftThen), lived(t, year, as, as, foundNow))
	require.NoError(t, err)
	assert.False(t, other.SameDial)
	assert.Greater(t, other.Cylinders[0].Change.UncertaintyMM, left.Change.UncertaintyMM)
}

func TestSinceLastOfWhatWasNotMeasured(t *testing.T) {
	// Found, then nothing moved: it was left as it was found. The right one was not measured.
	found := "# left as_found\n2.01/1.98\n2.02/2.00\n"
	s, err := SinceLast(lived(t, clock(), as, as, found), lived(t, clock(), as, as, foundNow))
	require.NoError(t, err)
	assert.Equal(t, MovedLater, s.Cylinders[0].Moved)
	assert.Nil(t, s.Cylinders[1].Change)
	var said []string
	for _, c := range s.Caveats {
		said = append(said, c.Code)
	}
	assert.Equal(t, []string{"left_as_found", "not_measured_then", "two_sessions"}, said)
	// Found, then the plate was moved for the other: nothing is known of it.
	moved := found + "# right as_left\n2.01/1.98\n2.02/2.00\n"
	s, err = SinceLast(lived(t, clock(), as, as, moved), lived(t, clock(), as, as, leftThen))
	require.NoError(t, err)
	assert.Nil(t, s.Cylinders[0].Then)
	assert.Nil(t, s.Cylinders[1].Now, "as left is not as found")
	assert.Empty(t, s.Causes)
	var b bytes.Buffer
	require.NoError(t, s.Print(&b))
	assert.Contains(t, b.String(), "change: not known")
	assert.Contains(t, b.String(), "less than a day later")
}

func TestSinceLastRefuses(t *testing.T) {
	now := lived(t, clock(), as, as, foundNow)
	for want, engine := range map[string]func(string) string{
		"different engines: ":        replaced("Lathe-shed twin", "Barn twin"),
		"different cranks: ":         replaced(`"54 mm"`, `"55 mm"`),
		"different specifications: ": replaced(`"0.1 mm"`, `"0.2 mm"`),
	} {
		_, err := SinceLast(lived(t, clock(), engine, as, leftThen), now)
		assert.ErrorContains(t, err, want)
	}
	_, err := SinceLast(lived(t, clock(), replaced(`["left", "right"]`, `["right", "left"]`), as, leftThen), now)
	assert.ErrorContains(t, err, "different cylinders")
	_, err = SinceLast(logbook.Journal{}, now)
	assert.ErrorContains(t, err, "no beginning")
}
