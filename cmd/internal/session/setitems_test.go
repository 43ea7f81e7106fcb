package session

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"breakcue/timing"
)

// The middles lie 0.193 mm early and 0.283 mm late of 2.0 mm, at about 0.2 mm to a degree of crank; the base plate moves both sets.
func TestSetItems(t *testing.T) {
	const gap = "was the gap changed? that moved the timing: then go by the screen, not by these figures"
	for _, c := range []struct {
		name, typed string
		n           int
		want        []string
	}{
		{"nothing measured", "", 0, nil},
		{"both out", "# left as_found\n2.20/2.18\n2.21/2.19\n2.20/2.18\n# right as_found\n1.73/1.71\n1.72/1.70\n1.73/1.71\n", 6, []string{
			gap, "cylinder left: move the base plate 0.96° clockwise, 0.50 mm of arc",
			"cylinder right: move its own plate 2.4° anticlockwise, 1.28 mm of arc",
		}},
		{"both in", "# left as_found\n2.01/1.99\n2.01/1.99\n2.00/1.99\n# right as_found\n2.01/1.99\n2.00/1.98\n2.01/1.99\n", 6, []string{
			"all cylinders in tolerance as found: nothing has to be moved, unless you want it nearer",
		}},
		{"one in, one not measured", "# left as_found\n2.01/1.99\n2.01/1.99\n2.00/1.99\n", 3, []string{
			"cylinder left: in tolerance as found, leave it alone", "cylinder right: not measured, leave it alone",
		}},
		{"both in after the work", "# left as_left\n2.01/1.99\n2.01/1.99\n2.00/1.99\n# right as_left\n2.01/1.99\n2.00/1.98\n2.01/1.99\n", 6, []string{
			"all cylinders in tolerance when last measured: nothing has to be moved, unless you want it nearer",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, _, _ := recorded(t, c.n, c.typed)
			got := SetItems(reported(t, dir))
			assert.Equal(t, c.want, got)
			for _, item := range got {
				assert.LessOrEqual(t, utf8.RuneCountInString(item), 110, item)
			}
		})
	}
}

// What cannot be told, what may stay and what goes too far are said with the move.
func TestSetItemsInDoubt(t *testing.T) {
	rim := timing.Length(-1.234)
	a := Advice{Moves: []timing.Move{
		{Plate: timing.BasePlate, Set: 1, Cylinders: []string{"1", "4"}, Action: timing.MovePlate, Sense: timing.Clockwise, Turn: -2.25, Rim: &rim, Unproven: true},
		{Plate: timing.OwnPlate, Set: 2, Cylinders: []string{"3", "2"}, Action: timing.MeasureAgain},
		{Plate: timing.OwnPlate, Set: 3, Cylinders: []string{"5"}, Action: timing.LeavePlate},
	}, Caveats: []timing.Caveat{{Code: "large_move"}}}
	assert.Equal(t, []string{
		"was the gap changed? that moved the timing: then go by the screen, not by these figures",
		"cylinders 1, 4: move the base plate 2.2° clockwise, 1.23 mm of arc; or leave it, it may be in tolerance",
		"cylinders 3, 2: whether too early or too late cannot be told; leave it, or measure again first",
		"cylinder 5: in tolerance as found, leave it alone",
		"that is further than most plates go: look first at gap, cylinder, TDC and the sheet",
	}, SetItems(Report{Advice: &a}))

	a = Advice{Moves: []timing.Move{{Plate: timing.BreakerPlate, Set: 1, Cylinders: []string{"only"}, Action: timing.LeavePlate}}}
	assert.Equal(t, []string{"in tolerance as found: nothing has to be moved, unless you want it nearer"},
		SetItems(Report{Advice: &a, Cylinders: []Cylinder{{Name: "only"}}}))
}
