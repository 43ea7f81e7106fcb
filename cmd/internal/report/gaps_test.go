package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"breakcue/timing/logbook"
)

// The record has the gaps that were typed, beside the one specified; of a session without any it says nothing.
func TestRecordHasTheGaps(t *testing.T) {
	s := begun(t, "twin.toml", "dial.toml")
	s.passes("left", logbook.AsFound, "2.20/2.14")
	assert.NotContains(t, s.page(t), "Gap of the points at full lift")
	gap := s.add(logbook.Gap{Text: "0,24", Set: 1, Phase: logbook.AsFound})
	s.add(logbook.Amend{Seq: gap, Field: "text", From: raw(t, "0,24"), To: raw(t, "0,42"), Why: "figures swapped", Who: "somebody"})
	s.add(logbook.Gap{Text: "0.35", Set: 1, Phase: logbook.AsLeft})
	s.add(logbook.Gap{Text: "0.30", Set: 2, Phase: logbook.AsFound})
	s.add(logbook.Gap{Text: "<b>four</b>", Set: 2, Phase: logbook.AsLeft})
	page := s.page(t)
	for _, want := range []string{
		"<h2>Gap of the points at full lift</h2>",
		"<dt>set 1 (cylinder left), as found</dt><dd><bdi>0.42 mm: 0.07 mm wider than specified</bdi></dd>",
		"<dt>set 1 (cylinder left), as left</dt><dd><bdi>0.35 mm: as specified</bdi></dd>",
		"<dt>set 1 (cylinder left), changed</dt><dd><bdi>from 0.42 to 0.35 mm, which opens the points about ",
		"<dt>set 2 (cylinder right), as found</dt><dd><bdi>0.30 mm: 0.05 mm narrower than specified</bdi></dd>",
		"<dt>set 2 (cylinder right), as left</dt><dd><bdi>not typed</bdi></dd>",
		"is kept but not used", "gap of set 1, as found (entry 5): as typed",
	} {
		assert.Contains(t, page, want)
	}
	assert.NotContains(t, page, "<b>four</b>")
}
