package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What is said of two sets of points stands in one line: where the first ends must be seen.
func TestTwoSetsHealthIsParted(t *testing.T) {
	h := &hearing{ear: ear{name: "left"}, second: &ear{name: "right"}}
	for _, c := range []struct{ first, second, want string }{
		{"points closed -22 dBFS", "no tone comes back", "left: points closed -22 dBFS; right: no tone comes back"},
		{"It is loud.", "Is it loud?", "left: It is loud.  right: Is it loud?"},
		{"no tone comes back", "no tone comes back", "no tone comes back"},
		{"no tone comes back", "", "left: no tone comes back"},
		{"", "no tone comes back", "right: no tone comes back"},
	} {
		assert.Equal(t, c.want, h.bothSignals(said{Health: c.first}, said{Health: c.second}).Health)
	}
}
