package report

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// drawn returns the pictures of a sample.
func drawn(t *testing.T, s *sample) []plot {
	r, err := session.FromJournal(s.j)
	require.NoError(t, err)
	sheets, err := session.SheetsOf(s.j)
	require.NoError(t, err)
	return plots(sheets, r)
}

func y(t *testing.T, text string) float64 {
	out, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return out
}

func TestThePictureOfACylinder(t *testing.T) {
	all := drawn(t, twin(t))
	require.Len(t, all, 2)
	p := all[0]
	assert.Equal(t, "left", p.Cylinder)
	assert.Less(t, y(t, p.Band[0]), y(t, p.Mark), "early is up")
	assert.Less(t, y(t, p.Mark), y(t, p.Band[1]))
	assert.InDelta(t, y(t, p.Mark)-y(t, p.Band[0]), y(t, p.Band[1])-y(t, p.Mark), 0.2, "2.0 mm, 0.1 mm to either side; each is rounded to 0.1")
	require.Len(t, p.Panels, 2)
	found, left := p.Panels[0], p.Panels[1]
	assert.Equal(t, "as found", found.Phase)
	assert.False(t, found.Square)
	assert.True(t, left.Square)
	assert.Equal(t, 2, strings.Count(found.Marks, "z"), "two rings")
	assert.Equal(t, 1, strings.Count(found.Unused, "m"), "a cross for the one that was thrown away")
	assert.Equal(t, 2, strings.Count(left.Beams, "V"), "a reading after stopping has no bracket")
	assert.Equal(t, 3, strings.Count(left.Marks, "z"), "three squares")
	assert.NotEmpty(t, found.Mean)
	assert.Equal(t, "Specified 2.00 mm before TDC, tolerance 1.90 to 2.10 mm. as found: 2 passes from 2.165 to 2.165 mm, mean 2.165 mm, interval ", p.Desc[:strings.Index(p.Desc, "interval ")+9])
	assert.Contains(t, p.Desc, "as left: 3 passes from 2.005 to 2.010 mm, mean 2.011 mm")
}

// What is far off and not used does not squash the rest: it is told instead.
func TestAReadingFarAway(t *testing.T) {
	s := begun(t, "twin.toml", "dial.toml")
	first := s.passes("left", logbook.AsFound, "9.00/8.90", "2.03/1.98", "2.02/1.98")
	s.add(logbook.Amend{Seq: first, Field: "unusable", From: raw(t, ""), To: raw(t, "it was thrown away"), Why: "slip", Who: "me"})
	p := drawn(t, s)[0]
	assert.Empty(t, p.Panels[0].Unused)
	assert.Contains(t, p.Caption, "1 reading that is not used lies outside the picture.")
	assert.Greater(t, y(t, p.Band[1])-y(t, p.Band[0]), 100.0, "of about 200: the tolerance fills most of the picture")
}

func TestThousandsOfPassesStayASmallPicture(t *testing.T) {
	p := drawn(t, long(t))[0]
	assert.Equal(t, 5000, strings.Count(p.Panels[0].Marks, "z"))
	assert.LessOrEqual(t, len(p.Panels[0].Numbers), mostNumbers)
	assert.Less(t, len(p.Panels[0].Marks)+len(p.Panels[0].Beams), 800_000, "bytes: some 160 a pass")
}
