package session

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
)

func goingOn(t testing.TB, engine, id string) Step {
	_, steps, _ := stepsOf(t, engine, "dial")
	return GoOn(steps, index(t, steps, id))
}

// On the next day only that is asked which an earlier step has brought about, and of that the newest.
func TestGoOn(t *testing.T) {
	safe := []string{"is the ignition off?", "is the battery disconnected?", "is each coil lead off its points?"}
	open := append(safe[:3:3], "is the fuel off, and no smell of it in the air?", "are the plugs out and earthed, away from the plug holes?")
	front := "is the cable still on the points of cylinder front (set 1, base plate; upper coil, white lead), both clips fast?"
	rear := "is the cable still on the points of cylinder rear (set 2, own plate; lower coil, green lead), both clips fast?"
	const doubt = "in doubt of the dial, find TDC anew before anything is measured"
	zero := func(cylinder string) string {
		return "is the dial in the plug hole of cylinder " + cylinder + " untouched, and does it show 0+00 at TDC?"
	}
	with := func(more ...string) []string { return append(open[:5:5], more...) }
	for id, want := range map[string][]string{
		"specification":          {},
		"make_safe":              {},
		"plugs_out":              safe,
		"cable":                  open,
		"tdc/front/as_found":     with(front),
		"measure/front/as_found": with(front, zero("front"), doubt),
		"tdc/rear/as_found":      with(front), // the dial goes to another plug hole
		"clip/rear/as_found":     with(zero("rear"), doubt),
		"measure/rear/as_found":  with(rear, zero("rear"), doubt),
		"gap_found":              with(rear),
		"gap":                    with(rear), // the dial is out
		"set":                    with(front, zero("front"), doubt),
		"put_together":           {"what is ticked is done, and what is not ticked is as it was: see for yourself"},
		"start":                  {"is everything on the list back in its place, the cable and the dial off?"},
	} {
		st := goingOn(t, "twin-half", id)
		assert.Equal(t, want, st.Do, id)
		assert.Equal(t, "go_on", st.ID)
		assert.Equal(t, ByList, st.Work)
	}
	assert.Contains(t, goingOn(t, "twin-half", "tdc/rear/as_found").Care, noFullTurn, "the dial is still in the other one")
	assert.Empty(t, goingOn(t, "twin-half", "gap").Care)
	assert.Empty(t, goingOn(t, "twin-half", "start").Care)
	assert.Contains(t, goingOn(t, "retard", "set").Do, "are the weights still held at full travel?")
	assert.NotContains(t, goingOn(t, "retard", "start").Do, "are the weights still held at full travel?")
	assert.Contains(t, goingOn(t, "magneto", "cable").Do, "is the stop switch open, or its wire off?")
}

func TestGoOnAnywhere(t *testing.T) {
	everySample(t, func(t *testing.T, _ Sheets, steps []Step, _ string) {
		for at := -1; at <= len(steps)+1; at++ {
			st := GoOn(steps, at)
			assert.NotNil(t, st.Do)
			for _, do := range st.Do {
				assert.NotEmpty(t, strings.TrimSpace(do))
				assert.LessOrEqual(t, utf8.RuneCountInString(do), 150, do) // with the names of plates and coils
			}
		}
		assert.Empty(t, GoOn(steps, -1).Do)
		assert.Equal(t, GoOn(steps, len(steps)), GoOn(steps, len(steps)+1))
	})
	assert.Empty(t, GoOn(nil, 3).Do)
}
