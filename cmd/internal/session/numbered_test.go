package session

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

func TestNumbersOfOpenings(t *testing.T) {
	for line, want := range map[string]struct {
		number  int
		text    string
		numbers bool
	}{
		"3*2.03/1.98":              {3, "2.03/1.98", true},
		" 12 * 1,98 ":              {12, "1,98", true},
		"03*-":                     {3, "-", true},
		"3*2.03/":                  {3, "2.03/", true},
		"3*1+98":                   {3, "1+98", true},
		"3*":                       {3, "3*", true},
		"3*4*1.98":                 {3, "4*1.98", true},
		"0*1.98":                   {0, "0*1.98", true},
		"99999999999999999999*1.9": {0, "99999999999999999999*1.9", true},
		"*1.98":                    {0, "*1.98", false},
		"2.0*1.98":                 {0, "2.0*1.98", false},
		"-3*1.98":                  {0, "-3*1.98", false},
		"1.98":                     {0, "1.98", false},
	} {
		got, ok, err := NewTypist([]string{"left"}).Line(line)
		require.NoError(t, err, line)
		assert.True(t, ok, line)
		assert.Equal(t, want.number, got.Number, line)
		assert.Equal(t, want.text, got.Text, line)
		assert.Equal(t, want.numbers, got.numbered(), line)
	}
}

// pairing gives what became of each opening's reading: the one that is used, or nothing.
func pairing(r Report, n int) []string {
	out := make([]string, n)
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			for _, p := range ph.Passes {
				if p.Unused == "" {
					out[p.Edge.ID-1] += p.Reading
				}
			}
		}
	}
	return out
}

func TestReadingsByTheNumberOfTheirOpening(t *testing.T) {
	for _, tt := range []struct {
		name, lines string
		used        []string // by opening
		unused      []string // what is kept, and why, in the order of the passes
	}{
		{"in any order", "3*2.01\n1*2.02\n2*2.03", []string{"2.02", "2.03", "2.01"}, nil},
		{"the others in order", "2*2.01\n2.02\n2.03", []string{"2.02", "2.01", "2.03"}, nil},
		{"replaced", "2.01\n2.02\n1*2.05/2.00\n2.03", []string{"2.05/2.00", "2.02", "2.03"}, []string{"2.01: replaced by a later reading"}},
		{"replaced twice", "2.01\n1*2.02\n1*2.03", []string{"2.03", "", ""},
			[]string{"2.01: replaced by a later reading", "2.02: replaced by a later reading"}},
		{"taken away", "2.01\n2.02\n1*-\n2.03", []string{"", "2.02", "2.03"}, []string{"2.01: it was taken away", "-: no reading was taken"}},
		{"taken away and given", "2.01\n1*-\n1*2.02", []string{"2.02", "", ""}, []string{"2.01: it was taken away", "-: no reading was taken"}},
		{"none yet, none wanted", "1*-\n2.02", []string{"", "2.02", ""}, []string{"-: no reading was taken"}},
		{"given to one that was passed over", "-\n2.02\n1*2.01", []string{"2.01", "2.02", ""}, []string{"-: no reading was taken"}},
		{"what cannot be used replaces nothing", "2.01\n1*about", []string{"2.01", "", ""}, []string{"about: reading, got"}},
		{"no such opening", "4*2.01\n2.02", []string{"2.02", "", ""}, []string{"2.01: there is no opening 4"}},
		{"none such, and none", "4*-\n2.02", []string{"2.02", "", ""}, []string{"-: no reading was taken"}},
		{"opening 0", "0*2.01\n2.02", []string{"2.02", "", ""}, []string{`0*2.01: reading, got "0*2.01"`}},
		{"nothing after the number", "2*\n2.02", []string{"2.02", "", ""}, []string{`2*: reading, got "2*"`}},
		{"a half that names its opening", "2*2.03/\n1.98\n2.02", []string{"2.02", "2.03/1.98", ""}, nil},
		{"both halves name it", "2*2.03/\n2*1.98\n2.02", []string{"2.02", "2.03/1.98", ""}, nil},
		{"named twice, with the slash", "2*2.08/\n2*2.03/\n2*/1.98", []string{"", "2.03/1.98", ""}, nil},
		{"the half waits for its own", "2*2.03/\n3*2.01\n1.98", []string{"", "2.03/1.98", "2.01"}, nil},
		{"the half in order waits too", "2.00\n2.03/\n1*2.01\n1.98", []string{"2.01", "2.03/1.98", ""}, []string{"2.00: replaced by a later reading"}},
		{"the next in order is named", "2.03/\n1*1.98\n2.01", []string{"2.03/1.98", "2.01", ""}, nil},
		{"a half takes no other away", "2.00\n1*2.03/\n1*2.05/2.02", []string{"2.05/2.02", "", ""}, []string{"2.00: replaced by a later reading"}},
		{"a half, and none", "2*2.03/\n-\n2.02", []string{"2.02", "", ""}, []string{"-: no reading was taken"}},
		{"a half, then elsewhere", "2*2.03/\n# right as_found\n1.98", []string{"1.98", "", ""}, nil},
		{"a half of no opening", "4*2.03/\n1.98", []string{"1.98", "", ""}, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir, _, _ := recorded(t, 3, "# left as_found\n"+tt.lines)
			r := reported(t, dir)
			assert.Equal(t, tt.used, pairing(r, 3))
			var unused []string
			for _, ph := range r.Cylinders[0].Phases {
				for _, p := range ph.Passes {
					if p.Unused != "" {
						unused = append(unused, p.Reading+": "+p.Unused)
					}
				}
			}
			require.Len(t, unused, len(tt.unused), "%q", unused)
			for i, want := range tt.unused {
				assert.Contains(t, unused[i], want)
			}
		})
	}
}

