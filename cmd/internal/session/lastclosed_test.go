package session

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// texts returns the readings of a phase.
func texts(ph Phase) (out []string) {
	for _, p := range ph.Passes {
		out = append(out, p.Reading)
	}
	return out
}

func TestLastClosedWaitsForItsFirstOpen(t *testing.T) {
	for _, tt := range []struct {
		name, lines string
		want        []string
		used        int
	}{
		{"completed", "2.03/\n1.98\n2.02/1.99", []string{"2.03/1.98", "2.02/1.99"}, 2},
		{"typed again while creeping on", "2.08/\n2.03/\n1.98", []string{"2.03/1.98"}, 1},
		{"a whole one comes instead", "2.03/\n2.05/2.00\n1.98", []string{"2.05/2.00", "1.98"}, 2},
		{"none was read", "2.03/\n-\n1.98", []string{"-", "1.98"}, 1},
		{"the wrong way round, then right", "2.03/\n2.10\n2.00", []string{"2.03/2.10", "2.03/2.00"}, 1},
		{"with the slash again", "2.03/\n/1.98", []string{"2.03/1.98"}, 1},
		{"no number", "about/\n1.98", []string{"1.98"}, 1},
		{"beyond the dial", "12.5/\n1.98", []string{"1.98"}, 1},
		{"counter and pointer", "2+03/\n1+98", []string{"2+03/1+98"}, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir, _, _ := recorded(t, 4, tt.lines)
			ph := reported(t, dir).Cylinders[0].Phases[0]
			assert.Equal(t, tt.want, texts(ph))
			assert.Equal(t, tt.used, ph.N)
		})
	}
}

// At another cylinder it does not count.
func TestLastClosedBelongsToItsPlace(t *testing.T) {
	dir, _, _ := recorded(t, 2, "# left as_found\n2.03/\n# right as_found\n1.98\n")
	r := reported(t, dir)
	assert.Empty(t, r.Cylinders[0].Phases)
	assert.Equal(t, []string{"1.98"}, texts(r.Cylinders[1].Phases[0]))
}

func TestLastClosedAloneIsTold(t *testing.T) {
	dir, _, _ := recorded(t, 2, "2.03/1.98\n2.02/")
	r := reported(t, dir)
	require.Contains(t, codes(r.Caveats), "last_closed_alone")
	assert.Contains(t, printed(t, r, false), `"2.02/", left, as found, was typed`)
	dir, _, _ = recorded(t, 2, "2.02/\nabout")
	assert.Contains(t, codes(reported(t, dir).Caveats), "last_closed_alone", "what came after it cannot be used")
	dir, _, _ = recorded(t, 2, "2.02/\n1.98")
	assert.NotContains(t, codes(reported(t, dir).Caveats), "last_closed_alone")
}

// An opening made while turning back takes its half reading along; one that was passed over leaves it.
func TestLastClosedAndOpeningsThatDoNotCount(t *testing.T) {
	dir, rec, _ := recorded(t, 3, "2.03/")
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	assert.Equal(t, "2.03/", rec.Half())
	require.NoError(t, rec.PassOver(place))
	assert.Equal(t, "2.03/", rec.Half())
	_, err := rec.ThrowAway(2, place, "turned back", "the mechanic")
	require.NoError(t, err)
	assert.Empty(t, rec.Half())
	_, err = rec.Reading(Typed{Text: "1.98", Place: place})
	require.NoError(t, err)
	assert.Equal(t, []string{"-", "-", "1.98"}, texts(reported(t, dir).Cylinders[0].Phases[0]))
}

func TestIsLastClosed(t *testing.T) {
	for text, want := range map[string]bool{"2.03/": true, " 2.03/ ": true, "2.03/1.98": false, "/": false, "": false, "2/3/": false, "1.98": false, "-": false} {
		assert.Equal(t, want, IsLastClosed(text), "%q", text)
	}
	assert.Equal(t, 2, Whole([]Typed{{Text: "2.03/"}, {Text: "1.98"}, {Text: "-"}}))
}