// A correction belongs where the pass was made, wherever the work is by now.
func TestANamedReadingKeepsItsPlace(t *testing.T) {
	dir, rec, _ := recorded(t, 3, "# left as_found\n2.01\n# left as_left\n2.02\n1*2.05\n3*2.03\n")
	phases := reported(t, dir).Cylinders[0].Phases
	assert.Equal(t, []string{"2.01", "2.05"}, texts(phases[0]))
	assert.Equal(t, []string{"2.02", "2.03"}, texts(phases[1]))
	place, ok := rec.PlaceOf(1)
	assert.True(t, ok)
	assert.Equal(t, logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, place)
	_, ok = rec.PlaceOf(4)
	assert.False(t, ok)
}

func TestReadingOfAnOpening(t *testing.T) {
	dir, rec, _ := recorded(t, 3, "")
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	_, ok := rec.PlaceOf(2)
	assert.False(t, ok)
	_, err := rec.ThrowAway(1, place, "turned back", "the mechanic")
	require.NoError(t, err)
	of := func(opening int64, number int, text string) string {
		unusable, err := rec.ReadingOf(opening, Typed{Text: text, Place: place, Number: number})
		require.NoError(t, err)
		return unusable
	}
	assert.Equal(t, "its opening was thrown away", of(1, 5, "2.01"))
	assert.Equal(t, "its opening was thrown away", of(1, 5, "2.01/"))
	assert.Equal(t, "there is no opening 7", of(0, 7, "2.02"))
	assert.Empty(t, of(2, 1, "2.03/"), "the number on the screen is another")
	assert.Equal(t, "2.03/", rec.Half())
	assert.Equal(t, int64(2), rec.halfOf)
	a, n, _, ok := rec.Next()
	assert.True(t, ok)
	assert.Equal(t, int64(2), a.ID)
	assert.Equal(t, 2, n)
	assert.Empty(t, of(3, 2, "2.04"))
	unusable, err := rec.Reading(Typed{Text: "1.98", Place: place})
	require.NoError(t, err)
	assert.Empty(t, unusable)
	assert.Empty(t, rec.Half())
	assert.Zero(t, rec.halfOf)
	assert.Equal(t, []string{"", "2.03/1.98", "2.04"}, pairing(reported(t, dir), 3))
	_, ok = rec.Opening(4)
	assert.False(t, ok)
	a, ok = rec.Opening(3)
	assert.True(t, ok)
	assert.Equal(t, int64(3), a.ID)
}

// What replaces is written before what it replaces is corrected: a program that ends in between has lost neither.
func TestReplacingLosesNothing(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	var entries []logbook.Data
	rec, err := NewRecorder(journalFunc(func(d logbook.Data) (logbook.Entry, error) {
		entries = append(entries, d)
		return logbook.Entry{Seq: int64(len(entries)), Data: d}, nil
	}), s.Setup, logbook.Take{Take: 1}, openings(2), nil)
	require.NoError(t, err)
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	for _, text := range []string{"2.01", "2.02"} {
		_, err := rec.ReadingOf(2, Typed{Text: text, Place: place})
		require.NoError(t, err)
	}
	n := len(entries)
	assert.Equal(t, "2.02", entries[n-2].(logbook.Reading).Text)
	amend := entries[n-1].(logbook.Amend)
	assert.Equal(t, int64(n-2), amend.Seq)
	assert.Equal(t, "unusable", amend.Field)
	assert.JSONEq(t, `"replaced by a later reading"`, string(amend.To))
	assert.Equal(t, "the mechanic", amend.Who)

	_, err = rec.ReadingOf(2, Typed{Text: "no number", Place: place})
	require.NoError(t, err)
	assert.Equal(t, 1, rec.Waiting())
	rec.Again()
	assert.Equal(t, 1, rec.Waiting(), "the one before is still used")
	_, err = rec.ReadingOf(1, Typed{Text: "no number", Place: place})
	require.NoError(t, err)
	assert.Zero(t, rec.Waiting())
	rec.Again()
	assert.Equal(t, 1, rec.Waiting())
}

// A half that names an opening does not outlive the program: the next take has other openings.
func TestANamedHalfAfterAStop(t *testing.T) {
	dir, _, _ := recorded(t, 2, "2*2.03/")
	assert.Contains(t, printed(t, reported(t, dir), false), `"2*2.03/", left, as found, was typed`)
	dir, _, _ = recorded(t, 2, "2*2.03/\n1*2.02")
	assert.Contains(t, codes(reported(t, dir).Caveats), "last_closed_alone", "another opening's reading does not complete it")
	dir, _, _ = recorded(t, 2, "2*2.03/\n1*-")
	assert.Contains(t, codes(reported(t, dir).Caveats), "last_closed_alone")
	_, rec, _ := recorded(t, 2, "")
	rec.Await(Typed{Text: "2*2.03/"})
	assert.Empty(t, rec.Half())
	rec.Await(Typed{Text: "2.03/"})
	assert.Equal(t, "2.03/", rec.Half())
}

func TestWholeCountsEachApproachOnce(t *testing.T) {
	for lines, want := range map[string]int{
		"2.01\n2.02":                             2,
		"3*2.01\n1*2.02\n1*2.03":                 2,
		"2.01\n1*2.02\n2.03":                     2,
		"2*2.01\n2.02\n2.03":                     3,
		"2*2.01/\n2.02\n2.03":                    2,
		"2*2.01/\n3*2.02\n2*2.00":                2,
		"2*2.01/\n# right as_found\n2.02\n2*2.0": 2,
		"0*2.01\n2.02\n2.03/":                    1,
		"1*-\n2.02":                              2,
		"2.05/\n2.03/\n1*2.01\n1.98\n":           2,
		"2*2.05/\n2.03/\n1.98\n2*2.05/2.01\n2.0": 2,
	} {
		typed, _, err := ReadTyped("r", strings.NewReader(lines), []string{"left", "right"})
		require.NoError(t, err)
		assert.Equal(t, want, Whole(typed), "%q", lines)
	}
}

// A reading for an opening that there is not can be given to one that there is, in one correction; one that was replaced comes
// back only when the other is thrown away.
func TestAmendingNamedReadings(t *testing.T) {
	dir, _, _ := recorded(t, 3, "# left as_found\n2.01\n1*2.02\n9*2.03\n")
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	c, err := NewCorrector(j)
	require.NoError(t, err)
	at := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	seq := func(n int) Correction {
		s, err := c.Pass(at, n)
		require.NoError(t, err)
		return Correction{Seq: s}
	}
	lost := seq(3)
	require.NoError(t, c.Pair(&lost, 0, 2))
	_, r, err := c.Entries(lost, int64(len(j.Entries)+1), "why", "who")
	require.NoError(t, err)
	assert.Equal(t, []string{"2.02", "2.03", ""}, pairing(r, 3))

	old := seq(1)
	assert.ErrorContains(t, c.BringBack(&old), "opening 1 has a reading: pass 2 of left, as found")
}
